"""Hundreds of damaged and hostile files, of which tests/bench/mutated.py takes thousands: the reader answers with a
caseload or with its own error, soon, and reads nothing outside the folder."""

import builtins
import io
import os
import random
import sys
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from bench import mutations

from lagwise.caseload import read
from lagwise.core.errors import LagwiseError

SEED = 20240607
CANARY = "canary-outside-the-folder"
CSV = (
    b"person,date,time,pain,stress,flare\n"
    b'a1,2024-01-07,07:30,3,4,yes\na1,2024-01-14,,"3,5",NA,no\nb2,14.01.2024,8:00,8/10,,ja\nb2,2024-01-21,,2,2,\n'
)
NASTY = (
    b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b'"', b"'", b"\r", b"\n\n", b",,,,", b";", b"\t", b"=cmd|' /C calc'!A0", b"@SUM(1)",
    b"-" * 50, b"9" * 400, b"1e999", b"NaN", b"inf", b"0x1F", b"\xe2\x80\xae", "٣".encode(), "💥".encode(), b"\xc3\x28", b"A" * 20_000, b" " * 30_000 + b"1", b"5 " * 20_000, b"1 of " * 10_000, b"," * 3_000,
    b"2024-02-30", b"0000-00-00", b"9999-12-31", b"03/04/2024", b"99999", b"%s%n", b"<script>", b"../../x", b"{}", b"\\", b"\x1a",
)  # fmt: skip
PLANS = (
    "[tables.checkins]\nfile = '{}'", "[tables.people]\nfile = '{}'", "[tables.sessions]\nfile = '{}'\nsheet = 'x'",
    "[tables.checkins]\nfile = 'checkins.csv'\nencoding = '{}'", "[tables.checkins]\ndate_format = '{}'", "[clock]\nstep_days = {}",
    "[tables.checkins.columns]\npain = '{}'", "[tables.checkins.columns]\n'{}' = 'pain'", "[analysis]\nexposures = ['{}']",
    "[groups]\n'{}' = ['{}']", "[scores.'{}']\nlow = 0\nhigh = 1", "[tables.checkins]\nheader_row = {}", "{} = 1", "[{}]", "{}",
    "[tables.checkins.wide.pain]\n'{}' = 0", "[repair]\n'{}' = false", "[tables.checkins]\nsep = '{}'",
    "[tables.checkins]\nfiles = ['{}']", "[tables.checkins]\nfiles = ['{}*']\nperson_from = 'file'",
    "[tables.checkins]\nfiles = ['linkdir/*.csv']\nignore = ['{}']", "[tables.checkins]\nfill_down = ['{}']",
)  # fmt: skip
PATHS = (
    "../outside.csv", "../../outside.csv", "/etc/passwd", "/dev/zero", "/proc/self/mem", "C:\\x.csv", "\\\\host\\share\\x.csv", "~/x.csv",
    "checkins.csv/../../outside.csv", "./../outside.csv", "link.csv", "linkdir/outside.csv", "pipe.csv", "file:///etc/passwd", "x" * 5000,
    "..", ".", "", " ", "study.toml", "CON", "a\u202eb.csv", "\u0001", "checkins.csv", "checkins.parquet", "999999999999", "-1", "nan", "%Y", "%",
    "%Q", "utf-7", "idna", "rot13", "zip", "unicode_escape", "pain", "person", "'", '"', "[[", "true", "1e400", "__class__", "stress",
)  # fmt: skip


def workbook_parts() -> dict[str, bytes]:
    book = openpyxl.Workbook()
    for row in (
        ["person", "date", "pain"],
        ["a1", "2024-01-07", 3],
        ["a1", "=1+1", "=A1"],
        ["b2", 45300, "8/10"],
    ):
        book.active.append(row)
    book.active.merge_cells("A2:A3")
    stream = io.BytesIO()
    book.save(stream)
    with zipfile.ZipFile(stream) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(parts: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return stream.getvalue()


def texts(rng: random.Random) -> Iterator[tuple[str, bytes]]:
    for _ in range(20):
        yield "checkins.csv", rng.choice(mutations.TEXTS)(CSV, rng)
    for piece in NASTY:
        yield "checkins.csv", CSV + b"c3,2024-01-28,07:00," + piece + b",1,no\n"


def workbooks(rng: random.Random) -> Iterator[tuple[str, bytes]]:
    parts = workbook_parts()
    whole = packed(parts)
    for _ in range(25):
        yield "checkins.xlsx", rng.choice(mutations.FILES)(whole, rng)
    sheet = "xl/worksheets/sheet1.xml"
    for inside in (b" " * 60_000_000, b"<row>" * 5_000_000):
        yield "checkins.xlsx", packed({**parts, sheet: inside})
    swaps = (
        (b'r="C2"', b'r="XFD2"'), (b'r="C2"', b'r="ZZZZZZ2"'), (b'r="2"', b'r="-2"'), (b'r="2"', b'r="x"'),
        (b"<v>3</v>", b"<v>1e999</v>"), (b"<v>3</v>", b"<v>" + b"9" * 30_000 + b"</v>"), (b'ref="A2:A3"', b'ref="A2:A99999999"'),
        (b"<sheetData>", b"<!DOCTYPE a [<!ENTITY b SYSTEM 'file:///etc/passwd'>]><sheetData>"),
    )  # fmt: skip
    for old, new in swaps:
        yield "checkins.xlsx", packed({**parts, sheet: parts[sheet].replace(old, new)})
    yield "checkins.xlsx", packed({f"../../{CANARY}{i}.xml": b"<a/>" for i in range(3)} | parts)


def parquets(rng: random.Random) -> Iterator[tuple[str, bytes]]:
    stream = io.BytesIO()
    pq.write_table(
        pa.table({"person": ["a", "b"], "date": ["2024-01-07", "2024-01-08"], "pain": [1.0, 2.0]}), stream
    )
    for _ in range(12):
        yield "checkins.parquet", rng.choice(mutations.FILES)(stream.getvalue(), rng)


def plans(rng: random.Random) -> Iterator[tuple[str, bytes]]:
    every = [(plan, path) for plan in PLANS for path in PATHS]
    located = [(PLANS[0], path) for path in PATHS]
    for plan, path in [*located, *rng.sample(every, 12)]:
        yield "study.toml", f'title = "x"\n{plan.replace("{}", path)}\n'.encode()
    sound = b'title = "x"\n[clock]\nstep_days = 7\n[tables.checkins]\nfile = "checkins.csv"\n[tables.checkins.columns]\npain = "pain"\n'
    for _ in range(12):
        yield "study.toml", rng.choice(mutations.PLANS)(sound, rng)


@pytest.fixture
def guarded(tmp_path: Path, monkeypatch) -> Iterator[tuple[Path, list[str]]]:
    """A folder among traps: files outside it, links out, a pipe; and a list of every path opened outside it."""
    (tmp_path / "outside.csv").write_text(f"person,date,pain\n{CANARY},2024-01-07,3\n")
    root = tmp_path / "caseload"
    root.mkdir()
    (root / "link.csv").symlink_to(tmp_path / "outside.csv")
    (root / "linkdir").symlink_to(tmp_path)
    os.mkfifo(root / "pipe.csv")
    (root / "study.toml").write_text('title = "x"\n')
    (root / "checkins.csv").write_bytes(CSV)
    read(root)
    (root / "checkins.csv").unlink()
    opened: list[str] = []
    allowed = tuple(os.path.realpath(place) + os.sep for place in (root, sys.prefix, sys.base_prefix))

    def noting(original: Callable) -> Callable:
        def wrapped(path, *args, **kwargs):
            if isinstance(path, str | os.PathLike) and not os.path.realpath(path).startswith(allowed):
                opened.append(os.fspath(path))
            return original(path, *args, **kwargs)

        return wrapped

    monkeypatch.setattr(builtins, "open", noting(builtins.open))
    monkeypatch.setattr(io, "open", noting(io.open))
    yield root, opened
    monkeypatch.undo()


@pytest.mark.parametrize("kind", [texts, workbooks, parquets, plans])
def test_hostile_files_end_in_a_caseload_or_our_own_error(guarded, kind):
    root, opened = guarded
    rng = random.Random(SEED)
    tried = answered = 0
    for name, content in kind(rng):
        (root / "study.toml").write_text('title = "x"\n')
        if kind is plans:
            (root / "checkins.csv").write_bytes(CSV)
        (root / name).write_bytes(content)
        opened.clear()
        tried += 1
        try:
            caseload = read(root)
        except LagwiseError as error:
            assert str(error)
            assert CANARY not in str(error)
        else:
            answered += 1
            counts = caseload.counts
            assert (counts["read"] == counts["used"] + counts["quarantined"]).all()
            assert CANARY not in "".join(caseload.checkins["person"])
        assert not opened, f"{name} #{tried} opened {opened[:3]}"
    assert 0 < answered < tried
