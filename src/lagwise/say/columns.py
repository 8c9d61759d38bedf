"""What the columns of tables hold: of the input tables, the panel and the effect table."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.study import Study
from lagwise.core.terms import panel_units
from lagwise.core.variable import JUMP, PAIN
from lagwise.core.words import capital


def of_input(table: str, name: str) -> str:
    """What a column of an input table holds."""
    return INPUT.get(f"{table}.{name}") or INPUT[name]


def of_panel(study: Study) -> Mapping[str, str]:
    """What the panel columns of a study hold, in order."""
    asked = study.outcome
    label, usual, later = asked.variable.label, asked.usual, asked.later
    falls = asked.variable.worse == "low"
    limit = f"{usual} {'-' if falls else '+'} flare_rise"
    side, beyond = ("above", "<=") if falls else ("below", ">=")
    outcome = {
        asked.before: f"Last {label} rating before the step's first session and at most step_days old; "
        "without a session, before the step starts",
        later: f"{capital(label)} of the next calendar step",
        usual: f"Mean {label} over the person's earlier steps, at least 3 of them",
        "at_risk": f"1 where {label} is known and {side} {limit}; missing where that cannot be told",
        "flare_next": f"Among steps at risk: 1 where {later} {beyond} {limit}; missing when not at risk or "
        "unknown",
    }
    told = PANEL | outcome
    return {name: told.get(name, "Mean of the step's ratings") for name in panel_units(study)}


INPUT = {
    "person": "Code of the person; never a name",
    "date": "Calendar date",
    "pain": "Pain on a 0-10 numerical rating scale",
    "stress": "Stress, 0 none to 10 most",
    "sleep_hours": "Hours slept per night",
    "sleep_quality": "Sleep quality, 0 worst to 10 best",
    "worry": "Worry about the pain or about moving, 0 none to 10 most",
    "confidence": "Confidence to train despite pain, 0 none to 10 full",
    "flare": "The person calls this a flare-up",
    "sessions.time": "Time the session began, HH:MM",
    "exercise": "Name of the exercise",
    "sets": "Working sets; 0 means 'came, did none'",
    "reps": "Repetitions per set",
    "load_kg": "Load on the bar, stack or in the hands",
    "sessions.effort": "Rating of perceived exertion of the working sets, 0-10",
    "reps_in_reserve": "Repetitions left in reserve; effort = 10 - this",
    "minutes": "Duration of the session or exercise",
    "checkins.time": "Time of the rating, HH:MM",
    "site": "Where the person trains",
    "region": "Where it hurts",
    "age_band": "Age band, such as 30-39",
    "sex": "Sex as recorded",
    "months_with_pain": "Months since this pain began",
    "training_years": "Years of regular training",
    "kind": "What changed",
    "until": "Last day of what lasted",
    "because": "Why it changed",
    "week": "Any date inside the week",
    "weeks.load": "Training load of the week in the unit the study names",
    "weeks.effort": "Mean rating of perceived exertion of the week's working sets, 0-10",
    "trained": "Training state of the week",
}
PANEL = {
    "person": "Code of the person",
    "step": "0-based index of the calendar step since the person's first record",
    "step_start": "Date the step starts",
    "state": "trained, rest (recorded as none) or unknown (nothing recorded)",
    "load": "Sum of the chosen load measure; missing when the state is unknown or partly_recorded is 1, 0 "
    "when rest",
    "partly_recorded": "1 where the person trained and the load cannot be told, as something that it needs "
    "was not recorded or set aside",
    "usual": "Mean of the known loads of the earlier `usual_steps` steps, at least `usual_needs` of them; "
    "never this step",
    JUMP: "log(load / usual) where load and usual are above 0; 0 where load is 0 (rested) or usual is 0 "
    "(restarted)",
    "log_usual": "log(usual) minus the log of the person's first known usual load above 0; 0 where usual "
    "is 0",
    "rested": "1 where the load is known to be 0",
    "restarted": "1 where the usual load is 0 and the load is above 0",
    "effort": "Mean of the known efforts of the working sets, weighted by sets",
    "near_failure_share": "Share of working sets at or above the near-failure effort, of sets whose effort "
    "is known",
    "n_checkins": "Check-in rows in the step",
    "n_ratings": "Pain ratings in the step",
    "n_sessions": "Distinct session dates in the step, those of rows set aside included",
    PAIN: "The step's pain by the study's summary (mean, worst or last)",
    "flare_reported": "1 where the person called any check-in of the step a flare-up; missing when not said",
    "flare_reported_next": "flare_reported of the next calendar step",
}
EFFECTS = {
    "engine": "mixed, within, rated, ordinal, metric, flare or clogit",
    "model": "The rung or model reached, in words",
    "outcome": "Panel column of the outcome",
    "term": "Exposure, the panel column's name without suffix",
    "level": "within (a person beside themselves), whole (jump, likewise) or between (people whose averages "
    "differ; at lag 1 at the same average of the adjusted-for rating, so not what goes with that average)",
    "adjustment": "crude (exposure, adjusted-for pain, log_usual and step only) or adjusted",
    "pain_adjusted": "Which pain is adjusted for: before (A), during (B), "
    "latent (what ratings measure with error) or none",
    "primary": "True on exactly one row of a report",
    "contrast": "'per unit' (1 of the exposure's own unit; 1 log unit for jump), '+50 %', 'per SD' ...",
    "contrast_size": "The contrast on the model's scale: log(1.5) for '+50 %' of jump, 1 for 'per unit'",
    "scale": "points, log_odds, odds_ratio or probability",
    "estimate": "Point estimate (posterior mean for the Bayesian engines)",
    "std_error": "Standard error (posterior SD)",
    "low": "Lower limit of the interval",
    "high": "Upper limit of the interval",
    "df": "Degrees of freedom of the interval; missing where none are used",
    "interval": "Width of the interval as a proportion",
    "n_people": "People in the model",
    "n_steps": "Person-steps in the model",
    "p_above_zero": "Posterior probability that the effect is above 0 (Bayesian engines)",
    "p_practically_zero": "Posterior probability that it lies within +/- practically_zero (points scale)",
    "p_important": "Posterior probability that its size is at least important_change (points scale)",
}
"""Of every column of the effect table, in order."""
