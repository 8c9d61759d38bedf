import re
import runpy
import tomllib
from pathlib import Path

from lagwise.caseload.study_file import study_from

made = runpy.run_path(str(Path(__file__).parents[2] / "docs" / "dictionary.py"))
PAGE = Path(__file__).parents[2] / "docs" / "data-format.md"


def test_making_the_page_anew_changes_nothing():
    page = PAGE.read_text(encoding="utf-8")
    assert made["with_dictionary"](page) == page


def test_the_examples_on_the_page_are_legal_plans():
    blocks = re.findall(r"```toml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert len(blocks) == 6
    for block in blocks:
        assert study_from({"title": "x", **tomllib.loads(block)})


def test_every_quarantine_reason_in_the_code_is_on_the_page():
    source = "".join(
        p.read_text(encoding="utf-8")
        for p in (Path(__file__).parents[2] / "src/lagwise/caseload").glob("*.py")
    )
    codes = set(re.findall(r'code="(\w+)"', source)) | {
        "too_many_cells", "duplicate_row", "person_twice", "sets_and_reps_differ", "missing_person", "missing_week",
    }  # fmt: skip
    page = PAGE.read_text(encoding="utf-8")
    assert len(codes) > 10
    assert {code for code in codes if f"`{code}`" not in page} == set()
