"""`lagwise plan` as it is typed."""

import pandas as pd
import pytest
from typer.testing import CliRunner

from lagwise.cli import app

run = CliRunner().invoke
QUICK = ["--caseloads", "50", "--workers", "1"]


def test_several_values_follow_one_name(tmp_path):
    line = f"plan --people 3 4 --weeks 10 14 --effect -0.5 .5 --out {tmp_path / 'out'} --seed 3".split()
    result = run(app, [*line, *QUICK])
    assert result.exit_code == 0, result.output
    table = pd.read_csv(tmp_path / "out" / "plan.csv")
    assert len(table) == 8
    assert list(table.groupby(["people", "weeks"]).groups) == [(3, 10), (3, 14), (4, 10), (4, 14)]
    assert sorted(set(table["effect"])) == [-0.5, 0.5]
    for said in ("Practically zero is 0.5 points either way", "What was assumed", "no advice", "plan.html"):
        assert said in " ".join(result.stdout.split())


def test_the_study_file_is_used_whatever_its_name_and_nothing_is_written_unless_asked(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    study = tmp_path / "my plan.toml"
    study.write_text('title = "Elbow study"\n[analysis]\nprimary_contrast = 0.2\npractically_zero = 0.3\n')
    result = run(app, ["plan", "--people", "4", "--weeks", "12", "--study", str(study), *QUICK])
    assert result.exit_code == 0, result.output
    assert "Elbow study" in result.stdout
    assert "trained 20 % above the usual load" in " ".join(result.stdout.split())
    assert "Practically zero is 0.3 points" in " ".join(result.stdout.split())
    assert list(tmp_path.iterdir()) == [study]


@pytest.mark.parametrize(
    ("extra", "said"),
    [
        (["--people", "0"], "people: 0 people cannot be simulated"),
        (["--missing-weeks", "1"], "missing_weeks: 1.0 is no legal value"),
        (["--ratings", "hourly"], "ratings: there is no such way of rating: 'hourly'"),
        (["--study", "nowhere.toml"], "nowhere.toml: there is no such folder"),
    ],
)
def test_nonsense_is_one_line_and_exit_code_2(extra, said, tmp_path):
    base = {"--people": "6", "--weeks": "12", "--caseloads": "50", "--out": str(tmp_path / "out")}
    args = [word for pair in (base | {extra[0]: extra[1]}).items() for word in pair]
    result = run(app, ["plan", *args, "--workers", "1"])
    assert result.exit_code == 2
    line = [text for text in result.stderr.splitlines() if text.startswith("lagwise: ")]
    assert len(line) == 1
    assert said in line[0]
    assert not (tmp_path / "out").exists()


def test_a_folder_of_somebody_else_is_refused_before_the_work(tmp_path):
    (tmp_path / "thesis.txt").write_text("mine")
    result = run(app, ["plan", "--people", "6", "--weeks", "12", "--out", str(tmp_path), *QUICK])
    assert result.exit_code == 2
    assert "simulating" not in result.stderr
    assert "holds no earlier plan" in result.stderr


def test_people_are_needed():
    result = run(app, ["plan", "--weeks", "12"])
    assert result.exit_code == 2
    assert "--people" in result.output


def test_a_cluster_that_is_not_there_is_one_line():
    result = run(app, ["plan", "--people", "6", "--weeks", "12", "--cluster", "carrier-pigeon://coop"])
    assert result.exit_code == 2
    assert "no data of people are sent" in result.stderr
    line = [text for text in result.stderr.splitlines() if text.startswith("lagwise: ")]
    assert line == ["lagwise: cluster: no Dask scheduler answers at carrier-pigeon://coop. Check the address, start one, or leave out the cluster."]  # fmt: skip
