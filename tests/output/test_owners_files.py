"""Nothing of the owner's is replaced or removed, by any command, and the way on is named."""

import hashlib
import json
import os
import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lagwise.cli import app, terminal
from lagwise.core.errors import CaseloadError, WriteUpError
from lagwise.output import check_folder, whole_file, whole_folder
from lagwise.output import whole as module
from lagwise.output.manifest import NAME, held

TODAY = f"{date.today():%Y-%m-%d}"


def listing(folder: Path) -> dict[str, bytes]:
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def put(out: Path, text: str = "one", kind: str = "report") -> Path:
    with whole_folder(check_folder(out, kind=kind), "the report", kind=kind) as work:
        (work / "figures").mkdir()
        (work / "a.docx").write_text(text)
        (work / "figures" / "b.png").write_text("picture")
    return out


def lagwise(*arguments: object):
    """Exit code and everything said, in one line."""
    done = CliRunner().invoke(app, [str(a) for a in arguments])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, " ".join(done.output.split())


@pytest.fixture(autouse=True)
def one_core(monkeypatch):
    """No second process, which another test has."""
    monkeypatch.setattr(terminal, "cores", lambda: 1)


@pytest.fixture
def caseload(tmp_path) -> Path:
    folder = tmp_path / "clinic"
    folder.mkdir()
    (folder / "study.toml").write_text('title = "Elbow pain in lifters"\n')
    (folder / "checkins.csv").write_text(
        "person,date,pain\na1,2024-01-07,3\na1,2024-01-14,4\na2,2024-01-07,0\n"
    )
    return folder


def test_the_manifest_lists_every_file_with_its_hash(tmp_path):
    out = put(tmp_path / "out")
    values = json.loads((out / NAME).read_text())
    assert values["files"] == {
        name: hashlib.sha256(content).hexdigest() for name, content in listing(out).items() if name != NAME
    }
    assert set(values["files"]) == {"a.docx", "figures/b.png"}
    assert held(out).own and not held(out).litter


def test_own_files_are_replaced_and_a_file_that_was_removed_is_no_matter(tmp_path):
    out = put(tmp_path / "out")
    (out / "figures" / "b.png").unlink()
    put(out, "two")
    assert (out / "a.docx").read_text() == "two"
    assert [p.name for p in tmp_path.iterdir()] == ["out"]


def noted(out: Path) -> None:
    (out / "note.txt").write_text("mine")


def linked(out: Path, name: str, target: str) -> None:
    shutil.rmtree(out / name) if (out / name).is_dir() else (out / name).unlink()
    (out / name).symlink_to(target)


def copied(out: Path) -> None:
    (out / ".ipynb_checkpoints").mkdir()
    (out / ".ipynb_checkpoints" / "a-checkpoint.docx").write_text("tried something")


DOCTORED = '{"schema_name": "lagwise-manifest", "kind": "report", "files": [1]}'


@pytest.mark.parametrize(
    ("name", "change"),
    [
        ("a.docx", lambda out: (out / "a.docx").write_text("my words")),
        ("note.txt", noted),
        ("figures/note.txt", lambda out: (out / "figures" / "note.txt").write_text("mine")),
        ("old versions/", lambda out: (out / "old versions").mkdir()),
        ("a.docx", lambda out: linked(out, "a.docx", "/etc/hostname")),
        ("figures/", lambda out: linked(out, "figures", "/etc")),
        ("~$notes.docx", lambda out: (out / "~$notes.docx").write_bytes(b"x" * 10_000)),
        (".ipynb_checkpoints/a-checkpoint.docx", copied),
        ("manifest.json", lambda out: (out / NAME).unlink()),
        ("manifest.json", lambda out: (out / NAME).write_text(DOCTORED)),
    ],
)
def test_anything_else_stops_and_is_named(tmp_path, name, change):
    out = put(tmp_path / "my-report")
    change(out)
    before = listing(tmp_path)
    with pytest.raises(WriteUpError) as stopped:
        check_folder(out, kind="report")
    assert name in str(stopped.value)
    assert f"{out}-{TODAY}" in stopped.value.mend
    with pytest.raises(WriteUpError), whole_folder(out.resolve(), "the report", kind="report") as work:
        (work / "a.docx").write_text("new")
    shutil.rmtree(f"{out}-{TODAY}")  # changed during the run: what was made is kept there
    assert listing(tmp_path) == before


def test_a_free_dated_name_is_offered(tmp_path):
    out = put(tmp_path / "my-report")
    noted(out)
    for name in (f"my-report-{TODAY}", f"my-report-{TODAY}-2"):
        with pytest.raises(WriteUpError, match=re.escape(name) + ","):
            check_folder(out, kind="report")
        (tmp_path / name).touch()
    dated = put(tmp_path / "other-2024-02-29")
    noted(dated)
    with pytest.raises(WriteUpError, match=f"other-{TODAY},"):
        check_folder(dated, kind="report")


def test_another_kind_of_folder_is_not_replaced(tmp_path):
    out = put(tmp_path / "out", kind="plan")
    with pytest.raises(WriteUpError, match="holds a plan, not a report"):
        check_folder(out, kind="report")
    with pytest.raises(CaseloadError, match="not empty"):
        check_folder(out, what="caseload", error=CaseloadError)


@pytest.mark.parametrize(
    "name", [".DS_Store", "Thumbs.db", "desktop.ini", ".~lock.a.docx#", "~$a.docx", "._a.docx"]
)
def test_what_a_desktop_leaves_stops_nothing_but_is_named_beside_something_else(tmp_path, name):
    out = put(tmp_path / "out")
    (out / name).write_bytes(b"x")
    put(out, "two")
    assert (out / "a.docx").read_text() == "two"
    (out / name).write_bytes(b"x")
    noted(out)
    with pytest.raises(WriteUpError, match=rf"note\.txt; and left by other programs: {re.escape(name)}"):
        check_folder(out, kind="report")


def test_a_notebook_that_was_only_opened_is_no_matter(tmp_path):
    out = put(tmp_path / "out")
    (out / ".ipynb_checkpoints").mkdir()
    shutil.copy(out / "a.docx", out / ".ipynb_checkpoints" / "a-checkpoint.docx")
    assert held(out).own


def test_a_change_in_the_last_moment_is_kept(tmp_path, monkeypatch):
    """Between the last look and the exchange somebody saves a note: it stays, and the new report is not lost."""
    out = put(tmp_path / "out")
    exchange = module._exchange

    def noting(work, target):
        noted(target)
        return exchange(work, target)

    for way in (
        noting,
        lambda work, target: noted(target) == "",
    ):  # with the system's exchange, and in two steps
        monkeypatch.setattr(module, "_exchange", way)
        with pytest.raises(WriteUpError, match=r"note\.txt") as stopped:
            put(out, "two")
        assert (out / "note.txt").read_text() == "mine" and (out / "a.docx").read_text() == "one"
        new = Path(stopped.value.mend.removeprefix("What was made is in ").rstrip("."))
        assert (new / "a.docx").read_text() == "two"
        (out / "note.txt").unlink()


COMMANDS = {
    "report": lambda folder, out: ("report", folder, "--quick", "--out", out),
    "demo": lambda folder, out: ("demo", "--quick", "--out", out),
    "plan": lambda folder, out: ("plan", "--people", 10, "--weeks", 10, "--out", out),
    "notebooks": lambda folder, out: ("notebooks", folder, "--out", out),
    "deidentify": lambda folder, out: ("deidentify", folder, "--out", out),
    "synthesise": lambda folder, out: ("synthesise", "clinic", "--out", out),
    "start": lambda folder, out: ("start", out),
    "check": lambda folder, out: ("check", folder, "--html", out.with_suffix(".html")),
    "mapping": lambda folder, out: ("deidentify", folder, "--out", folder.parent / "copy", "--mapping", out),
}


@pytest.mark.parametrize("command", COMMANDS)
def test_no_command_writes_into_a_caseload(caseload, tmp_path, command):
    other = tmp_path / "other"
    other.mkdir()
    (other / "Sessions.XLSX").touch()
    (tmp_path / "link").symlink_to(caseload)
    before = listing(tmp_path)
    for out in (caseload / "a", caseload / "a" / "b", tmp_path / "link" / "a", other / "a"):
        code, said = lagwise(*COMMANDS[command](caseload, out))
        assert code == 2 and "caseload folder" in said and TODAY in said.replace(" ", ""), said
        assert listing(tmp_path) == before and not out.exists() and not (tmp_path / "copy").exists()


@pytest.mark.parametrize("command", [c for c in COMMANDS if c not in ("check", "mapping")])
def test_no_command_sweeps_away_what_is_in_its_folder(caseload, tmp_path, command):
    """A caseload inside the folder to write, and a file of the owner's beside what an earlier version wrote."""
    for place in (tmp_path, tmp_path / "old"):
        place.mkdir(exist_ok=True)
        (place / "findings.json").write_text('{"schema_name": "lagwise-findings"}')
        before = listing(tmp_path)
        code, said = lagwise(*COMMANDS[command](caseload, place))
        assert code == 2 and "not empty" in said and TODAY in said.replace(" ", ""), said
        assert listing(tmp_path) == before


def test_a_caseload_inside_a_report_folder_stops_it(caseload, tmp_path):
    out = put(tmp_path / "out")
    caseload.rename(out / "figures" / "clinic")
    with pytest.raises(WriteUpError, match="not written by lagwise: figures/clinic/"):
        check_folder(out, kind="report")


def test_check_replaces_its_own_page_only(caseload, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = tmp_path / "check.html"
    for _ in range(2):
        assert "Written" in lagwise("check", caseload, "--html", page)[1]
    made_page = page.read_bytes()
    for other, why in (
        (b"<p>mine</p>", "another file called check.html"),
        (b"", "another file called check.html"),
        (made_page.replace(b"</body>", b"<p>my note</p></body>"), "changed after it was written"),
        (re.sub(rb'<meta name="lagwise-sha256".*\n', b"", made_page), "from an earlier version"),
    ):
        assert other != made_page
        page.write_bytes(other)
        code, said = lagwise("check", caseload, "--html", "check.html")
        assert code == 2 and why in said and f"check-{TODAY}.html" in said and "rows" not in said
        code, said = lagwise("check", caseload)
        assert code != 2 and why in said and f"check-{TODAY}.html" in said
        assert page.read_bytes() == other


def test_a_mapping_never_replaces_a_file(caseload, tmp_path):
    keep = tmp_path / "mapping.csv"
    keep.write_text("mine")
    code, said = lagwise("deidentify", caseload, "--out", tmp_path / "copy", "--mapping", keep)
    assert code == 2 and "exists already" in said and f"mapping-{TODAY}.csv" in said
    assert keep.read_text() == "mine" and not (tmp_path / "copy").exists()
    with pytest.raises(WriteUpError, match="File exists"), whole_file(keep, "the mapping") as file:
        file.write_text("new")
    assert keep.read_text() == "mine"


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o077])
def test_private_output_is_for_its_owner_alone_whatever_the_umask(tmp_path, umask):
    before = os.umask(umask)
    try:
        put(tmp_path / "private")
        with whole_folder(tmp_path / "shared", "the report", private=False) as work:
            (work / "sub").mkdir()
            (work / "sub" / "a").touch()
        with whole_file(tmp_path / "page", "the page") as file:
            file.write_text("x")
    finally:
        os.umask(before)
    modes = {p.relative_to(tmp_path).as_posix(): p.stat().st_mode & 0o777 for p in tmp_path.rglob("*")}
    assert {m for n, m in modes.items() if n.startswith("private") and "." not in n} == {0o700}
    assert {m for n, m in modes.items() if n.startswith("private/") and "." in n} == {0o600} and modes[
        "page"
    ] == 0o600
    assert (
        modes["shared"] == modes["shared/sub"] == 0o777 & ~umask and modes["shared/sub/a"] == 0o666 & ~umask
    )
