from dataclasses import replace

import writeup_inputs as made

from lagwise.document.tree import Box, Grid, Heading, walk
from lagwise.say.report.checklist import ITEMS, checklist
from lagwise.say.report.document import document
from lagwise.writeup.collect import collect
from lagwise.writeup.share import shared


def answers(findings):
    return {f"{a.source} {a.number}": a for a in checklist(findings)}


def test_every_item_is_answered_once_and_counted():
    found = made.whole()
    names = [(i.source, i.number) for i in ITEMS]
    assert len(names) == len(set(names))
    counted = sum(found.count(f"checklist_{s}") for s in ("filled", "author", "not_applicable"))
    assert counted == found.count("checklist_items") == len(ITEMS)
    [table] = [b for b in walk(document(found).blocks) if isinstance(b, Grid) and b.id == "checklist-table"]
    gaps = sum(any(s.kind == "blank" for s in row[3]) for row in table.rows)
    assert gaps == found.count("checklist_author")


def test_what_only_the_author_knows_is_never_filled():
    found = made.whole()
    left = {name for name, a in answers(found).items() if a.status == "author"}
    asked = [f"STROBE {n}" for n in ("2", "4", "6a", "13b", "20", "22")]
    assert {*asked, "Journals 1", "Single cases 3"} <= left


def test_answers_follow_the_findings():
    study = replace(made.STUDY, ethics="Reference 12, granted")
    full = collect(
        made.caseload(study),
        made.panel(12, 14, study=study),
        [made.mixed(), made.ordinal()],
        made.challenges(),
    )
    bare = collect(made.caseload(), made.panel(2, 14), [], None)
    assert answers(full)["Journals 1"].status == "filled"
    assert answers(full)["Bayesian 1"].status == "filled"
    assert answers(bare)["Bayesian 1"].status == "not_applicable"
    assert answers(full)["STROBE 16a"].status == "filled"
    assert answers(bare)["STROBE 16a"].status == "not_applicable"
    assert answers(shared(full))["Single cases 1"].status == "not_applicable"
    assert shared(full).count("checklist_not_applicable") > full.count("checklist_not_applicable")


def test_places_named_exist():
    found = made.whole()
    blocks = list(walk(document(found).blocks))
    headings = {b.text for b in blocks if isinstance(b, Heading)}
    headings |= {b.title for b in blocks if isinstance(b, Box) and b.kind in ("fold", "door")}
    for answer in checklist(found):
        if answer.status == "filled" and "(" not in answer.where:
            first = answer.where.split(";")[0].strip()
            assert {first, first.split(",")[0]} & headings, answer
