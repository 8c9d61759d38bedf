"""Challenges on a real Dask cluster of two worker processes: the same numbers, also when one is killed at work."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from challenge_panels import laid, simple

import lagwise as lw
from lagwise import challenges
from lagwise.challenges import known_truth_at_your_size
from lagwise.challenges.work import map_tasks, open_executor
from lagwise.core.errors import LagwiseError
from lagwise.pages.report import report
from lagwise.say.challenge import challenge

LOCAL = ["--host", "127.0.0.1", "--no-dashboard"]
PATIENCE = 60
HERE = str(Path(__file__).parent)
"""Where workers find `executing`."""


@dataclass
class Cluster:
    """A scheduler started as its own process, and the workers that a test gives it."""

    address: str
    file: Path
    processes: list[subprocess.Popen] = field(default_factory=list)

    def client(self) -> Any:
        from distributed import Client  # here, so that no other worker of pytest loads it

        return Client(self.address)

    def add_workers(self, n: int, **environment: str) -> None:
        options = ["--scheduler-file", str(self.file), "--no-nanny", "--nthreads", "1", *LOCAL]
        for _ in range(n):
            self.processes.append(
                dask("dask_worker", options, self.file.parent, **{"PYTHONPATH": HERE, **environment})
            )
        with self.client() as client:
            client.wait_for_workers(len(self.processes), timeout=PATIENCE)


def dask(program: str, options: list[str], folder: Path, **environment: str) -> subprocess.Popen:
    with (folder / f"{program}.log").open("ab") as log:
        return subprocess.Popen(
            [sys.executable, "-m", f"distributed.cli.{program}", *options],
            cwd=folder, stdout=log, stderr=log, env={**os.environ, "OMP_NUM_THREADS": "1", **environment},
        )  # fmt: skip


def until(happened, what: str):
    """What `happened` returns once it is true."""
    end = time.monotonic() + PATIENCE
    while time.monotonic() < end:
        found = happened()
        if found:
            return found
        time.sleep(0.02)
    raise AssertionError(f"{what} did not happen within {PATIENCE} s")


@pytest.fixture(scope="module")
def without_workers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    file = tmp_path_factory.mktemp("cluster") / "scheduler.json"
    process = dask("dask_scheduler", ["--scheduler-file", str(file), "--port", "0", *LOCAL], file.parent)
    try:
        text = until(lambda: file.exists() and file.read_text(), "the scheduler's start")
        yield Cluster(json.loads(text)["address"], file)
    finally:
        process.kill()
        process.wait(PATIENCE)


@pytest.fixture
def scheduler(without_workers: Cluster) -> Iterator[Cluster]:
    """A scheduler that has lost the workers of the tests before."""
    with without_workers.client() as client:
        until(lambda: not client.scheduler_info()["workers"], "the end of the workers")
    try:
        yield without_workers
    finally:
        for one in without_workers.processes:
            one.kill()
        while without_workers.processes:
            without_workers.processes.pop().wait(PATIENCE)


def executing(dask_worker) -> list[str]:
    """Tasks that a worker has in hand at this moment; runs on the worker."""
    return [str(task.key) for task in dask_worker.state.executing]


def kill_one_at_work(cluster: Cluster, start: Callable[[], Future]) -> tuple[Future, int, list[str]]:
    """SIGKILL the first worker seen with a task of what is started; its future, the process id, and the tasks it had."""
    with cluster.client() as client:
        pids, running = client.run(os.getpid), start()

        def busy() -> tuple[str, list[str]] | None:
            assert not running.done(), "the work was over before a worker could be killed"
            return next(((w, tasks) for w, tasks in client.run(executing).items() if tasks), None)

        worker, tasks = until(busy, "a task's start")
        os.kill(pids[worker], signal.SIGKILL)
        return running, pids[worker], tasks


def test_numbers_are_the_same_on_a_cluster_when_a_worker_is_killed_at_work_and_a_report_says_where_it_was_made(
    scheduler: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Plans by two workers, a challenge during which one of them is lost, and a report by the other one."""
    scheduler.add_workers(2)
    asked = {"people": (4, 8), "weeks": 10, "effect": 0.5, "caseloads": 50}
    there = lw.plan(**asked, cluster=scheduler.address).table
    pd.testing.assert_frame_equal(lw.plan(**asked).table, there)

    made = simple(people=12, steps=14, feedback=0.1)
    panel, fit = laid(made["pain"], made["load"], stress=made["stress"])
    monkeypatch.setattr(known_truth_at_your_size, "JOINT_QUICK", (6, 3))  # of the rest there is enough to do
    run = partial(challenge, panel, fit, only=["known_truth_at_your_size"], quick=True)
    here = run()["known_truth_at_your_size"]
    with ThreadPoolExecutor(1) as pool:
        start = partial(pool.submit, run, cluster=scheduler.address)
        running, pid, tasks = kill_one_at_work(scheduler, start)
        there = running.result(240)["known_truth_at_your_size"]
    killed = next(p for p in scheduler.processes if p.pid == pid)
    assert killed.wait(PATIENCE) == -signal.SIGKILL
    assert tasks[0].startswith("_simulated"), "it had part of the challenge in hand"
    with scheduler.client() as client:
        assert pid not in client.run(os.getpid).values()
    assert not there.problem
    pd.testing.assert_frame_equal(here.numbers, there.numbers)
    assert here.sentence == there.sentence

    folder = lw.synthetic.write("exploratory", tmp_path / "seven", seed=1)
    shuffled = [entry for entry in challenges.REGISTRY if entry.NAME == "shuffled_load"]
    monkeypatch.setattr(challenges, "REGISTRY", shuffled)  # where one runs there, all do
    monkeypatch.setattr("lagwise.writeup.write.write_up", lambda findings, out, **_: out)  # as anywhere else
    provenance = report(folder, tmp_path / "out", quick=True, cluster=scheduler.address).findings.provenance
    assert provenance.settings["challenges run on"] == "workers of a Dask cluster named by the author"


def test_lost_local_processes_are_said() -> None:
    with open_executor(2) as executor, pytest.raises(LagwiseError, match="workers were lost"):
        map_tasks(os._exit, [1], executor)


def refused(address: str) -> str:
    with pytest.raises(LagwiseError) as error, open_executor(cluster=address):
        raise AssertionError("it was let in")
    assert "\n" not in str(error.value)
    return str(error.value)


def test_nobody_at_the_address_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("lagwise.challenges.work.ANSWER_SECONDS", 1)
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{taken.getsockname()[1]}"
        assert refused(address).startswith(
            f"cluster: no Dask scheduler answers at {address}. Check the address"
        )
    assert "no Dask scheduler answers at carrier-pigeon://coop" in refused("carrier-pigeon://coop")


def test_a_scheduler_without_workers_is_said(scheduler: Cluster) -> None:
    assert refused(scheduler.address).startswith(
        f"cluster: the scheduler at {scheduler.address} has no workers"
    )


def test_workers_with_another_lagwise_are_said(scheduler: Cluster, tmp_path: Path) -> None:
    other = tmp_path / "other" / "lagwise"
    other.mkdir(parents=True)
    (other / "__init__.py").write_text('__version__ = "0.0"\n')
    scheduler.add_workers(1, PYTHONPATH=str(other.parent))
    said = refused(scheduler.address)
    assert said.startswith(f"cluster: the workers at {scheduler.address} cannot load lagwise")
    assert "Install the same version" in said


def test_a_missing_dask_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    said = refused("tcp://127.0.0.1:8786")
    assert (
        said
        == "cluster: Dask is not installed. Install it: pip install lagwise[cluster]. Or leave out the cluster."
    )
