import tomllib
from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from lagwise.caseload import load_study
from lagwise.caseload.study_file import study_from
from lagwise.caseload.study_text import study_text
from lagwise.core.study import Study

WORD = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12).filter(
    lambda t: t.strip() == t
)


@given(
    WORD,
    WORD,
    st.dictionaries(
        WORD,
        st.lists(WORD.map(str.lower).filter(lambda t: t.strip() == t), min_size=1, max_size=3),
        max_size=3,
    ),
)
@settings(max_examples=25, deadline=None)
def test_what_is_written_is_read_back(title, setting, groups):
    study = Study(title=title, setting=setting, groups={g: tuple(n) for g, n in groups.items()})
    again = study_from(tomllib.loads(study_text(study)))
    assert again.plan() == study.plan()


def test_a_full_plan_survives(folder):
    root = folder(
        '[clock]\nstep_days = 3\n[scores."fear total"]\nlow = 0\nhigh = 66\n[analysis]\nexposures = ["stress"]\nprimary = "stress"'
    )
    study = load_study(root)
    again = study_from(tomllib.loads(study_text(study)))
    assert replace(again, tables=study.tables) == study
