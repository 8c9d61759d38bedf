"""What a check says of what is odd in the rows that are used, by code: what, why it matters, the mend."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from lagwise.caseload.check_edits import Edit, mending, no_need
from lagwise.core.numbers import plural
from lagwise.core.words import capital
from lagwise.say.check.mends import both_ways, texts_of

_ASK = "Ask how these were filled in; nothing, if the person did answer so."
_OF_PEOPLE = (
    "People in {table} without any {record}",
    "They add nothing to the analysis; a mistyped code would look like this",
    "Check the code against the other tables.",
)
_SHARED = (
    "Two codes hold the same records on the same dates; likely one person twice",
    "A person counted twice makes every interval too narrow",
    "If they are one person, leave the records that both hold under one code only, and give the others that "
    "code; nothing, if they trained and rated alike.",
)


def _late(who: int, days: int, **_: Any) -> str:
    return f"Sessions of {plural(who, 'person', 'people')} more than {days} days after the last check-in"


def _scale(scale: str, edits: tuple[Edit, ...], **_: Any) -> str:
    return no_need(f", if the scale is 0-10. If it is {scale}, {both_ways(scale, edits)}")


def _spread(name: str, step: str, edits: tuple[Edit, ...], **_: Any) -> str:
    if edits:
        few = "The worst of many ratings is higher than the worst of few"
        return f"{few}; this study's {name} summary is 'worst'"
    rest = "with few ratings are less precise, and a 'worst' summary would depend on their number"
    return f"{capital(step)}s {rest}"


def _mean(edits: tuple[Edit, ...], **_: Any) -> str:
    return mending(f"Use {edits[0]}.", *edits) if edits else 'Nothing, as long as the summary is not "worst".'


FOUND: Mapping[str, tuple[str | Callable[..., str], str | Callable[..., str], str | Callable[..., str]]] = {
    # Who is who.
    "alike_codes": (
        "Codes differ only in case, spaces, hyphens or leading zeros",
        "One person counted as two has half a course each, and no usual load at the seam",
        "If they are one person, write the code in one way; nothing, if they are two.",
    ),
    "initials": (
        "Codes look like initials: are they?",
        "Whoever knows the people could tell who is who, and they would appear in every output",
        "If they are, run `lagwise deidentify FOLDER --out DIR`; it gives everybody a fresh random code. "
        "Nothing, if they were made up.",
    ),
    "shared_checkins": _SHARED,
    "shared_sessions": _SHARED,
    "sessions_alone": _OF_PEOPLE,
    "people_alone": _OF_PEOPLE,
    "events_alone": _OF_PEOPLE,
    # The order of things in time.
    "far_date": (
        "Dates more than {days} days away from the person's other dates",
        "The steps in between count as not recorded, and step numbers of the person shift",
        "Check the year.",
    ),
    "after_last_checkin": (
        _late,
        "Load without ratings cannot answer the question; people may have stopped rating because of how they "
        "were",
        "Look for check-ins that were not exported, or for a wrong date or code.",
    ),
    "session_in_break": (
        "Sessions between a recorded break and the return to load",
        "Either the break or the session has a wrong date, and load would be placed in the wrong step",
        "Correct the date of the break, the return or the session.",
    ),
    "resumed_without_stop": (
        "Load resumed although nothing before says that it was reduced",
        "Event pictures would start from the wrong day",
        "Add the earlier event, or correct it.",
    ),
    "out_of_order": (
        "Dates that break the order of dates which the file keeps otherwise",
        "A date may be mistyped or exchanged with another row's; the row would then count in the wrong step",
        "Compare these rows with the ones around them; nothing, if they were only written down later.",
    ),
    "exchanged_people": (
        "The loads of two people change places: each lifts what the other one usually does",
        "Load and its jumps stand under the wrong person, beside another one's pain",
        "Compare with the source, and exchange the two codes in these rows.",
    ),
    "exchanged_days": (
        "Two sessions of one person hold the loads of each other's time",
        "Both look like a jump in load in steps without one",
        "Compare with the source, and exchange the two dates.",
    ),
    # Ratings.
    "second_ratings": (
        "A second check-in at the same moment says something else",
        "Both count, as two ratings; if one corrects the other, the step's mean lies between right and wrong",
        "Nothing, if both count. If one corrects the other, leave the corrected one out of a copy of the "
        "file.",
    ),
    "sent_twice": (
        "The same check-in once more, minutes later or on the next day",
        "One answer counts twice, and a step seems to have more ratings than were given",
        "Nothing, if the person did answer twice. If it was sent twice, leave the second one out of a copy "
        "of the file.",
    ),
    "straight_lines": (
        "One number on every scale, in most check-ins of a person",
        "Filled in without reading, they tie pain to stress and worry where nothing ties them",
        _ASK,
    ),
    "frozen_ratings": (
        "The same check-in at least {times} times in a row",
        "Ratings copied forward hide change and make the next step look predictable",
        _ASK,
    ),
    "heaped_ratings": (
        "{name}: {share:.0%} of the ratings above 0 are 5 or 10",
        "Small changes cannot show on a scale that is used in steps of 5",
        "Nothing to correct; mention it where results are read.",
    ),
    "scale_question": (
        lambda name, scale, **_: f"No rating of {name} lies outside {scale.replace('-', ' to ')}",
        "On another scale than 0 to 10 a point is another distance, and effects and margins in points would "
        "mislead",
        _scale,
    ),
    "ratings_per_step_vary": (
        "{share:.0%} of rated {step}s have another number of {name} ratings than {usual}",
        _spread,
        _mean,
    ),
    # What was written down.
    "repeated_rows": (
        "Days on which every session row is there at least twice",
        "The day's load is counted twice, which looks like a jump",
        "Nothing, if they were done as written. If an export was pasted twice, export it again: {copies} "
        "rows of {days} days would go.",
    ),
    "pound_jump": (
        "Loads 2.2 times (or 1/2.2 of) the person's usual in that exercise",
        "Pounds among kilograms look like a load jump of 120 %",
        "If these rows alone are in pounds, write 'lb' behind their numbers; nothing, if the load did "
        "change.",
    ),
    "effort_contradiction": (
        "Effort and reps in reserve are further than 1 apart",
        "Effort was used; if it is the wrong one of the two, effort's results are off",
        "Correct one of the two from the source; nothing, if effort is the one to trust.",
    ),
    "ended_first": (
        "The last day lies before the first",
        "How long it lasted cannot be told; what followed is counted from the first day",
        "Correct one of the two.",
    ),
    "unlikely_sleep": (
        "16 hours of sleep per night or more",
        "A few such values can carry the whole result for sleep",
        "Check the unit and the column.",
    ),
    "missing_code": (
        "{columns}: numbers that many exports write for 'not recorded'",
        "Taken for values they move every mean, and can make a group of their own",
        "If they stand for that, write {edits[0]} in study.toml.",
    ),
    "spellings": (
        "One exercise in several spellings?",
        "Each spelling counts as an exercise of its own, with its own course of loads",
        "If they are one, write {edits[0]}; nothing, if they are not.",
    ),
}
"""A further check needs a line here."""
TEXTS = texts_of(FOUND, ("what", "why", "mend"), "found")
