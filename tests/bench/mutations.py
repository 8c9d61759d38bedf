"""The faults that `mutated.py` gives to files: functions of bytes and a random generator."""

import csv
import io
import random
import re
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq

Fault = Callable[[bytes, random.Random], bytes]
ODD = (
    "31.02.2024", "2024-13-01", "0000-00-00", "9999-12-31", "1900-01-01", "03/04/24", "45000", "45000.5", "20240107", "2024-W07", "NA", "12:00",
    "2024-01-07T25:61", "2024-01-07 07:30+14:00", "7", "-7", "1e9", "999999999999", "tomorrow", "Sonntag, 7. Januar 2024", "\u0662\u0660\u0662\u0664-01-07",
)  # fmt: skip
HUGE = ("9" * 200_000, "x" * 120_000, "x" * 200_000, "1 " * 60_000, "1-" * 60_000, "," * 50_000, " " * 200_000, "=" * 99_999, "\u0301" * 90_000, "1/" * 60_000)  # fmt: skip
CELLS = (
    *ODD, *(h[:3000] for h in HUGE), "8-9", "8\u20139", "7,5", "7.5", "1.234,5", "nan", "inf", "-inf", "1e400", "0x1F", "TRUE", "yes", "=1+1", "\x1b[31m", "\u202ea", "\x00",
    "\x0c", "\x1c", "\u2028", "\ufeff", "\ufffd", "\U0001f3cb", "<b>", "{{", "[red]", "%s", "../x", "'", '"', '""', "  ", "-", "?", ">5", "~3", "3x8", "8/8/9", "5/10", "100", "-1",
)  # fmt: skip
PIECES = (
    "[clock]\nstep_days = 1\n", "[clock]\nstep_days = 28\n", '[load]\nmeasure = "session_rpe"\n', '[load]\nmeasure = "tonnage"\n', '[pain]\nsummary = "last"\n',
    '[tables.checkins]\nheader_row = 3\n', '[tables.sessions]\ndecimal = ","\n', '[tables.checkins]\nencoding = "utf-16"\n', '[tables.checkins]\ndate_format = "%d%m%y"\n',
    '[tables.checkins.units]\npain = "0-100"\n', '[tables.sessions.units]\nload_kg = "lb"\n', '[tables.sessions.constant]\nsets = 1\n', '[tables.sessions.columns]\nsets = "reps"\n',
    "[repair]\ndate_words = false\n", "[repair]\nranges = true\n", '[analysis]\nexposures = ["effort"]\nprimary = "effort"\n', '[tables.checkins.missing]\npain = ["999", 0]\n', '[tables.checkins]\nsep = "tab"\n',
    '[tables.checkins.wide.pain]\n"pain" = 1\n', '[groups]\na = ["b"]\n', "[scores.pain]\nlow = 0\nhigh = 1\n", '[load]\nusual_steps = 2\nusual_needs = 1\n', "[pain]\nimportant_change = 0.1\n", '[load]\nno_sessions_means = "rest"\n',
)  # fmt: skip


def flip(data: bytes, rng: random.Random) -> bytes:
    """Up to 30 bytes exchanged."""
    out = bytearray(data)
    for _ in range(rng.choice([1, 3, 30]) if out else 0):
        out[rng.randrange(len(out))] = rng.randrange(256)
    return bytes(out)


def cut(data: bytes, rng: random.Random) -> bytes:
    """The end, or a stretch within, left out."""
    at, end = sorted(rng.randint(0, len(data)) for _ in range(2))
    return data[:end] if rng.random() < 0.5 else data[:at] + data[end:]


def twice(data: bytes, rng: random.Random) -> bytes:
    """A stretch again, or all of it."""
    at, end = sorted(rng.randint(0, len(data)) for _ in range(2))
    return data * rng.choice([2, 20]) if rng.random() < 0.3 else data[:end] + data[at:end] + data[end:]


def nul(data: bytes, rng: random.Random) -> bytes:
    """Zero bytes somewhere."""
    at = rng.randint(0, len(data))
    return data[:at] + b"\x00" * rng.choice([1, 5000]) + data[at:]


def coded(data: bytes, rng: random.Random) -> bytes:
    """Another encoding."""
    name = rng.choice(["utf-16", "utf-16-le", "utf-16-be", "utf-32", "utf-8-sig", "cp1252", "cp037", "utf-7"])
    return data.decode("utf-8", "replace").encode(name, "replace")


def ends(data: bytes, rng: random.Random) -> bytes:
    """Other line ends, or several kinds of them."""
    kinds = rng.choice(
        [[b"\r"], [b"\r\n"], [b"\n", b"\r", b"\r\n"], [b"\x0c"], [b"\n\n\n"], ["\u2028".encode()], [b"\n\r"]]
    )
    return b"".join(line + rng.choice(kinds) for line in data.splitlines())


def signs(data: bytes, rng: random.Random) -> bytes:
    """Another separator or decimal sign, in all rows or some."""
    new = rng.choice([b";", b"\t", b"|", b":", b" ", b",,", b"\xc2\xa0"])
    lines = data.splitlines(keepends=True)
    some = rng.choice([1.0, 1.0, 0.2])
    swapped = (line.replace(b",", new) if rng.random() < some else line for line in lines)
    return b"".join(line.replace(b".", b",") if rng.random() < 0.3 else line for line in swapped)


def _table(change: Callable[[list[list[str]], random.Random], None]) -> Fault:
    def fault(data: bytes, rng: random.Random) -> bytes:
        text = data.decode("utf-8", "replace")
        sep = ";" if text.partition("\n")[0].count(";") > 2 else ","
        csv.field_size_limit(10**7)
        rows = [
            row for row in csv.reader(io.StringIO(text.replace("\x00", ""), newline=""), delimiter=sep) if row
        ]
        if rows:
            change(rows, rng)
        out = io.StringIO(newline="")
        csv.writer(out, delimiter=sep, lineterminator="\n").writerows(rows)
        return out.getvalue().encode("utf-8", "replace")

    fault.__doc__ = change.__doc__
    return fault


def _columns(rows: list[list[str]], rng: random.Random) -> None:
    """A column there twice, left out, moved or emptied."""
    at, kind = rng.randrange(len(rows[0])), rng.randrange(4)
    for i, row in enumerate(rows):
        if at < len(row):
            if kind == 0:
                row.append(row[at])
            elif kind == 3 and i:
                row[at] = ""
            elif kind in (1, 2):
                cell = row.pop(at)
                if kind == 2:
                    row.insert(0, cell)


def _header(rows: list[list[str]], rng: random.Random) -> None:
    """A header in other words, the header again, lower down or gone."""
    at = rng.randrange(len(rows[0]))
    choice = rng.randrange(4)
    if choice == 0:
        rows[0][at] = rng.choice(
            [
                *CELLS, "Name", "Pain (0-10)", "date", "person", "PAIN", "row", "state", "load", "index",
                "sets", "unnamed: 0"],
        )  # fmt: skip
    elif choice == 1:
        rows.insert(rng.randint(0, len(rows)), list(rows[0]))
    elif choice == 2:
        rows[:0] = [["A title"], []][: rng.randint(1, 2)] * rng.choice([1, 30])
    else:
        rows.pop(0)


def _cells(rows: list[list[str]], rng: random.Random) -> None:
    """Odd cells, a few or a whole column of them."""
    odd = rng.sample(CELLS, rng.choice([1, 1, 5]))
    at, share = rng.randrange(len(rows[0])), rng.choice([0.01, 0.1, 1.0])
    for row in rows[1:]:
        if rng.random() < share and at < len(row):
            row[at] = rng.choice(odd)


def _dates(rows: list[list[str]], rng: random.Random) -> None:
    """Dates in another spelling, far away, or none."""
    form = rng.choice(["{2}.{1}.{0}", "{1}/{2}/{0}", "{2}/{1}/{0}", "{0}{1}{2}", "{2}-{1}-{0}", "1950-{1}-{2}", "2100-{1}-{2}", "{0}-{1}-{2} 23:59", "{2}.{1}.", "", "x"])  # fmt: skip
    share = rng.choice([0.02, 0.5, 1.0])
    for row in rows[1:]:
        for i, cell in enumerate(row):
            if re.fullmatch(r"\d{4}-\d\d-\d\d", cell) and rng.random() < share:
                row[i] = rng.choice(ODD) if form == "x" else form.format(*cell.split("-"))


def _huge(rows: list[list[str]], rng: random.Random) -> None:
    """One huge cell, a row of thousands of cells, or thousands of codes that are alike."""
    row = rng.choice(rows)
    kind = rng.randrange(3)
    if kind == 0 and row:
        row[rng.randrange(len(row))] = rng.choice(HUGE)
    elif kind == 1:
        row.extend(["1"] * rng.choice([50, 1900, 5000]))
    else:
        for i, one in enumerate(rows[1:]):
            one[0] = f"Person {i:04d}" + " " * (i % 3)


def archived(data: bytes, rng: random.Random) -> bytes:
    """A member of a workbook mutated as text, packed again; other files as bytes."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = {name: archive.read(name) for name in archive.namelist()}
    except Exception:
        return flip(data, rng)
    name = rng.choice([n for n in parts if "sheet" in n] if rng.random() < 0.6 else list(parts))
    swaps = ((b'r="', b'r="A'), (b"<v>", b"<v>1e9"), (b"<v>", b"<v>-"), (b't="s"', b't="d"'), (b't="s"', b't="e"'), (b't="n"', b't="b"'), (b"<row ", b"<row hidden='1' "), (b"</sheetData>", b'</sheetData><mergeCells><mergeCell ref="A2:C900"/></mergeCells>'), (b'r="1"', b'r="99999"'), (b'r="B', b'r="XFD'))  # fmt: skip
    parts[name] = parts[name].replace(*rng.choice(swaps), rng.choice([1, 5, -1])) if rng.random() < 0.6 else rng.choice([flip, cut, twice, nul, coded])(parts[name], rng)  # fmt: skip
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return out.getvalue()


def piece(data: bytes, rng: random.Random) -> bytes:
    """A further section in the plan, of those that are not there already."""
    there = re.findall(rb"(?m)^\[.+\]", data)
    return (
        data + b"\n" + rng.choice([p for p in PIECES if p.partition("\n")[0].encode() not in there]).encode()
    )


def value(data: bytes, rng: random.Random) -> bytes:
    """One value of the plan exchanged for another."""
    found = list(re.finditer(rb"= *(.+)", data))
    at = rng.choice(found) if found else None
    new = rng.choice(
        [
            b"1e400", b"-1", b"[]", b"{}", b"true", b'""', b'"x"', b"999999999999999999999", b"nan", b"[[1]]",
            b'"%d%d%m%Y"', b'"punycode"', b"1979-05-27", b'"../x.csv"'],
    )  # fmt: skip
    return data[: at.start(1)] + new + data[at.end(1) :] if at else data + new


def as_other_kind(path: Path, rng: random.Random) -> None:
    """A CSV file saved as a workbook or as Parquet, with typed numbers where all of a column are."""
    text = path.read_text("utf-8", "replace")
    rows = list(
        csv.reader(io.StringIO(text), delimiter=";" if text.partition("\n")[0].count(";") > 2 else ",")
    )
    if len({len(row) for row in rows}) != 1 or len(set(rows[0])) < len(rows[0]):
        return
    path.unlink()
    if rng.random() < 0.5:
        book = openpyxl.Workbook(write_only=True)
        sheet = book.create_sheet(path.stem[:30])
        for row in rows:
            sheet.append([float(c) if re.fullmatch(r"-?\d+(\.\d+)?", c) else c or None for c in row])
        book.save(path.with_suffix(".xlsx"))
    else:
        columns = {
            name: pa.array([row[i] or None for row in rows[1:]], pa.string())
            for i, name in enumerate(rows[0])
        }
        for name, column in columns.items():
            if rng.random() < 0.5:
                try:
                    columns[name] = column.cast(rng.choice([pa.float64(), pa.int64(), pa.timestamp("us", rng.choice([None, "UTC"])), pa.date32(), pa.bool_(), pa.dictionary(pa.int32(), pa.string())]))  # fmt: skip
                except pa.ArrowException:
                    continue
        pq.write_table(
            pa.table(columns), path.with_suffix(".parquet"), compression=rng.choice(["snappy", "none"])
        )


FILES: tuple[Fault, ...] = (flip, cut, twice, nul, *[archived] * 6)
TEXTS: tuple[Fault, ...] = (flip, cut, twice, nul, coded, ends, ends, signs, signs, *(_table(f) for f in (_columns, _header, _cells, _cells, _dates, _huge) for _ in range(3)))  # fmt: skip
PLANS: tuple[Fault, ...] = (flip, cut, coded, ends, *[piece] * 8, value)
