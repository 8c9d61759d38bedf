"""What a terminal is sent, and what happens when nobody reads it or it is full or closed."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

from lagwise.cli import app
from lagwise.core.errors import LagwiseError

STEERING = "\x1b[31m\x1b]0;title\x07\x9b2J\u202e\u2066\u200f\x08\r\x7f"
CSV = f'person,date,pain\n"a{STEERING}",2024-01-07,3\n"a{STEERING}",2024-01-14,4\nb,2024-01-07,{STEERING}x\n'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    root = tmp_path / "case"
    root.mkdir()
    escaped = STEERING.encode("unicode_escape").decode().replace("\\x", "\\u00")
    (root / "study.toml").write_text(f'title = "Elbows {escaped}"\n')
    (root / "checkins.csv").write_text(
        CSV.replace("pain\n", f'pain,"extra{STEERING}"\n'), encoding="utf-8", newline=""
    )
    (root / f"b{STEERING}.csv".replace("/", "")).touch()
    return root


def test_nothing_that_steers_reaches_a_terminal(folder, tmp_path):
    strange = tmp_path / f"no{STEERING}where"
    commands = (
        ["check", str(folder), "--html", str(tmp_path / "check.html")], ["check", str(strange)],
        ["check", str(strange), "--debug"], ["check", str(folder), "--html", str(strange / "x.html")],
        ["write", str(strange), "--out", str(tmp_path / "o")], ["start", str(tmp_path / f"new{STEERING}")],
        ["wording", str(strange)],
    )  # fmt: skip
    for command in commands:
        result = CliRunner().invoke(app, command)
        assert result.exit_code in (0, 1, 2), (command, result.output)
        assert result.output
        assert not set(STEERING) - set("[31m]0;title2J") & set(result.output), (command, result.output)
    page = (tmp_path / "check.html").read_text("utf-8")
    assert not set("\x1b\x9b\x07\u202e") & set(page)


def test_an_error_is_one_line_that_steers_nothing():
    said = str(LagwiseError(f"x{STEERING}", where="a\nb", mend="\u2028c"))
    assert said.isprintable()


def lagwise(
    arguments: list[str], streams: str, at: Path, code: str = "app()"
) -> subprocess.CompletedProcess[str]:
    """Of the command in a process whose output is buffered, as in a terminal of anybody."""
    command = [
        "bash",
        "-c",
        f'"$@" {streams}',
        "bash",
        sys.executable,
        "-c",
        f"from lagwise.cli import app; {code}",
    ]
    own = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    done = subprocess.run(
        [*command, *arguments], capture_output=True, text=True, check=False, cwd=at, env=own
    )
    assert "Traceback" not in done.stderr and "Exception ignored" not in done.stderr, done.stderr
    return done


def test_closed_streams_spoil_no_file(tmp_path):
    """What libraries write to the place of a closed stream does not end up in the next file that is opened."""
    writes = "import os, sys; page = open('page', 'w'); os.write(1, b'spoilt'); sys.stdout.flush()"
    done = lagwise(["start", "new"], ">&- <&-", tmp_path, f"app(standalone_mode=False); {writes}")
    assert done.returncode == 0 and (tmp_path / "page").read_text() == "", done.stderr


def test_full_and_unread_streams_end_in_no_traceback(tmp_path):
    (tmp_path / "draft.md").write_text("This proves that load causes pain.\n" * 40)
    lagwise(["wording", "draft.md"], "| head -c 1", tmp_path)
    for asked in (["start", "new"], ["--version"], ["check", "--help"], []):
        done = lagwise(asked, ">/dev/full", tmp_path)
        assert (done.returncode, done.stderr) == (
            2,
            "lagwise: standard output: No space left on device.\n",
        )
