"""Reports of records that nothing can be asked of: what is there, and what is missing for a question."""

import re

import pytest
from small_records import LACKING, folder, tables

import lagwise as lw
from lagwise.core.errors import ModelError, PanelError
from lagwise.document.markdown import render_md
from lagwise.findings import Findings
from lagwise.pages.report import report
from lagwise.say.report.checklist import checklist
from lagwise.say.report.document import document, on_sheets
from lagwise.writeup.share import shared

KINDS = ("load_only", "pain_only", "three_weeks", "one_person", "few_people")
PLAN = lw.Study("Rows and elbows")
DOCUMENTS = ("html", "md", "pdf", "docx")


def findings(kind: str) -> Findings:
    caseload = lw.from_frames(**tables(**LACKING[kind]), plan=PLAN)
    return lw.collect(caseload, lw.build_panel(caseload), [], None)


@pytest.mark.parametrize("kind", KINDS)
def test_a_description_holds_no_result_nor_an_empty_part(kind):
    """No section, table or checklist item speaks of an estimate, and none is empty; a version to share neither."""
    made = findings(kind)
    assert made.described and Findings.from_json(made.to_json()) == made
    for one in (made, shared(made)) if made.count("people") >= 5 else (made,):
        text = render_md(on_sheets(document(one))).replace("\n## Appendix\n", "")
        assert not re.search(
            r"## (What came before|What we tried|Models)|\bNone\b(?! of)|\bnan\b|nothing to try", text
        )
        assert not re.search(r"\n#+ [^\n]*\n+(?=#+ |\Z)", text)
        filled = {a.where for a in checklist(one) if a.status == "filled"}
        assert not any("came before" in where or "Models" in where or "break it" in where for where in filled)
    rated = "no rating of pain was recorded" in {a.where for a in checklist(made)}
    assert rated is (kind == "load_only")


def test_load_alone_is_reported_from_a_folder(tmp_path):
    """Sessions and nothing else: every document is written, and the first lines name the column that is missing."""
    out = tmp_path / "out"
    made = report(folder(tmp_path / "log", "load_only"), out, quick=True).findings
    assert all((out / f"case-series.{kind}").stat().st_size for kind in DOCUMENTS)
    assert Findings.read(out / "findings.json") == made
    assert {p.stem for p in (out / "figures").glob("*.png")} >= {"coverage", "trajectories", "distributions"}
    opening = (out / "case-series.md").read_text(encoding="utf-8").split("## Who and what")[0]
    assert "No rating of pain was recorded." in opening and "(column pain of checkins)" in opening


def test_a_record_of_nothing_stops(tmp_path):
    """Sessions of which nothing can be used have nothing to describe."""
    made = folder(tmp_path / "log", "load_only")
    (made / "sessions.csv").write_text("person,date,exercise\nk01,2025-09-01,row\n", encoding="utf-8")
    with pytest.raises(PanelError, match="no step has a rating, a load or a training state"):
        report(made, tmp_path / "out", quick=True)


def test_models_name_the_rating_that_was_never_recorded():
    panel = lw.build_panel(lw.from_frames(**tables(**LACKING["load_only"]), plan=PLAN))
    with pytest.raises(
        ModelError, match=r"no rating of pain was recorded\. Record it in the column pain of checkins"
    ):
        lw.fit_mixed(panel)
