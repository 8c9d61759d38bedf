"""Files that are no files, files that go away, plans and tables made to hang or to lead astray: each is refused in words."""

import gzip
import io
import os
import re
import shutil
import socket
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from lagwise.caseload import check, deidentify, places, read, reading, study_file
from lagwise.core.errors import LagwiseError
from lagwise.panel import build_panel
from lagwise.synthetic import folder as synthetic_folder

CSV = "person,date,pain\na,2024-01-07,3\na,2024-01-14,4\n"
PATIENCE = 10
"""Seconds; a bound against hanging, far from what any of these takes."""
HUGE = "0x" + "f" * 5000


def refused(root: Path, match: str | None = None) -> str:
    start = time.monotonic()
    with pytest.raises(LagwiseError, match=match) as error:
        check(read(root))
    assert time.monotonic() - start < PATIENCE
    return str(error.value)


@pytest.mark.parametrize("name", ["checkins.csv", "study.toml"])
def test_what_is_no_file_is_not_opened(folder, tmp_path, name):
    def device(path: Path) -> None:
        path.symlink_to("/dev/zero")

    def listening(path: Path) -> None:
        there = Path.cwd()
        os.chdir(path.parent)
        with socket.socket(socket.AF_UNIX) as made:
            made.bind(path.name)
        os.chdir(there)

    outside = tmp_path / "outside.csv"
    outside.write_text(CSV.replace("a,", "canary,"))
    makers = [
        os.mkfifo, device, listening, Path.mkdir, lambda p: p.symlink_to(outside), lambda p: p.symlink_to(p), lambda p: p.symlink_to("nowhere"),
    ]  # fmt: skip
    for make in makers:
        root = folder(checkins=CSV)
        (root / name).unlink()
        make(root / name)
        told = refused(root)
        assert "canary" not in told
        assert not (root / name).is_symlink() or "nowhere" in told or "does not lie inside" in told
        shutil.rmtree(root)


@pytest.mark.parametrize(
    "plan",
    [
        f"[clock]\nstep_days = {HUGE}", f"[scores.x]\nlow = 0\nhigh = {HUGE}", f"[tables.checkins]\nmissing = [{HUGE}]",
        f"[analysis]\nexposures = [{HUGE}]", f"[tables.checkins]\nsep = {HUGE}", f"[groups]\na = [{HUGE}]", "a = " + "[" * 50_000,
        "[" + ".".join("a" * 100_000) + "]", ".".join(["tables"] * 20_000) + " = 1", 'a = "\\ud800"',
        '[tables.checkins]\nfile = "a\\u0000b.csv"', '[tables.checkins]\nfile = "//host/share/x.csv"', '[tables.checkins]\nfile = "NUL.csv"',
    ],
)  # fmt: skip
def test_plans_made_to_hang_or_to_lead_astray(folder, plan):
    refused(folder(plan, checkins=CSV), "study.toml")


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (",".join(f"c{i}" for i in range(100_000)).encode() + b"\n1\n", "columns"),
        (b"person,date,pain\n" + b"1," * 5_000_000, "columns"),
        (CSV.encode() + b'a,2024-01-21,"3\n' + b"a,2024-01-28,3\n" * 100_000, "quotation mark"),
        (CSV.encode() + b"\x00", "binary"),
        (gzip.compress(b"0" * 50_000_000), "not text"),
        (b"PK\x03\x04" + b"\x00" * 100, "a workbook"),
    ],
)
def test_texts_made_to_hang(folder, content, match):
    refused(folder(checkins=content), match)


@pytest.mark.parametrize("name", ["utf-16-le", "utf-16-be", "utf-32-le", "utf-32-be"])
def test_texts_of_wide_characters_without_a_mark(folder, name):
    """The error names an encoding that then reads the table; declared without its order of bytes, that is found."""
    for text in (
        CSV,
        CSV.replace("\n", ",\u0431\u043e\u043b\u044c \u0432 \u043f\u043b\u0435\u0447\u0435\n" * 3),
    ):
        refused(folder(checkins=text.encode(name)), f'encoding = "{name}"')
    for declared in (name, name[:6]):
        assert (
            len(
                read(
                    folder(f'[tables.checkins]\nencoding = "{declared}"', checkins=CSV.encode(name))
                ).checkins
            )
            == 2
        )
    refused(folder(f'[tables.checkins]\nencoding = "{name[:6]}"', checkins=b"abcdefgh"))


def test_a_cell_of_millions_of_digits_is_set_aside(folder):
    caseload = read(folder(checkins=CSV.encode() + b"a,2024-01-21," + b"9" * 10_000_000 + b"\n"))
    assert caseload.quarantine["row"].tolist() == [4]
    assert len(caseload.quarantine.loc[0, "value"]) <= 80


def packed(**parts: bytes) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name.replace("__", "/"), data)
    return stream.getvalue()


def test_archives_in_archives_and_files_under_another_name(folder):
    bomb = packed(inner=packed(inner=b"0" * 30_000_000))
    for data in (
        bomb,
        b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 5000,
        CSV.encode(),
        b"PK\x03\x04 not a workbook",
    ):
        refused(only(folder, "checkins.xlsx", data), "Excel workbook|unpack|a workbook")
    refused(only(folder, "checkins.parquet", CSV.encode()), "Parquet")


def only(folder, name: str, data: bytes) -> Path:
    root = folder(**{name: data})
    for path in root.iterdir():
        if path.name not in (name, "study.toml"):
            path.unlink()
    return root


def test_parquet_with_a_spoilt_footer_nested_or_endless_columns(folder):
    def stored(table: pa.Table) -> bytes:
        stream = io.BytesIO()
        pq.write_table(table, stream)
        return stream.getvalue()

    good = stored(pa.table({"person": ["a"], "date": ["2024-01-07"], "pain": [1.0]}))
    refused(only(folder, "checkins.parquet", good[:-8] + b"\xff\xff\xff\x7fPAR1"), "Parquet")
    refused(
        only(folder, "checkins.parquet", stored(pa.table({f"c{i}": [1] for i in range(5000)}))), "columns"
    )
    nested = pa.table({"person": ["a"], "date": [["2024-01-07"]], "pain": [{"x": 1.0}]})
    refused(only(folder, "checkins.parquet", stored(nested)), "not one value a row")


def test_names_that_steer_a_terminal_are_shown_without_doing_so(folder):
    root = folder(checkins="person,date,pain\n\x1b[31ma,2024-01-07,3\n\x1b[31mA,2024-01-14,x\n")
    (root / "b\x1b[2J.csv").write_text("x")
    Path(os.fsdecode(os.fsencode(root) + b"/\xff\xfe.csv")).touch()
    caseload = read(root)
    said = caseload.remarks.to_csv() + check(caseload).to_csv() + caseload.quarantine["value"].to_csv()
    assert caseload.remarks["code"].tolist() == ["unused_file"] * 2
    assert "\x1b" not in said
    said.encode()


def test_what_is_done_to_a_file_while_others_are_read_changes_nothing(folder, tmp_path, monkeypatch):
    """Every file is opened once: what was parsed is what was hashed, and nothing else is quoted."""
    (tmp_path / "secret").write_text("canary of another file\n")
    whole = read(folder(checkins=CSV, people="person,sex\na,f\n"))
    for changed in ("people.csv", "checkins.csv"):
        for make in (
            Path.unlink,
            lambda p: (p.unlink(), p.symlink_to(tmp_path / "secret")),
            lambda p: p.write_text("x"),
        ):
            root = folder(checkins=CSV, people="person,sex\na,f\n")

            def read_and_change(
                place, study, others, path=root / changed, make=make, original=reading.read_table
            ):
                if place.table == "checkins":
                    make(path)
                return original(place, study, others)

            with monkeypatch.context() as patch:
                patch.setattr(reading, "read_table", read_and_change)
                again = read(root)
            (root / changed).unlink(missing_ok=True)
            assert again.checkins.equals(whole.checkins) and again.people.equals(whole.people)
            assert again.data_hash == whole.data_hash


@pytest.mark.parametrize("name", ["checkins.csv", "study.toml", "deeper/table.csv"])
def test_a_name_made_a_link_after_it_was_looked_at_is_refused(folder, tmp_path, monkeypatch, name):
    (tmp_path / "secret").mkdir()
    for kind in ("checkins.csv", "study.toml", "table.csv"):
        (tmp_path / "secret" / kind).write_text("canary of another file\n" + CSV)
    root = folder('[tables.checkins]\nfile = "deeper/table.csv"' if "/" in name else "", checkins=CSV)
    (root / "deeper").mkdir()
    (root / "deeper" / "table.csv").write_text(CSV)
    part = root / Path(name).parts[0]

    def looked_at(at: Path, wanted: str, where: str, original=places.inside) -> Path:
        found = original(at, wanted, where)
        if wanted == name and not part.is_symlink():
            shutil.rmtree(part) if part.is_dir() else part.unlink()
            part.symlink_to(tmp_path / "secret" if "/" in name else tmp_path / "secret" / name)
        return found

    monkeypatch.setattr(places, "inside", looked_at)
    monkeypatch.setattr(study_file, "inside", looked_at)
    assert "canary" not in refused(root, "cannot be opened")


@pytest.mark.parametrize("name", ["checkins.csv", "checkins.xlsx", "checkins.parquet", "study.toml"])
def test_a_sparse_file_is_refused_by_its_size(folder, name):
    root = only(folder, name, b"title = 'x'\n")
    os.truncate(root / name, 1 << 42)
    assert "MB are read" in refused(root)


def test_a_full_disk_leaves_nothing_half_written(folder, tmp_path, monkeypatch):
    written: list[Path] = []

    def full(self: Path, *args, **kwargs) -> int:
        written.append(self)
        if len(written) > 1:
            raise OSError(28, "No space left on device")
        self.touch()
        return 0

    caseload = read(folder(checkins=CSV))
    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_text", full)
        with pytest.raises(LagwiseError, match="No space left"):
            deidentify(caseload, tmp_path / "copy", mapping=tmp_path / "key.csv")
        written.clear()
        patch.setattr(Path, "write_bytes", full)
        patch.setattr(synthetic_folder, "files", lambda kind, seed: {"study.toml": b"", "checkins.csv": b""})
        with pytest.raises(LagwiseError, match="No space left"):
            synthetic_folder.write("no_effect", tmp_path / "made")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["caseload"]


CODE = """
import ctypes, os, sys
if os.getuid() == 0:  # An administrator without the privilege to open what is closed; who keeps reading what is his own.
    header, nothing = (ctypes.c_uint32 * 2)(0x20080522, 0), (ctypes.c_uint32 * 6)()
    assert ctypes.CDLL(None, use_errno=True).capset(header, nothing) == 0, os.strerror(ctypes.get_errno())
from lagwise.caseload import deidentify, read
from lagwise.core.errors import LagwiseError
from lagwise.panel import build_panel
whole = read(sys.argv[1])
for place in sys.argv[2:]:
    try:
        deidentify(whole, place) if place.endswith("copy") else read(place)
    except LagwiseError as error:
        print(error)
"""


def test_what_may_not_be_opened_or_written(folder, tmp_path):
    root = folder(checkins=CSV)
    places = []
    for name in ("table", "plan", "all"):
        shutil.copytree(root, tmp_path / name)
        places.append(str(tmp_path / name))
    (tmp_path / "table" / "checkins.csv").chmod(0)
    (tmp_path / "plan" / "study.toml").chmod(0)
    (tmp_path / "all").chmod(0)
    (tmp_path / "closed").mkdir(mode=0o555)
    try:
        told = subprocess.run(
            [sys.executable, "-c", CODE, str(root), *places, str(tmp_path / "closed" / "copy")],
            capture_output=True,
            text=True,
            check=True,
        ).stdout.splitlines()
    finally:
        (tmp_path / "all").chmod(0o755)
    assert len(told) == 4
    assert all("Permission denied" in line for line in told)


def test_more_people_texts_faults_and_steps_than_are_read_are_a_question(folder, monkeypatch):
    """Real bounds are in the hundred thousands; each is said in its error, and an ordinary table stays below."""
    rows = "".join(f"p{i},2024-01-{i % 28 + 1:02d},{i % 11}\n" for i in range(60))
    whole = f"person,date,pain\n{rows}"
    for name, value, content, said in (
        ("convert.MOST_PEOPLE", 50, whole, "60 different codes of people; at most 50"),
        ("convert.MOST_DIFFERENT", 20, whole, "28 different texts; at most 20"),
        ("convert.MOST_UNREAD", 9, re.sub(r",(\d+)\n", r",x\1\n", whole), "more than 9 different texts cannot be read, such as 'x9'"),
        ("sift.MOST_ASIDE", 30, re.sub(r",\d+\n", ",x\n", whole), "more than 30 rows and cells cannot be used"),
    ):  # fmt: skip
        with monkeypatch.context() as patch:
            patch.setattr(f"lagwise.caseload.{name}", value)
            refused(folder(checkins=content), said)
    assert len(read(folder(checkins=whole)).checkins) == 60
    far = "".join(f"p{i},{day},3\n" for i in range(40) for day in ("1950-01-01", "2100-12-31"))
    caseload = read(folder("[clock]\nstep_days = 1\n", checkins=f"person,date,pain\n{far}"))
    with pytest.raises(
        LagwiseError, match=r"40 people go over 2\u00a0206\u00a0\d+ steps .* 1950-01-01 to 2100-12-31"
    ):
        build_panel(caseload)
