"""Several values after one option."""

import pytest
import typer
from typer.testing import CliRunner

from lagwise.cli import app
from lagwise.cli.options import spread

SEVERAL = ("--people", "--effect")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("--people 20 40", "--people 20 --people 40"),
        ("--people 20 --out x --effect 0 0.5", "--people 20 --out x --effect 0 --effect 0.5"),
        ("--effect -0.5 -.2 0", "--effect -0.5 --effect -.2 --effect 0"),
        ("--people=20 40 --seed 3", "--people=20 --people 40 --seed 3"),
        ("--people --out x", "--people --out x"),
        ("--out x --people", "--out x --people"),
        ("--seed 3", "--seed 3"),
        ("", ""),
    ],
)
def test_every_value_gets_its_option(typed, read):
    assert spread(typed.split(), SEVERAL) == read.split()


def test_help_names_what_an_option_takes():
    for name in typer.main.get_command(app).commands:
        text = CliRunner().invoke(app, [name, "--help"], env={"COLUMNS": "100"}).output
        assert "list[" not in text, name
