import csv
import io
import json
import shutil
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import pandas as pd
import pytest
import writeup_inputs as made
from typer.testing import CliRunner

from lagwise.cli import app
from lagwise.core.effects import LOW_TO_HIGH
from lagwise.core.errors import WriteUpError
from lagwise.findings import Findings
from lagwise.synthetic import write as synthesise
from lagwise.writeup.collect import collect
from lagwise.writeup.csvs import cell, frame_csv
from lagwise.writeup.write import files, write_up

EVERY = {f"case-series.{kind}" for kind in ("html", "md", "docx", "pdf")} | {
    "findings.json", "effects.csv", "challenges.csv", "each-person.csv", "figures", "manifest.json",
}  # fmt: skip


@pytest.fixture(scope="module")
def findings():
    return collect(made.caseload(), made.panel(6, 12), [made.mixed()], made.challenges())


@pytest.fixture(scope="module")
def small():
    return collect(made.caseload(), made.panel(1, 6), [], None)


@pytest.fixture(scope="module")
def written(findings, tmp_path_factory):
    """Everything of the findings, in a folder of its own."""
    cell = ("checkins", 7, "pain", "=1+1", "not_a_number", "-")
    bad = pd.DataFrame([cell], columns=["table", "row", "column", "value", "code", "mend"])
    home = tmp_path_factory.mktemp("home")
    out = write_up(findings, home / "a" / "out", panel=made.panel(6, 12), quarantine=bad)
    assert list((home / "a").iterdir()) == [out]
    return out


@pytest.fixture
def mine(_small, tmp_path):
    """A copy of the write-up of one person, in the place `mine`."""
    return Path(shutil.copytree(_small, tmp_path / "mine"))


@pytest.fixture(scope="module")
def _small(small, tmp_path_factory):
    """A write-up in a folder that was there and empty."""
    out = tmp_path_factory.mktemp("empty")
    assert write_up(small, out) == out
    return out


def listing(folder):
    return {p.relative_to(folder).as_posix(): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_everything_is_written(findings, written):
    out, panel = written, made.panel(6, 12)
    assert {p.name for p in out.iterdir()} == EVERY | {"panel.csv", "quarantine.csv"}
    kinds = {p.suffix for p in (out / "figures").iterdir()}
    assert kinds == {".png", ".svg", ".csv"}
    again = pd.read_csv(out / "panel.csv")
    pd.testing.assert_series_equal(again["jump"], panel.frame["jump"], check_exact=True)
    assert pd.read_csv(out / "quarantine.csv")["value"].tolist() == ["'=1+1"]
    effects = pd.read_csv(out / "effects.csv")
    asked = effects[effects["contrast"] != LOW_TO_HIGH]
    assert asked["estimate"].tolist() == made.mixed().effects["estimate"].tolist() and len(effects) > len(
        asked
    )
    assert effects["primary"].sum() == 1
    assert pd.read_csv(out / "challenges.csv")["name"].tolist() == [c.name for c in made.challenges()]
    assert Findings.read(out / "findings.json") == findings


def test_another_process_makes_the_same_bytes_from_the_findings_alone(findings, written):
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        again = files(Findings.from_json(findings.to_json()), helper=pool)
    there = listing(written)
    assert again == {name: there[name] for name in again}
    assert there.keys() - again.keys() == {"panel.csv", "quarantine.csv", "manifest.json"}


def lagwise(*arguments):
    """Exit code and everything said, in one line."""
    done = CliRunner().invoke(app, [str(a) for a in arguments])
    return done.exit_code, " ".join(done.output.split())


def test_write_into_a_caseload_deletes_nothing(small, tmp_path):
    folder = synthesise("tiny", tmp_path / "clinic", seed=1)
    (folder / "findings.json").write_text(small.to_json())
    before = listing(tmp_path)
    code, said = lagwise("write", folder / "findings.json", "--out", folder)
    assert code == 2 and "caseload folder, which is only read" in said and "clinic-report-20" in said
    assert listing(tmp_path) == before


def test_write_beside_its_findings_works_as_long_as_all_is_its_own(mine, tmp_path):
    out = mine
    code, said = lagwise("write", out / "findings.json", "--out", out, "--spelling", "american")
    assert code == 0, said
    assert json.loads((out / "findings.json").read_text())["spelling"] == "american"
    (out / "case-series.docx").write_bytes(b"my sentences")
    before = listing(tmp_path)
    code, said = lagwise("write", out / "findings.json", "--out", out)
    assert code == 2 and "case-series.docx" in said and "mine-20" in said
    assert listing(tmp_path) == before


def test_another_folder_is_refused_and_left_alone(small, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(WriteUpError, match="not empty"):
        write_up(small, tmp_path)
    with pytest.raises(WriteUpError, match="not a folder"):
        write_up(small, tmp_path / "notes.txt")
    assert listing(tmp_path) == {"notes.txt": b"mine"}


@pytest.mark.parametrize("before", [True, False])
def test_a_failed_run_leaves_things_as_they_were(small, tmp_path, before, request):
    out = request.getfixturevalue("mine") if before else tmp_path / "mine"
    old = listing(tmp_path)

    class Broken:
        def to_netcdf(self, path, **_):
            path.write_bytes(b"half")
            raise OSError(28, "No space left on device")

    with pytest.raises(WriteUpError, match="No space left"):
        write_up(small, out, posterior=Broken())
    assert listing(tmp_path) == old
    assert sorted(p.name for p in tmp_path.iterdir()) == (["mine"] if before else [])


def test_text_that_looks_like_a_formula_is_made_harmless():
    assert [cell(v) for v in ("=cmd", "+1 a", "-x", "@sum", "\tx", " =y", "plain", -1.5, None, True)] == [
        "'=cmd", "'+1 a", "'-x", "'@sum", "'\tx", "' =y", "plain", -1.5, "", "true",
    ]  # fmt: skip
    assert [cell(v) for v in ("+50 %", "-1", "+1.5", "-1+cmd")] == ["+50 %", "-1", "+1.5", "'-1+cmd"]
    text = frame_csv(pd.DataFrame({"person": ["=A1", 'quote "q", comma'], "pain": [-0.25, None]}))
    assert list(csv.reader(io.StringIO(text))) == [
        ["person", "pain"],
        ["'=A1", "-0.25"],
        ['quote "q", comma', ""],
    ]


def test_a_folder_inside_a_file_is_an_error_in_words(small, tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    with pytest.raises(WriteUpError, match="the report cannot be written"):
        write_up(small, tmp_path / "thesis.txt" / "out")
    assert [p.name for p in tmp_path.iterdir()] == ["thesis.txt"]
    assert (tmp_path / "thesis.txt").read_text() == "mine"
