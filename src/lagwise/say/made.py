"""What is said of folders that a run meets, and of invented caseloads."""

from __future__ import annotations

from collections.abc import Mapping

TEXTS: Mapping[str, str] = {
    # What a folder holds that is not a run's own.
    "held.changed": "changed since: {names}",
    "held.extra": "not written by lagwise: {names}",
    "held.litter": "and left by other programs: {names}",
    # Titles of invented studies, and what each is for.
    "invented.clinic": "Shoulder, elbow, knee and hip pain in a strength hall (synthetic)",
    "invented.no_effect": "A strength hall where load has no part in next week's pain (synthetic)",
    "invented.tiny": "Four people (synthetic)",
    "invented.exploratory": "Seven people (synthetic)",
    "invented.weeks_only": "Weekly totals (synthetic)",
    "invented.checkins_only": "Check-ins alone (synthetic)",
    "invented.other": "Synthetic caseload",
    "invented.setting": "An invented hall with three sites, {weeks} weeks",
    "invented.changes": "What was changed in a strength hall, and what followed (synthetic)",
    "invented.changes_no_effect": "What was changed in a strength hall where nothing followed (synthetic)",
    "meant.clinic": "Weeks above usual load are followed by more pain, by 0.8 points per log unit; pain also "
    "cuts load",
    "meant.no_effect": "Load has no part in next week's pain, but pain cuts load hard, so the same-week "
    "association misleads",
    "meant.tiny": "Below 5 people: described only",
    "meant.exploratory": "5 to 9 people: within-person only",
    "meant.weeks_only": "One row per person and week in place of sessions and check-ins",
    "meant.checkins_only": "No load was recorded",
    "meant.changes": "Education, technique and planned load are followed by what truth.json says; bad weeks "
    "set the first two off",
    "meant.changes_no_effect": "The same changes, set off in the same way, after which no rating is "
    "otherwise than without them",
    # What the numbers of truth.json about changes mean.
    "followed.rated": "log odds of the event in a week: odds + of_pain x (pain - 5) + of_worry x "
    "(worry - 5), by the ratings on the last day of the week before; where that week was not rated, no event",
    "followed.felt": "log odds: odds + of_pain x (pain - the person's level), by last week's pain as it was "
    "felt; its rating strays from that, so no record holds all that set the event off",
    "followed.planned": "log odds: odds, whatever pain is",
    "followed.added": "points put on every rating after the event, to the end of the record, also after "
    "its `until`, when load is back; what is felt and carried on stays as it was",
    "followed.difference": "mean of the first four ratings after the event (steps 1-4) of those who had it, "
    "less the mean of the same ratings without this event; other events and all chance as they were",
    "followed.before_after": "the true value of another question: mean of the four ratings after less mean "
    "of the four before, which holds the ordinary return after a bad stretch and all else that changed",
}
