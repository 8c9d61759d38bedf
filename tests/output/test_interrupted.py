"""Runs that are killed (Linux: processes are looked up in /proc): nothing hidden after the next run, nothing lost, no process left. Slices of tests/bench/interrupted.py."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from lagwise.output import check_folder, sweep
from lagwise.output.manifest import held

FILL = """
import os, signal, sys, time
from pathlib import Path
from lagwise.core.aside import unwinding
from lagwise.output import check_folder, temporary, whole_folder
from lagwise.output import whole

# A run started in the background inherits that signals are ignored; a person's terminal ignores none.
signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)
out, stage = Path(sys.argv[1]), sys.argv[2]
def end():
    os.kill(os.getpid(), signal.SIGKILL)
exchange, rename = whole._exchange, Path.rename
def at(path, place):
    if stage == "after the exchange" and path.name == "new":
        end()
    rename(path, place)
    if stage == "between two steps" and Path(place).name == "old":
        end()
Path.rename = at
if stage in ("between two steps", "in two steps"):
    whole._exchange = lambda one, other: False
with unwinding(), temporary() as scratch, whole_folder(check_folder(out, kind="report"), "the report", kind="report") as work:
    (scratch / "private.csv").write_text("person")
    (work / "sub").mkdir()
    (work / "sub" / "panel.csv").write_text(sys.argv[3])
    if stage == "while it is filled":
        print("filling", flush=True)
        time.sleep(60)
"""


@pytest.fixture
def fill(tmp_path, monkeypatch):
    """Begin to write out/ in a process of its own, with a temporary folder of its own."""
    (tmp_path / "tmp").mkdir()
    monkeypatch.setenv("TMPDIR", str(tmp_path / "tmp"))
    monkeypatch.setattr("tempfile.tempdir", None)
    begun = []

    def begin(stage: str, text: str = "new") -> subprocess.Popen:
        command = [sys.executable, "-c", FILL, str(tmp_path / "out"), stage, text]
        begun.append(subprocess.Popen(command, stdout=subprocess.PIPE, text=True))
        return begun[-1]

    yield begin
    for process in begun:
        process.kill()
        process.communicate()


def hidden(folder: Path) -> list[str]:
    return sorted(p.name for p in [*folder.iterdir(), *(folder / "tmp").iterdir()] if p.name.startswith("."))


def filling(process: subprocess.Popen) -> None:
    assert process.stdout is not None and process.stdout.readline() == "filling\n"


@pytest.mark.parametrize("before", [False, True])
def test_what_a_killed_run_left_goes_with_the_next(tmp_path, fill, before):
    if before:
        assert fill("", "old").wait() == 0
    process = fill("while it is filled")
    filling(process)
    process.kill()
    process.wait()
    assert len(hidden(tmp_path)) == 2 and (tmp_path / "out").exists() == before
    check_folder(tmp_path / "elsewhere", kind="plan")
    assert hidden(tmp_path) == []
    if before:
        assert held(tmp_path / "out").own and (tmp_path / "out" / "sub" / "panel.csv").read_text() == "old"


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_term_hup_and_ctrl_c_clean_up_by_themselves(tmp_path, fill, name):
    process = fill("while it is filled")
    filling(process)
    process.send_signal(getattr(signal, name))
    assert process.wait() in (128 + getattr(signal, name), -signal.SIGINT)
    assert hidden(tmp_path) == [] and not (tmp_path / "out").exists()


def test_what_a_living_run_works_in_stays(tmp_path, fill):
    process = fill("while it is filled")
    filling(process)
    sweep(tmp_path)
    sweep(tmp_path / "tmp")
    assert len(hidden(tmp_path)) == 2
    (work,) = (p for p in tmp_path.iterdir() if p.name.startswith("."))
    assert (work / "new" / "sub" / "panel.csv").exists()


@pytest.mark.parametrize(
    ("stage", "stays"), [("after the exchange", "new"), ("between two steps", "old"), ("in two steps", "new")]
)
def test_killed_in_the_exchange_there_is_a_whole_report(tmp_path, fill, stage, stays):
    assert fill("", "old").wait() == 0
    fill(stage).wait()
    sweep(tmp_path)
    sweep(tmp_path / "tmp")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out", "tmp"] and hidden(tmp_path) == []
    assert held(tmp_path / "out").own and (tmp_path / "out" / "sub" / "panel.csv").read_text() == stays


def test_a_note_saved_in_the_exchange_comes_back(tmp_path, fill):
    """Killed after the exchange, before the former folder was looked at again."""
    assert fill("", "old").wait() == 0
    fill("after the exchange").wait()
    (work,) = (p for p in tmp_path.iterdir() if p.name.startswith("."))
    (work / "new" / "note.txt").write_text("mine")
    sweep(tmp_path)
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".")] == []
    (kept,) = (p for p in tmp_path.iterdir() if p.name.startswith("out-20"))
    assert (kept / "note.txt").read_text() == "mine" and (kept / "sub" / "panel.csv").read_text() == "old"


def test_folders_that_only_look_alike_stay(tmp_path):
    for name in (".lagwise-abcdefgh", ".lagwise-notes"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "mine.txt").write_text("mine")
    (tmp_path / ".lagwise-12345678").symlink_to(tmp_path / ".lagwise-notes")
    sweep(tmp_path)
    assert len(list(tmp_path.rglob("mine.txt"))) == 2 and len(list(tmp_path.iterdir())) == 3


WORKERS = """
import os, subprocess, sys, time
from lagwise.core.aside import ending_with_us, processes
from lagwise.cli.terminal import plain_errors
if __name__ == "__main__":
    with plain_errors(False), processes(2) as pool:
        asked = [pool.submit(os.getpid) for _ in range(8)]
        found = {a.result() for a in asked}
        for _ in range(4):
            pool.submit(time.sleep, 100)
        program = subprocess.Popen(ending_with_us(["/bin/sleep", "100"])).pid
        while not open(f"/proc/{program}/cmdline").read().startswith("/bin/sleep"):
            time.sleep(0.01)
        found.add(program)
        print(*found, flush=True)
        pool.submit(time.sleep, 100).result()
"""


def running(number: int) -> bool:
    try:
        return "Z" not in Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False


@pytest.mark.parametrize("name", ["SIGKILL", "SIGTERM"])
def test_workers_and_programs_end_with_their_parent(tmp_path, name):
    script = tmp_path / "work.py"
    script.write_text(WORKERS)
    with subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        others = [int(n) for n in process.stdout.readline().split()]
        assert len(others) >= 2 and all(map(running, others))
        process.send_signal(getattr(signal, name))
        assert process.wait() == (-signal.SIGKILL if name == "SIGKILL" else 128 + signal.SIGTERM)
    for _ in range(100):
        if not any(map(running, others)):
            break
        time.sleep(0.05)
    assert not [n for n in others if running(n)]
