"""Runs ended by TERM or KILL at random moments: what they leave behind.

For each: processes of the run alive 5 s later, hidden folders and temporary files after the next run (`lagwise start` beside it), and outputs
that are neither as before nor whole. All counts are to be 0. Half of the moments are drawn over the whole run, half within 3 s of the moment
when something is written.

    python tests/bench/interrupted.py --kinds quick notebooks deidentify --runs 24
"""

import argparse
import itertools
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from dataclasses import dataclass
from pathlib import Path

from lagwise.output.manifest import held
from lagwise.synthetic import write

LAGWISE = (sys.executable, "-c", "from lagwise.cli import app; app()")
GRACE = 5.0
"""Seconds after which nothing of a run may be alive."""
MARK = "LAGWISE_INTERRUPTED"


@dataclass(frozen=True)
class Left:
    """What one run left."""

    kind: str
    how: str
    after: float
    writing: bool
    seconds_to_end: float
    orphans: int
    before_next_run: int
    leftovers: int
    torn: int


def command(kind: str, home: Path) -> list[str]:
    """What is run; its output is home/out."""
    clinic, out = str(home.parent / "clinic"), str(home / "out")
    return {
        "quick": ["report", clinic, "--quick", "--out", out],
        "full": ["report", clinic, "--out", out],
        "notebooks": ["notebooks", clinic, "--only", "03", "--out", out],
        "deidentify": ["deidentify", clinic, "--out", out, "--mapping", str(home / "key.csv")],
    }[kind]


def start(arguments: list[str], home: Path, mark: str) -> subprocess.Popen[bytes]:
    """Begin a command whose temporary files lie in home/tmp and whose processes can be told by `mark`."""
    environment = os.environ | {"TMPDIR": str(home / "tmp"), MARK: mark, "MPLBACKEND": "agg"}
    said = (home / "said.txt").open("ab")
    with said:
        return subprocess.Popen([*LAGWISE, *arguments], env=environment, cwd=home, stdout=said, stderr=said)


def alive(mark: str) -> list[str]:
    """The command lines of living processes that a marked run began, itself among them."""
    found = []
    for place in Path("/proc").glob("[0-9]*"):
        try:
            if f"{MARK}={mark}".encode() in (place / "environ").read_bytes() and not zombie(place):
                found.append((place / "cmdline").read_bytes().replace(b"\0", b" ").decode()[:150])
        except OSError:
            continue
    return found


def zombie(place: Path) -> bool:
    """Whether a process has ended and only waits to be asked for its exit code."""
    return (place / "stat").read_text().rpartition(")")[2].split()[0] == "Z"


def hidden(home: Path) -> list[str]:
    """Hidden entries beside the output, and everything in the temporary folder."""
    return [p.name for p in home.iterdir() if p.name.startswith(".")] + [
        p.name for p in (home / "tmp").iterdir()
    ]


def interrupt(kind: str, how: str, after: float, writing: bool, home: Path) -> Left | None:
    """One run, ended `after` seconds (`writing`: counted from the first hidden folder), and what it leaves; None if it had ended."""
    (home / "tmp").mkdir(parents=True)
    mark = uuid.uuid4().hex
    process = start(command(kind, home), home, mark)
    began = time.monotonic()
    while (
        writing and not any(p.name.startswith(".lagwise-") for p in home.iterdir()) and process.poll() is None
    ):
        time.sleep(0.01)
        began = time.monotonic()
    while time.monotonic() - began < after and process.poll() is None:
        time.sleep(0.005)
    if process.poll() is not None:
        return None
    sent = time.monotonic()
    process.send_signal(signal.SIGKILL if how == "KILL" else signal.SIGTERM)
    while alive(mark) and time.monotonic() - sent < GRACE:
        time.sleep(0.05)
    to_end = time.monotonic() - sent
    orphans = alive(mark)
    for line in orphans:
        print(f"   alive after {GRACE:.0f} s: {line}")
    process.wait()
    while alive(mark):
        time.sleep(0.1)
    before = hidden(home)
    out = home / "out"
    torn = out.exists() and not (held(out).own or kind == "deidentify")
    torn |= kind == "deidentify" and out.exists() and not (home / "key.csv").exists()
    start(["start", str(home / "next")], home, "").wait()
    after_next = hidden(home)
    for name in after_next:
        print(f"   left: {name}")
    return Left(kind, how, after, writing, to_end, len(orphans), len(before), len(after_next), int(torn))


def main() -> None:
    """Print a line for each run, and the sums; exit code 1 unless all are 0."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--kinds", nargs="+", default=["quick", "full", "notebooks", "deidentify"])
    asked.add_argument("--runs", type=int, default=30)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    draw = random.Random(given.seed)
    done = []
    with tempfile.TemporaryDirectory() as place:
        write("clinic", Path(place) / "clinic", seed=1)
        takes = {}
        for kind in given.kinds:
            home = Path(place) / f"whole-{kind}"
            (home / "tmp").mkdir(parents=True)
            began = time.monotonic()
            if start(command(kind, home), home, "").wait() not in (0, 1):
                raise SystemExit((home / "said.txt").read_text())
            takes[kind] = time.monotonic() - began
            print(
                f"{kind}: a whole run takes {takes[kind]:.0f} s; it leaves {len(hidden(home))} hidden entries"
            )
        for i in range(given.runs):
            kind, how, writing = (
                given.kinds[i % len(given.kinds)],
                draw.choice(("TERM", "KILL")),
                i // len(given.kinds) % 2 == 1,
            )
            after = draw.uniform(0, 3 if writing else takes[kind])
            for attempt in itertools.count():
                left = interrupt(kind, how, after, writing, Path(place) / f"run-{i}-{attempt}")
                if left is not None:
                    break
                after *= 0.6  # it had ended by then
            print(left, flush=True)
            done.append(left)
    print(
        f"{len(done)} runs; orphans after {GRACE:.0f} s: {sum(x.orphans for x in done)}; slowest end {max(x.seconds_to_end for x in done):.1f} s"
    )
    print(
        f"left at once: after TERM {sum(x.before_next_run for x in done if x.how == 'TERM')}, after KILL {sum(x.before_next_run for x in done if x.how == 'KILL')}"
    )
    print(
        f"left after the next run: {sum(x.leftovers for x in done)}; torn outputs: {sum(x.torn for x in done)}"
    )
    raise SystemExit(any(x.orphans or x.leftovers or x.torn for x in done))


if __name__ == "__main__":
    main()
