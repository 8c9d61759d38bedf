"""The command line as a user meets it: what it prints, its exit codes, and that a failed run leaves nothing."""

import json
import shutil
from pathlib import Path

import pandas as pd
import pytest
from typer.testing import CliRunner

from lagwise.cli import app, terminal

pytestmark = pytest.mark.xdist_group("commands")  # of one report
run = CliRunner().invoke


@pytest.fixture(scope="module", autouse=True)
def one_core():
    """No second process, which another test has."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(terminal, "cores", lambda: 1)
        yield


@pytest.fixture
def reported(hostile: Path) -> Path:
    """A quick report, with pages for two people."""
    return hostile / "out"


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Five people of the synthetic clinic in eight weeks: enough for what reads and checks."""
    source = Path(__file__).parents[1] / "data_synthetic" / "clinic"
    made = few(Path(shutil.copytree(source, tmp_path_factory.mktemp("short") / "clinic")), 5)
    for name in ("sessions", "checkins", "events"):
        rewrite(made / f"{name}.csv", lambda t: t[t["date"] < "2024-04-29"])
    return made


@pytest.fixture(autouse=True)
def elsewhere(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The current folder, where `check` leaves its page."""
    here = tmp_path_factory.mktemp("here")
    monkeypatch.chdir(here)
    return here


@pytest.fixture
def folder(short: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(short, tmp_path / "caseload"))


def few(folder: Path, n: int) -> Path:
    """Leave n people in a caseload."""
    who = sorted(pd.read_csv(folder / "people.csv")["person"])[:n]
    for name in ("sessions", "checkins", "people", "events"):
        rewrite(folder / f"{name}.csv", lambda t: t[t["person"].isin(who)])
    return folder


def contents(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir()}


def rewrite(path: Path, change) -> None:
    change(pd.read_csv(path, dtype=str)).to_csv(path, index=False)


def refused(folder: Path, tmp_path: Path) -> str:
    """Run `report`, require a refusal in one line that leaves nothing behind, and return the line."""
    out = tmp_path / "report"
    result = run(app, ["report", str(folder), "--out", str(out), "--quick"])
    assert result.exit_code == 2, result.output
    assert not out.exists()
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".report")]
    line = [text for text in result.stderr.splitlines() if text.startswith("lagwise: ")]
    assert len(line) == 1
    assert "Traceback" not in result.output
    return line[0]


def written(folder: Path, tmp_path: Path) -> tuple[dict, str]:
    """Run `report --quick`, require success, and return the findings and the Markdown."""
    out = tmp_path / "report"
    result = run(app, ["report", str(folder), "--out", str(out), "--quick"])
    assert result.exit_code == 0, result.output
    return json.loads((out / "findings.json").read_text("utf-8")), (out / "case-series.md").read_text("utf-8")


def test_quick_report_writes_every_output(reported: Path) -> None:
    names = {p.name for p in reported.iterdir() if not p.name.startswith("person-")}
    assert names == {
        "case-series.html", "case-series.docx", "case-series.pdf", "case-series.md", "findings.json", "effects.csv",
        "challenges.csv", "each-person.csv", "panel.csv", "quarantine.csv", "figures",
        "manifest.json",
    }  # fmt: skip
    settings = json.loads((reported / "findings.json").read_text("utf-8"))["provenance"]["settings"]
    assert "challenges run on" not in settings  # said of a cluster alone
    effects = pd.read_csv(reported / "effects.csv")
    primary = effects[effects["primary"]]
    assert len(primary) == 1
    assert tuple(primary[["engine", "term", "contrast", "scale", "adjustment"]].iloc[0]) == ("rated", "jump", "+50 %", "points", "adjusted")  # fmt: skip


def test_check_is_clean_on_the_clinic_and_leaves_its_page_in_the_current_folder(
    short: Path, elsewhere: Path
) -> None:
    result = run(app, ["check", str(short)])
    assert result.exit_code == 0, result.output
    assert str(len(pd.read_csv(short / "sessions.csv"))) in result.stdout
    assert "check.html" in result.stdout
    assert [p.name for p in elsewhere.iterdir()] == ["check.html"]
    assert "What is known of whom" in (elsewhere / "check.html").read_text("utf-8")


def test_check_names_row_and_value_exits_1_and_writes_the_page_where_it_is_told(
    folder: Path, tmp_path: Path, elsewhere: Path
) -> None:
    rewrite(folder / "checkins.csv", lambda t: t.assign(pain=t["pain"].where(t.index != 4, "37")))
    result = run(app, ["check", str(folder), "--html", str(tmp_path / "page.html")])
    assert result.exit_code == 1
    assert all(said in result.stdout for said in ("row 6", "'37'", "page.html"))
    assert "37" in (tmp_path / "page.html").read_text("utf-8")
    assert not list(elsewhere.iterdir())


def test_check_breaks_no_word() -> None:
    folder = Path(__file__).parents[1] / "data_synthetic" / "messy" / "first_export"
    said = run(app, ["check", str(folder)], env={"COLUMNS": "80"}).output
    whole = "repairs rows sessions.csv pounds_in_cell '31.02.2024' 'vielleicht' [tables.checkins]."
    assert set(whole.split()) <= set(said.split()), said
    assert max(map(len, said.splitlines()[:-1])) <= 80


def test_deidentify_takes_its_options_and_refuses_an_unknown_column(folder: Path, tmp_path: Path) -> None:
    taken = ["--coarser-loads", "--rounded-ratings", "--weekly-sums"]
    drop = ["--drop", "worry", "--drop", "effort"]
    result = run(app, ["deidentify", str(folder), "--out", str(tmp_path / "coded"), *taken, *drop])
    assert result.exit_code == 0, result.output
    assert {p.name for p in (tmp_path / "coded").glob("*.csv")} == {"weeks.csv", "people.csv"}
    weeks = pd.read_csv(tmp_path / "coded" / "weeks.csv")
    assert not {"worry", "effort"} & {*weeks} and "stress" in weeks
    assert set(weeks["pain"].dropna() % 2) == {0}
    assert result.stdout.count("Somebody knows") == 3
    assert "risk.html" in result.stdout
    assert not [option for option in taken if option in result.stdout]
    result = run(app, ["deidentify", str(folder), "--out", str(tmp_path / "none"), "--drop", "minuts"])
    assert result.exit_code == 2
    assert "Did you mean 'minutes'?" in " ".join(result.output.split())
    assert not (tmp_path / "none").exists()


def test_check_never_writes_into_the_caseload(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = contents(folder)
    monkeypatch.chdir(folder)
    result = run(app, ["check", "."])
    assert result.exit_code == 0
    assert "check.html was not written: this is inside the caseload folder" in result.stdout
    asked = run(app, ["check", ".", "--html", "sub/../page.html"])
    assert asked.exit_code == 2
    assert "inside the caseload folder" in asked.stderr
    assert contents(folder) == before


def test_check_says_when_there_is_no_such_place(short: Path) -> None:
    result = run(app, ["check", str(short), "--html", "nowhere/page.html"])
    assert result.exit_code == 2
    assert "there is no such folder" in result.stderr


def test_a_version_to_share_has_no_page_of_one_person(short: Path) -> None:
    result = run(app, ["report", str(short), "--out", "out", "--share", "--for-person", "P01"])
    assert result.exit_code == 2
    assert result.stderr.startswith("lagwise: --for-person together with --share")


def test_nothing_to_go_by_is_named(folder: Path, tmp_path: Path) -> None:
    rewrite(folder / "checkins.csv", lambda t: t.assign(date="the other day"))
    assert "checkins" in refused(folder, tmp_path)
    (folder / "study.toml").unlink()
    assert "study.toml" in refused(folder, tmp_path)


def test_one_person_is_described_in_place_of_a_report_and_nothing_is_estimated(reported: Path, folder: Path, tmp_path: Path) -> None:  # fmt: skip
    shutil.copytree(reported, tmp_path / "report")
    few(folder, 1)
    findings, text = written(folder, tmp_path)
    assert findings["gate"]["name"] == "describe"
    assert pd.read_csv(tmp_path / "report" / "effects.csv").empty
    assert "1 person" in text


def test_start_gives_a_folder_whose_plan_is_the_default(tmp_path: Path) -> None:
    from lagwise.caseload import load_study
    from lagwise.core.study import Study

    assert run(app, ["start", str(tmp_path / "mine")]).exit_code == 0
    study = load_study(tmp_path / "mine")
    assert study.plan() == Study(title=study.title).plan()
    assert run(app, ["start", str(tmp_path / "mine")]).exit_code == 2


def test_synthesise_writes_the_same_bytes_and_lists_kinds(tmp_path: Path) -> None:
    for name in ("a", "b"):
        assert run(app, ["synthesise", "tiny", "--out", str(tmp_path / name), "--seed", "4"]).exit_code == 0
    first, second = ({p.name: p.read_bytes() for p in (tmp_path / n).iterdir()} for n in ("a", "b"))
    assert first == second
    assert "truth.json" in first
    result = run(app, ["synthesise", "gym", "--out", str(tmp_path / "c")])
    assert result.exit_code == 2
    assert "no_effect" in result.stderr


def test_debug_shows_the_traceback(tmp_path: Path) -> None:
    result = run(app, ["check", str(tmp_path / "nowhere"), "--debug"])
    assert result.exit_code == 2
    assert "Traceback" in result.stderr and "CaseloadError" in result.stderr


def test_a_cluster_is_told_as_leaving_the_machine_and_must_answer(short: Path, tmp_path: Path) -> None:
    result = run(app, ["report", str(short), "--out", str(tmp_path / "out"), "--quick", "--cluster", "carrier-pigeon://coop"])  # fmt: skip
    assert result.exit_code == 2
    assert "data leave this machine" in result.stderr
    assert "which are personal data, go to carrier-pigeon://coop" in result.stderr
    assert next(t for t in result.stderr.splitlines() if t.startswith("lagwise: ")).startswith("lagwise: cluster: no Dask scheduler answers")  # fmt: skip
    assert "reading the caseload" not in result.stderr
    assert not (tmp_path / "out").exists()


def test_compare_says_what_changed_and_leaves_its_page_beside_the_later_report(
    reported: Path, tmp_path: Path
) -> None:
    new, old = (Path(shutil.copytree(reported, tmp_path / name)) for name in ("new", "old"))
    before = json.loads((old / "findings.json").read_text("utf-8"))
    before["provenance"]["made_on"] = "2024-05-01"
    (old / "findings.json").write_text(json.dumps(before), "utf-8")
    for _ in range(2):  # its own folder is replaced
        result = run(app, ["compare", str(new), str(old / "findings.json")])
        assert result.exit_code == 0, result.output
    assert "No person-week came in since the report of 2024-05-01." in " ".join(result.output.split())
    page = tmp_path / "new-since-old"
    assert {p.name for p in page.iterdir()} == {
        "compare.html",
        "compare.md",
        "compare.json",
        "figures",
        "manifest.json",
    }
    assert "It hardly moved." in (page / "compare.md").read_text("utf-8")
    assert run(app, ["compare", str(new), str(old), "-o", str(new)]).exit_code == 2


@pytest.mark.parametrize("args", [["compare", "{}", "{}"], ["report", "{}", "--out", "out", "--since", "{}"]])
def test_what_is_no_report_is_said_in_one_line_before_anything_is_done(
    short: Path, tmp_path: Path, args
) -> None:
    result = run(app, [a.format(short) for a in args])
    assert result.exit_code == 2
    assert [t for t in result.stderr.splitlines() if t.startswith("lagwise: ")] == result.stderr.splitlines()
    assert "no findings.json here" in result.stderr
    assert not Path("out").exists()
