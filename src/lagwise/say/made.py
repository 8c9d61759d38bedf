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
    "meant.clinic": "Weeks above usual load are followed by more pain, by 0.8 points per log unit; pain also "
    "cuts load",
    "meant.no_effect": "Load has no part in next week's pain, but pain cuts load hard, so the same-week "
    "association misleads",
    "meant.tiny": "Below 5 people: described only",
    "meant.exploratory": "5 to 9 people: within-person only",
    "meant.weeks_only": "One row per person and week in place of sessions and check-ins",
    "meant.checkins_only": "No load was recorded",
}
