"""Which challenge came closest to changing the reading, and what is said of each."""

from __future__ import annotations

from functools import cache

import writeup_inputs as made

from lagwise.challenges.registry import NAMES
from lagwise.core.study import AnalysisPlan, Study
from lagwise.findings import ChallengeFacts, Findings, Table
from lagwise.say.challenge import known_words
from lagwise.say.report.closest import challenges_picture, closest, ended
from lagwise.say.report.words import Words
from lagwise.say.voice import Voice
from lagwise.writeup.collect import collect

COLUMNS = ("quantity", "value", "low", "high", "unit", "key")
VOICES = [Voice.of(Study("")), Voice.of(Study("", analysis=AnalysisPlan(outcome="worry", primary="stress")))]


def tried(name: str, verdict: str, *rows: tuple, problem: str = "") -> ChallengeFacts:
    numbers = Table(columns=COLUMNS, rows=tuple((key, *values, "points", key) for key, *values in rows))
    return ChallengeFacts(
        name=name, title=name.replace("_", " "), question="", verdict=verdict, numbers=numbers, sentence="",
        limits="", picture=None, seconds=0, problem=problem,
    )  # fmt: skip


@cache
def answered(kind: str) -> Findings:
    return collect(made.caseload(), made.panel(12, 14), [made.mixed(kind)], None)


def found(*challenges: ChallengeFacts, kind: str = "higher") -> Findings:
    return answered(kind).model_copy(update={"challenges": challenges})


HELD = tried("rating_error", "holds", ("joint", 0.9, 0.6, 1.2))
OPEN = tried("missing_steps", "cannot_tell", ("plain", 0.4, 0.1, 0.7), ("filled", 0.3, -0.1, 0.7))
AWAY = tried("unrelated_load", "cannot_tell", ("primary", 0.42, 0.11, 0.73), ("own_region", 0.4, -0.2, 1.0),
             ("other_regions", 0.4, 0.1, 0.7))  # fmt: skip
FELL = tried("prior", "does_not_hold", ("own", 0.4, 0.1, 0.7), ("half", 0.39, 0.0, 0.6))
CAUSE = tried("unmeasured_confounding", "informative", ("shift_yardstick", 0.1, None, None))


def test_what_could_not_tell_or_points_elsewhere_comes_before_all_that_held():
    every = [HELD, CAUSE, OPEN, AWAY, FELL, tried("measurement", "cannot_tell", problem="not run")]
    assert [e.name for e in ended(found(*every))] == [
        "prior", "unrelated_load", "missing_steps", "unmeasured_confounding", "rating_error",
    ]  # fmt: skip
    first = closest(found(*every[:4]))
    assert first.name == "unrelated_load" and first.ended == "could not tell"
    assert first.reason == "load of regions that do not hurt is followed by it too"
    alike = tried(
        "unrelated_load", "cannot_tell", ("primary", 0.42, 0.11, 0.73), ("other_regions", 0.1, -0.3, 0.5)
    )
    assert not ended(found(alike))[0].elsewhere
    assert closest(found()) is None


def test_the_size_of_the_change_is_that_of_the_estimate_farthest_away():
    by = {e.name: e for e in ended(found(HELD, CAUSE, OPEN, FELL))}
    assert by["rating_error"].moved == 0.9 - 0.42 and by["rating_error"].low == 0.6
    assert (by["missing_steps"].before, by["missing_steps"].value) == (0.4, 0.3)
    assert round(by["unmeasured_confounding"].value, 6) == 0.32, "a cause is taken to account for it"
    for strength, said in (
        (0.8, "a cause no stronger than a recorded one could do"),
        (5.0, "nothing recorded is a yardstick"),
    ):
        rows = (("changes_at", strength, None, None),)
        assert said in ended(found(tried("unmeasured_confounding", "cannot_tell", *rows)))[0].reason
    lower = ended(found(CAUSE, kind="lower"))[0]
    assert round(lower.value, 6) == -0.28
    words = ended(found(tried("shuffled_load", "holds", ("primary", 0.4, 0.1, 0.7))))[0]
    assert words.value is None and words.reason == "shuffled series agree with what the interval says"


def test_every_challenge_has_its_say_in_twelve_words():
    for name in NAMES:
        for told in known_words(name).SHORT.values():
            for voice in VOICES:
                assert 3 <= len(voice.fill(told).split()) <= 12 and "{" not in voice.fill(told)


def test_the_figure_holds_one_line_for_each_that_was_tried():
    some = found(HELD, OPEN, tried("measurement", "cannot_tell", problem="not run"))
    picture = challenges_picture(some, Words(some))
    assert picture.data.column("label") == ["missing steps", "rating error"]
    assert picture.data.column("ended") == ["could not tell", "held"]
    assert "2 attempts" in picture.options["subtitle"] and "1 not run" in picture.options["subtitle"]
    assert "missing steps: could not tell" in picture.alt and "+0.90 (+0.60 to +1.20) points" in picture.alt
