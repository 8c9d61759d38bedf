"""Time and memory of a full panel from a large Parquet file, against one DuckDB query of the same file.

    python tests/bench/panel_size.py [--rows 10000000] [--repeats 3]

The reference only sums sets and tonnage and averages effort per person and week, with a trailing mean of four weeks.
Both run with two threads, each time in a fresh process; imports are not timed, memory is the peak of the process.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROWS_PER_PERSON = 500
LIMIT = 2.0
REFERENCE = """
WITH weeks AS (
  SELECT person, date_trunc('week', date) AS week, sum(sets) AS sets, sum(sets * reps * load_kg) AS tonnage,
    avg(effort) AS effort
  FROM '{file}' GROUP BY ALL
)
SELECT *, avg(sets) OVER (PARTITION BY person ORDER BY week ROWS BETWEEN 4 PRECEDING AND 1 PRECEDING) AS usual FROM weeks
"""


def write(file: Path, rows: int) -> None:
    import numpy as np
    import pyarrow as pa
    import pyarrow.parquet as pq

    rng = np.random.default_rng(1)
    people, day = max(rows // ROWS_PER_PERSON, 1), np.sort(rng.integers(0, 52 * 7, rows))
    code = pa.DictionaryArray.from_arrays(rng.integers(0, people, rows), [f"P-{i}" for i in range(people)])
    exercise = pa.DictionaryArray.from_arrays(
        rng.integers(0, 5, rows), ["press", "row", "carry", "lunge", "hinge"]
    )
    effort = pa.array(rng.integers(10, 20, rows) / 2, mask=rng.random(rows) < 0.03)
    table = pa.table(
        {
            "person": code.cast("string"), "date": pa.array((day + 19724).astype("datetime64[D]")),
            "exercise": exercise.cast("string"), "sets": rng.integers(1, 6, rows).astype(float),
            "reps": rng.integers(3, 13, rows).astype(float), "load_kg": rng.integers(4, 60, rows) * 2.5,
            "effort": effort},
    )  # fmt: skip
    pq.write_table(table, file, row_group_size=1_000_000)


def run(what: str, file: str) -> dict[str, float]:
    if what == "reference":
        import duckdb
        import pandas  # noqa: F401

        start, worked = time.perf_counter(), time.process_time()
        with duckdb.connect() as con:
            con.execute("SET threads = 2")
            rows = len(con.execute(REFERENCE.format(file=file)).df())
    else:
        from lagwise.core.study import Study
        from lagwise.panel import build_panel

        start, worked = time.perf_counter(), time.process_time()
        rows = len(build_panel(file, Study("Size")).frame)
    seconds, work = time.perf_counter() - start, time.process_time() - worked
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    return {"seconds": seconds, "core_seconds": work, "gigabytes": peak / 1e9, "person_weeks": rows}


def main(rows: int, repeats: int) -> None:
    best: dict[str, dict[str, float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "sessions.parquet"
        subprocess.run([sys.executable, __file__, "--write", str(file), "--rows", str(rows)], check=True)
        for _ in range(repeats):
            for what in ("reference", "panel"):
                command = [sys.executable, __file__, "--run", what, str(file)]
                got = json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)
                best[what] = {k: min(v, best.get(what, got)[k]) for k, v in got.items()}
    print(f"{rows:,} session rows, best of {repeats}")
    for what, got in best.items():
        print(
            f"{what:>10}: {got['seconds']:.2f} s ({got['core_seconds']:.2f} core seconds), {got['gigabytes']:.2f} GB, {got['person_weeks']:,} person-weeks"
        )
    for key in ("seconds", "gigabytes"):
        print(f"ratio of {key}: {best['panel'][key] / best['reference'][key]:.2f} (target at most {LIMIT:g})")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rows", type=int, default=10_000_000)
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--run", nargs=2, metavar=("WHAT", "FILE"), help=argparse.SUPPRESS)
    parser.add_argument("--write", type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.run:
        print(json.dumps(run(*given.run)))
    elif given.write:
        write(given.write, given.rows)
    else:
        main(given.rows, given.repeats)
