"""Names that are asked about: initials as codes, one exercise in several spellings, scores."""

from __future__ import annotations

import pytest

from lagwise.caseload import check, read
from lagwise.caseload.check_edits import edits_of


def found(root):
    return check(read(root)).set_index("code")


def logged(codes=("a1", "b2", "c3"), exercises=("row",)):
    rows = [
        f"{code},2024-01-0{day},{exercises[day % len(exercises)]},3" for code in codes for day in range(1, 9)
    ]
    return "person,date,exercise,sets\n" + "\n".join(rows) + "\n"


@pytest.mark.parametrize(
    ("codes", "asked"),
    [(("MK", "tr", "J.D."), True), (("MK", "P01", "TR", "P02", "P03"), False), (("PA", "PB", "PC"), False), (("a1", "b2", "c3"), False)],
)  # fmt: skip
def test_codes_that_look_like_initials_are_asked_about(folder, codes, asked):
    assert ("initials" in found(folder(sessions=logged(codes))).index) == asked


@pytest.mark.parametrize(
    ("exercises", "names"),
    [
        (("Pull-up", "Pullup", "pull ups", "Row"), {"pullup": ["pull-up", "pull ups"]}),
        (("Bench press",) * 7 + ("Pench press",), {}),
        (("Split squat",) * 7 + ("Split squut",), {"split squat": ["split squut"]}),
        (("Hip adduction",) * 7 + ("Hip abduction",), {}),
        (("Press 1", "Press 2", "Row"), {}),
    ],
)
def test_spellings_of_one_exercise_are_suggested_and_stay_apart(folder, exercises, names):
    root = folder(sessions=logged(exercises=exercises))
    finding = found(root).query("code == 'spellings'")
    told = {}
    for mend in finding["mend"]:
        (edit,) = edits_of(mend)
        assert edit.section == ("exercises", "same")
        told |= edit.keys
    assert {name: sorted(same) for name, same in told.items()} == {
        n: sorted(same) for n, same in names.items()
    }
    assert read(root).sessions["exercise"].nunique() == len(set(exercises))


def test_scores_without_a_range_are_asked_about(folder):
    people = "person,sex,site,TSK,note\na1,f,North,30,x\nb2,f,South,44,y\nc3,m,North,28,z\n"
    root = folder(sessions=logged(), people=people)
    remarks = read(root).remarks.set_index("column")["mend"]
    (edit,) = edits_of(remarks["TSK"])
    assert (edit.section, edit.keys) == (("scores", "TSK"), {"low": 28, "high": 44})
    assert not edits_of(remarks["note"])
