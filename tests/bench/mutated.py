"""Mutated caseload folders through `lagwise check`: how many hang, take too much memory or end in a traceback.

A seed makes one folder: an invented caseload that can be read, cut to some of its people's rows, some tables as workbook or Parquet, then one to three faults.
Each is checked in a process of its own, killed after 20 s. All counts are to be 0; each failure is named with its seed.

    python tests/bench/mutated.py --seeds 0 2000
    python tests/bench/mutated.py --seeds 17 18 --keep seed-17     # make one, look at it
"""

import argparse
import multiprocessing
import random
import shutil
import tempfile
import time
import traceback
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from mutations import FILES, PLANS, TEXTS, as_other_kind

DATA = Path(__file__).resolve().parents[2] / "data_synthetic"
SECONDS, MEGABYTES = 20, 2000
SIDE = 2
"""Folders checked side by side."""


def make(seed: int, root: Path) -> Path:
    """The folder of a seed, below `root`."""
    rng = random.Random(seed)
    source = rng.choice(
        [p.parent for p in sorted(DATA.rglob("study.toml")) if p.parent.name != "ambiguous_dates"]
    )
    folder = root / f"seed-{seed}"
    shutil.copytree(source, folder)
    (folder / "truth.json").unlink(missing_ok=True)
    lines = rng.choice([30, 300, 300, 3000])
    for path in sorted(folder.glob("*.csv")):
        path.write_bytes(b"".join(path.read_bytes().splitlines(keepends=True)[:lines]))
    for path in sorted(folder.glob("*.csv")):
        if rng.random() < 0.25:
            as_other_kind(path, rng)
    for _ in range(rng.choice([1, 1, 2, 3])):
        tables = sorted(p for p in folder.iterdir() if p.suffix != ".toml")
        path = rng.choice(tables) if rng.random() < 0.85 else folder / "study.toml"
        kinds = (
            PLANS
            if path.name == "study.toml"
            else TEXTS
            if path.suffix == ".csv" and rng.random() < 0.8
            else FILES
        )
        path.write_bytes(rng.choice(kinds)(path.read_bytes(), rng))
    return folder


def checked(folder: Path, answer) -> None:
    """Check the folder as the command does; sends how it ended and the peak of memory, in MB."""
    import resource

    from typer.testing import CliRunner

    from lagwise.cli import app

    # What would exhaust the machine ends in an error that is counted.
    resource.setrlimit(resource.RLIMIT_AS, (12_000_000_000, 12_000_000_000))
    result = CliRunner().invoke(
        app, ["check", str(folder), "--html", str(folder.parent / f"{folder.name}.html")]
    )
    problem = ""
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        problem = "".join(traceback.format_exception(result.exception))
    elif not all(c.isprintable() or c == "\n" for c in result.output):
        problem = (
            f"steers the terminal: {[c for c in result.output if not c.isprintable() and c != chr(10)][:5]}"
        )
    elif result.exit_code not in (0, 1, 2):
        problem = f"exit code {result.exit_code}"
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    answer.send((("read", "read", "refused")[min(result.exit_code, 2)], problem, peak))


def trial(seed: int, root: Path, context) -> tuple[int, str, str, float, float]:
    """Seed, how it ended, what was wrong, peak in MB and seconds."""
    folder = make(seed, root)
    ours, theirs = context.Pipe(duplex=False)
    start = time.monotonic()
    process = context.Process(target=checked, args=(folder, theirs))
    process.start()
    theirs.close()
    try:
        ended, problem, peak = ours.recv() if ours.poll(SECONDS) else ("hang", "", 0.0)
    except EOFError:
        ended, problem, peak = "died", "the process ended without an answer", 0.0
    seconds = time.monotonic() - start
    process.kill()
    process.join()
    shutil.rmtree(folder)
    (root / f"{folder.name}.html").unlink(missing_ok=True)
    return seed, ended, problem, peak, seconds


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, nargs=2, default=(0, 100), metavar=("FROM", "TO"))
    parser.add_argument("--keep", type=Path, help="only make the folders, here")
    given = parser.parse_args()
    seeds = range(*given.seeds)
    if given.keep:
        print(*(make(seed, given.keep) for seed in seeds), sep="\n")
        return 0
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(["openpyxl", "typer.testing", "lagwise.cli", "lagwise.cli.show_check", "lagwise.pages.check_page", "lagwise.pages.check_panel", "pyarrow.parquet"])  # fmt: skip
    counts, worst = Counter(), (0.0, 0.0)
    with tempfile.TemporaryDirectory() as root, ThreadPoolExecutor(SIDE) as pool:
        for seed, ended, problem, peak, seconds in pool.map(lambda s: trial(s, Path(root), context), seeds):
            counts[ended] += 1
            counts["traceback"] += bool(problem)
            counts["peak"] += peak > MEGABYTES
            worst = max(worst[0], seconds), max(worst[1], peak)
            if problem or ended == "hang" or peak > MEGABYTES:
                print(f"seed {seed}: {ended}, {seconds:.1f} s, {peak:.0f} MB\n{problem[-1500:]}", flush=True)
    bad = counts["hang"] + counts["peak"] + counts["traceback"]
    print(
        f"{len(seeds)} folders, seeds {seeds.start} to {seeds.stop - 1}: {counts['read']} read, {counts['refused']} refused in words; "
        f"{counts['hang']} hangs over {SECONDS} s, {counts['peak']} peaks above {MEGABYTES} MB, {counts['traceback']} tracebacks; "
        f"longest {worst[0]:.1f} s, highest {worst[1]:.0f} MB."
    )
    return 1 if bad else 0


if __name__ == "__main__":
    raise SystemExit(main())
