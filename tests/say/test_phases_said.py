"""One person's phases and several people's in one unit: the public results, their words, and the page."""

from __future__ import annotations

import doctest
from pathlib import Path

import golden
import pandas as pd
import pytest
import small_records

import lagwise as lw
from lagwise.document.markdown import render_md
from lagwise.findings import Findings
from lagwise.findings.codes import with_pages
from lagwise.say.report.person import course, grade, page
from lagwise.writeup.render_person import person_files
from lagwise.writeup.share import shared

GOLDEN = Path(__file__).parent / "golden" / "phases.md"
EVENTS = (
    ("k01", "2025-10-20", "education", None, "planned"),
    ("k01", "2025-12-15", "illness", "2025-12-21", ""),
    ("k02", "2025-11-03", "education", None, "pain"),
    ("k03", "2025-12-01", "education", None, ""),
    ("k04", "2025-09-09", "education", None, ""),
    ("k05", "2024-09-09", "technique_change", None, ""),
)


def caseload_of(events=EVENTS, people=6):
    made = small_records.tables(people=people, weeks=20)
    table = pd.DataFrame(list(events), columns=["person", "date", "kind", "until", "because"])
    study = lw.Study("Six people", consent_single_person_plots=True)
    return lw.from_frames(**made, events=table, plan=study)


@pytest.fixture(scope="module")
def caseload():
    return caseload_of()


@pytest.fixture(scope="module")
def panel(caseload):
    return lw.build_panel(caseload)


@pytest.fixture(scope="module")
def findings(caseload, panel):
    return lw.collect(caseload, panel, [], None)


def told(found):
    return "\n\n".join([f"## {repr(found).splitlines()[0]}", *found.sentences])


def test_what_is_said_is_as_kept(panel, findings):
    """Of one person's changes, of several people's in one unit, and on the person's page."""
    every = [lw.phases(panel, person) for person in ("k01", "k04", "k05")] + [
        lw.design_comparable(panel, "education")
    ]
    pages = {
        code: render_md(page(with_pages(findings, [code]), code)) for code in ("k01", "k04", "k05", "k06")
    }
    parts = [text.partition("## What changed")[2].partition("\n## ")[0] for text in pages.values()]
    assert [bool(part) for part in parts] == [True, True, False, False]
    marks = [line for line in pages["k01"].splitlines() if "What changed:" in line]
    kept = [*map(told, every), *parts[:2], *marks, course(findings, "k01").alt]
    golden.kept(GOLDEN, "\n\n".join(text.strip() for text in kept) + "\n")
    assert all(len(line.split()) <= 30 for found in every for line in found.sentences)
    assert lw.picture(every[0].figure).png and "education before week" in every[0].figure.alt
    assert all("personal data" in found._repr_html_() for found in every[:3])
    assert "units of the spread" in every[3]._repr_html_()
    assert findings == Findings.from_json(findings.to_json())


def test_one_kind_and_another_rating_may_be_asked_about(panel):
    found = lw.phases(panel, "k01", "education", outcome="stress")
    assert found.table["kind"].tolist() == ["education"] and len(found.phases) == 2
    own = panel.frame[panel.frame["person"].eq("k01")].set_index("step")["stress"]
    start = int(found.table["start"].iloc[0])
    assert found.phases["mean"].tolist() == pytest.approx(
        [own.loc[: start - 1].mean(), own.loc[start:].mean()]
    )
    assert len(found.figure.options["cuts"]) == 1


@pytest.mark.parametrize(
    ("person", "more", "says"),
    [
        ("k1", {}, "nobody in this caseload has the code 'k1'.*Codes like it"),
        ("k06", {}, "no event with a date is in the record of 'k06'"),
        ("k01", {"kind": "break"}, "no event 'break' with a date.*Recorded are: education, illness"),
        ("k01", {"outcome": "load"}, "'load' is not a rating of this study"),
    ],
)
def test_wrong_questions_say_what_would_mend_them(panel, person, more, says):
    with pytest.raises(lw.LagwiseError, match=says):
        lw.phases(panel, person, **more)


def test_a_caseload_without_events_says_so():
    none = lw.build_panel(caseload_of(events=()))
    with pytest.raises(lw.LagwiseError, match="no event with a date"):
        lw.phases(none, "k01")
    with pytest.raises(lw.LagwiseError, match="The caseload has no events"):
        lw.design_comparable(none, "education")


def test_several_people_are_compared_in_units_of_their_spread(panel):
    from lagwise.events import several

    found = lw.design_comparable(panel, "education")
    frame = panel.frame[panel.frame["person"].isin(["k01", "k02", "k03"])]
    starts = found.people.set_index("person")["start"]
    after = frame["step"] >= frame["person"].astype(str).map(starts)
    own = frame[["person", "step"]].assign(value=frame["pain"], changed=after.astype(int))
    assert found.table["g"].iloc[0] == pytest.approx(several.design_comparable(own).g)
    assert found.table["n_people"].iloc[0] == 3 and len(found.people) == 4


def test_fewer_than_three_people_are_too_few(panel):
    with pytest.raises(lw.LagwiseError, match=r"0 people have 3 weeks .* 3 people are needed"):
        lw.design_comparable(panel, "illness")
    with pytest.raises(lw.LagwiseError, match="no event 'sauna' with a date"):
        lw.design_comparable(panel, "sauna")


def test_what_lasts_is_after_until_it_ends(caseload):
    lasting = tuple(
        (p, d, "break", "2025-11-30", "")
        for p, d in (("k01", "2025-10-20"), ("k02", "2025-11-03"), ("k03", "2025-10-27"))
    )
    found = lw.design_comparable(lw.build_panel(caseload_of(events=lasting)), "break")
    assert found.people["n_after"].tolist() == [6, 4, 5]


def test_the_page_sets_each_change_beside_the_part_before(findings):
    files = person_files(with_pages(findings, ["k01"]))
    assert "narrow" in files["person-k01.html"].decode().partition("<figure")[2]
    assert "rho" in files["figures/person-k01-changes.csv"].decode()
    assert grade(page(with_pages(findings, ["k01"]), "k01")) <= 8
    drawn = course(findings, "k01").options
    assert [number for _, number in drawn["cuts"]] == ["1", "2"] and len(drawn["means"]) == 3


def test_a_version_to_share_holds_no_persons_events(findings):
    assert any(p.events for p in findings.people)
    assert not any(p.events for p in shared(findings).people)


@pytest.mark.parametrize("name", ["phases", "design_comparable"])
def test_the_examples_run(name):
    panel = lw.build_panel(lw.read("data_synthetic/changes"))
    found = doctest.DocTestFinder().find(getattr(lw, name), name, globs={"lw": lw, "panel": panel})
    assert doctest.DocTestRunner().run(found[0]).failed == 0


def test_nothing_of_the_callers_is_changed(panel):
    before = panel.frame.copy(), panel.events.copy()
    lw.phases(panel, "k01"), lw.design_comparable(panel, "education")
    pd.testing.assert_frame_equal(panel.frame, before[0])
    pd.testing.assert_frame_equal(panel.events, before[1])
