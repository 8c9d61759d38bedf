"""What followed an event, in words; and words, not tracebacks, where it cannot be told."""

from pathlib import Path

import golden
import numpy as np
import pandas as pd
import pytest
from followed_worlds import KIND, SUNDAY, recorded

import lagwise as lw
from lagwise.core.claim import Claim, Measured
from lagwise.core.results import Panel
from lagwise.core.study import Clock, Study
from lagwise.events.attempts import ATTEMPTS
from lagwise.events.change import Change, claim
from lagwise.say.changes.attempts import WORDS
from lagwise.say.changes.followed import sentences
from lagwise.say.voice import Voice

GOLDEN = Path(__file__).parent / "followed.md"
PEOPLE = [f"p{i:02}" for i in range(20)]


def rated(weeks: int = 14, seed: int = 4) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(seed)
    return {p: rng.integers(2, 7, weeks).astype(float) for p in PEOPLE}


def told(panel: Panel, kind: str = KIND) -> tuple[str, str]:
    """Why there is an estimate or none, and the sentences."""
    found = claim(Change(panel, kind, "pain"))
    return found.reason.partition(".")[0], " ".join(sentences(found, Voice.of(panel.study)))


def each(weeks, people: int = 20, kind: str = KIND) -> list[tuple]:
    return [(p, weeks if isinstance(weeks, int) else 3 + i % 7, kind) for i, p in enumerate(PEOPLE[:people])]


CASES = {
    "everybody in the same week": each(5),
    "before the record": each(-9, 3),
    "after it": each(40, 3),
    "before the first rating": each(-1, 3),
    "too early": each(1, 3),
    "two in one step, and a third": [("p00", 4, KIND), ("p00", 4.3, KIND), ("p00", 8, KIND)],
    "one event": each(4, 1),
    "said as a clause": each(None, 3, "load_reduced"),
    "a few": each(None, 8),
    "enough": each(None, 15),
}
WHY = (("planned",), ("pain",), ("",), ("planned", "pain"))
READ = (
    ("holds", 0.02, -0.05, 0.09), ("holds", -0.14, -0.2, -0.08), ("cannot_tell", -0.22, -0.32, -0.12),
    ("does_not_hold", -0.5, -0.6, -0.4), ("cannot_tell", -0.9, -1, -0.8),
)  # fmt: skip


def said():
    """(what is special, sentences): what cannot be compared, what the reasons allow, and how false dates are read."""
    for case, events in CASES.items():
        yield case, ": ".join(told(recorded(rated(), events), events[0][2]))
    for why in WHY:
        events = [(*e, why[i % len(why)]) for i, e in enumerate(each(None, 3))]
        yield f"because {why}", told(recorded(rated(), events))[1]
    for verdict, mean, low, high in READ:
        points = {
            "own": (-0.8, -1.4, -0.2),
            "mean": (mean, low, high),
            "spread": (mean, mean - 0.5, mean + 0.5),
        }
        numbers = {k: Measured(v, "points", *ends) for k, (v, *ends) in points.items()}
        claimed = Claim("events.false_dates", verdict, verdict, numbers | {"draws": Measured(29, "draws")})
        yield f"false dates: {mean}", WORDS["false_dates"].sentence(claimed, Voice.of(Study("x")))


def test_what_is_said_is_as_kept():
    golden.kept(GOLDEN, "\n\n".join(f"## {name}\n\n{text}" for name, text in said()) + "\n")


REFUSED = {
    "another kind": ({"kind": "break"}, "no event 'break' is in the record.*Recorded are: technique_change"),
    "no rating": ({"outcome": "mood"}, "'mood' is not a rating of this study"),
    **{f"steps {n}": ({"steps": n}, "steps is .*whole number from 1 to 8") for n in (0, 9, 2.5, "4", None)},
}


@pytest.fixture(scope="module")
def two() -> Panel:
    return recorded(rated(), each(5, 2))


@pytest.mark.parametrize("case", REFUSED)
def test_what_cannot_be_asked_is_refused_in_words(two, case):
    more, text = REFUSED[case]
    with pytest.raises(lw.LagwiseError, match=text):
        lw.follow(two, **{"kind": KIND} | more)


def test_events_without_a_place_and_ratings_not_recorded(two):
    with pytest.raises(lw.LagwiseError, match="It holds no event at all"):
        lw.follow(recorded(rated(), [("somebody", 5, KIND)]), KIND)
    found = lw.follow(two, KIND, outcome="worry")
    assert found.sentences[0].endswith("three ratings of worry about the pain and another after them.")


@pytest.mark.parametrize("kind", ["weeks", "days"])
def test_whole_weeks_and_daily_ratings(kind):
    rng, length = np.random.default_rng(8), 7 if kind == "weeks" else 1
    at = np.tile(np.arange(30), len(PEOPLE))
    rows = pd.DataFrame({
        "person": np.repeat(PEOPLE, 30), "date": SUNDAY + pd.to_timedelta(length * at, unit="D"),
        "pain": rng.integers(2, 7, len(at)),
    })  # fmt: skip
    events = pd.DataFrame({
        "person": PEOPLE[:16], "kind": "education",
        "date": [SUNDAY + pd.Timedelta(days=length * (6 + i)) for i in range(16)],
    })  # fmt: skip
    given = {"weeks": rows.rename(columns={"date": "week"})} if kind == "weeks" else {"checkins": rows}
    plan = Study("x", clock=Clock(length))
    reason, said = told(lw.build_panel(lw.from_frames(**given, events=events, plan=plan)), "education")
    assert (
        reason == "estimate"
        and f"over 4 {kind} averaged" in said
        and f"from {kind} of the same history" in said
    )


@pytest.fixture(scope="module")
def found():
    return lw.follow(recorded(rated(), each(None, 15)), KIND, quick=True)


def test_one_result_with_its_attempts_table_and_picture(found):
    assert found.reason == "estimate" and [t.name for t in found.tests] == [*ATTEMPTS]
    assert [t.name for t in found.tests if t.problem] == ["rating_that_cannot_answer"]
    assert all(s in found._repr_html_() for s in found.sentences) and found.sentences[0] in repr(found)
    assert found.figure.data.equals(found.course) and "4 weeks" in found.figure.alt
    assert found.people["person"].is_unique and len(found.people) == 15


def test_nothing_is_called_an_effect_or_advised(found):
    text = " ".join(
        [*found.sentences, *(f"{t.question} {t.sentence} {t.limits}" for t in found.tests)]
    ).lower()
    assert not [w for w in ("effect", "cause", "works", "helped", "recommend") if f" {w}" in text]


def test_an_attempt_whose_figure_cannot_be_computed_is_none_and_the_rest_stands(monkeypatch):
    """As where too few events are left for an interval: one attempt less, and not no report."""
    lost = Measured(-0.3, "points", float("nan"), float("nan"))
    numbers = {"kind": "education", "first": 4, "found": lost}
    claimed = Claim("events.other_events", "holds", "holds", numbers)
    monkeypatch.setitem(ATTEMPTS, "other_events", lambda change: claimed)
    found = lw.follow(recorded(rated(), each("any")), KIND, quick=True)
    tried = {t.name: t for t in found.tests}
    assert "could not be computed" in tried["other_events"].problem and not tried["other_events"].tried
    assert tried["false_dates"].tried and len(found.effects)
