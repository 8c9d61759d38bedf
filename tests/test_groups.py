"""Tests of one xdist_group, or of one file, run on one worker."""

import os
import subprocess
import sys
from pathlib import Path

GROUPED = """
import pytest

@pytest.mark.xdist_group("one")
def test_named(request):
    assert request.node.nodeid.endswith("@one")

def test_of_a_file(request):
    assert request.node.nodeid.endswith("@test_grouped")
"""


def test_the_scheduler_reads_groups_from_the_names_of_tests(tmp_path):
    """Where pytest and xdist do not fit each other it silently reads none: fixtures are made twice, and two samplers run at once."""
    (tmp_path / "test_grouped.py").write_text(GROUPED)
    (tmp_path / "conftest.py").write_text((Path(__file__).parent / "conftest.py").read_text("utf-8"), "utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "xdist", "-p", "no:cacheprovider", "-n", "1", "--dist", "loadgroup", "--rootdir", str(tmp_path), str(tmp_path)]  # fmt: skip
    found = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path, env={**os.environ, "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1"})  # fmt: skip
    assert found.returncode == 0, found.stdout
