"""A caseload whose title, codes, exercises, groups and notes try to be something else than text."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

from lagwise import synthetic
from lagwise.core import columns
from lagwise.synthetic.spec import CLINIC

LONG = "L" + "o" * 97 + "g"
TOO_LONG = "T" + "o" * 197 + "g"
HOSTILE = (
    "<script>alert(1)</script>", "=cmd|'/C calc'!A0", "+1+1", "@SUM(1)", "-2+3", "abc\u202etxt.exe",
    "zero\u200bwidth\ufeff\u200dness", LONG, "\U0001f3cb\ufe0f\u200d\u2640\ufe0f lifter",
    "\u80a9\u95a2\u7bc0 \u75db\u307f", "\u0643\u062a\u0641 \u0623\u0644\u0645", "{{ 7*7 }}{% raw %}",
    "[x](javascript:alert(1))", '#read("/etc/passwd")', "]]> --><script>alert(2)</script> & <![CDATA[",
    '"><img src=x onerror=alert(1)>',
)  # fmt: skip
"""One of each kind, also the codes of the people, in this order."""
SCRIPT, FORMULA = HOSTILE[:2]
PAGES = (SCRIPT, FORMULA, HOSTILE[5], LONG, HOSTILE[10])
"""People that a page is written for: also one whose code turns round, a long one and one from right to left."""
LINES = "two\nlines\r\nand\ttab"


def make(folder: Path, steps: int = 10) -> Path:
    """Write it: a person per hostile text, and one more whose code is too long to be read."""
    people = len(HOSTILE) + 1
    caseload = synthetic.simulate(replace(CLINIC, n_people=people, n_steps=steps), 3)
    codes = dict(zip(caseload.people["person"], (*HOSTILE, TOO_LONG), strict=True))
    folder.mkdir(parents=True)
    for name in columns.TABLES:
        frame = getattr(caseload, name).drop(columns="row")
        if not len(frame):
            continue
        frame["person"] = frame["person"].map(codes).astype(object)
        if name == "people":
            frame["site"] = [HOSTILE[i % 5] for i in range(len(frame))]
            frame["region"] = [HOSTILE[9 + i % 4] for i in range(len(frame))]
        if name == "sessions":
            lifts = list(dict.fromkeys(frame["exercise"]))
            frame["exercise"] = frame["exercise"].map(dict(zip(lifts, HOSTILE * 2, strict=False)))
            frame["notes"] = "=1+1"
        frame.dropna(axis=1, how="all").to_csv(
            folder / f"{name}.csv", index=False, encoding="utf-8", lineterminator="\n"
        )
    everything = "; ".join((*HOSTILE, LINES))
    quoted = {k: json.dumps(everything, ensure_ascii=False) for k in ("title", "setting", "ethics")}
    lines = [f"{key} = {text}" for key, text in quoted.items()]
    lines += ["", "[groups]"]
    for i in (0, 1, 8, 9, 14):
        name, lifts = (json.dumps(v, ensure_ascii=False) for v in (HOSTILE[i], [HOSTILE[i], HOSTILE[i + 1]]))
        lines.append(f"{name} = {lifts}")
    (folder / "study.toml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


WITHOUT_SOCKETS = """
import json, socket, sys

class Closed(socket.socket):
    def __init__(self, *args, **kwargs):
        raise AssertionError("a socket was asked for")

def closed(*args, **kwargs):
    raise AssertionError("the network was asked for")

socket.socket = socket.SocketType = Closed
for name in ("create_connection", "create_server", "getaddrinfo", "gethostbyname", "gethostbyaddr", "socketpair"):
    setattr(socket, name, closed)

from lagwise.cli import app

for command, code in json.loads(sys.argv[1]):
    try:
        app(command)
    except SystemExit as end:
        assert (end.code or 0) == code, command
"""


def python(*code: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", *code], capture_output=True, encoding="utf-8", check=False)


def commands(home: Path) -> Path:
    """A folder with the caseload `case`, and from it `check.html`, the report `out` and the copy `copy`; nothing else."""
    case = make(home / "case")
    before = {p: p.read_bytes() for p in case.rglob("*") if p.is_file()}
    asked = (
        (["check", str(case), "--html", str(home / "check.html")], 1),
        (["report", str(case), "--out", str(home / "out"), "--quick", "--workers", "1", *(f"--for-person={code}" for code in PAGES)], 0),
        (["deidentify", str(case), "--out", str(home / "copy")], 0),
    )  # fmt: skip
    told = python(WITHOUT_SOCKETS, json.dumps(asked))
    assert told.returncode == 0, told.stderr
    assert "\u202e" not in told.stdout + told.stderr
    assert "--weekly-sums" in told.stdout  # what would tell less than the copy
    assert {p: p.read_bytes() for p in case.rglob("*") if p.is_file()} == before
    assert {p.name for p in home.iterdir()} == {"case", "check.html", "out", "copy"}
    return home
