"""How fits, effect tables and challenges show themselves: as a card in a notebook, as a few lines at a
prompt.

Absolute numbers stand before ratios, every number beside its interval, unit and denominators. No stars, no
colours.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from lagwise.core.effects import contrast_label, contrast_size
from lagwise.core.engine import named
from lagwise.core.numbers import UNKNOWN, chance, change, interval, known, number, plural, whole
from lagwise.core.results import Challenge, Challenges, Fit
from lagwise.core.study import INTERVAL, AnalysisPlan
from lagwise.core.variable import JUMP, VARIABLES, Variable
from lagwise.core.words import (
    PAIN_ADJUSTED,
    capital,
    clearness,
    exposure_label,
    outcome_label,
    rated_in,
    short_contrast,
)
from lagwise.document.card import card, fold, quiet, table
from lagwise.document.tree import Block, Document, Grid

NEEDS = {
    "agreement": "It sets flare-ups by rating beside those that people called so, and nobody was asked.",
    "aligned": "It is of the load jump around flare-ups, and takes recorded loads and a flare model.",
    "bias": "It is of simulated records with loads, and takes recorded loads and a flare model.",
    "people-slopes": "It takes a mixed model in which people have slopes of their own.",
}
"""What a figure or table of findings takes, where it is not plain from its name."""
NO_ROWS = "There is nothing to put here: the table has no rows."

MOST = 20
"""Rows of an effect table or of a challenge's numbers that a card shows."""
CURVE = 7
"""Points of a curve that a card shows."""
SCALES = ("points", "probability", "odds_ratio", "log_odds")
"""Absolute scales first."""
BETWEEN = f"{100 * INTERVAL:g} % interval"


@dataclass(frozen=True)
class _Asked:
    """What a fit or its effects were asked: the step, the variables, and the rating that flare-ups are of."""

    step: str
    variables: Mapping[str, Variable]
    outcome: Variable | None = None

    @classmethod
    def of(cls, step: str, asked: tuple[Variable, ...]) -> _Asked:
        return cls(step, {**VARIABLES, **{v.name: v for v in asked}}, asked[0] if asked else None)

    def rating(self, column: str) -> Variable:
        """The rating that a column of outcomes is of."""
        own = self.outcome if column.startswith("flare_") else None
        return own or rated_in([column], self.variables)

    def explained(self, column: str) -> str:
        """The column as an outcome, in words."""
        return outcome_label(column, self.rating(column), self.step)

    def held(self, key: str, column: str) -> str:
        """What is held equal beside the exposures."""
        return PAIN_ADJUSTED.get(key, key).format(step=self.step, outcome=self.rating(column).label)

    def contrast(self, row: Mapping[Any, Any]) -> str:
        """The contrast of a row, short."""
        return short_contrast(row["term"], row["contrast"], known(row["contrast_size"]), self.variables)


def fit_card(fit: Fit) -> Document:
    """The fit's own answer: adjusted rows at their clearest contrast, absolute first, then its checks and
    notes.
    """
    asked = _Asked.of(fit.step, fit.asked)
    parts: list[tuple[Block, ...]] = []
    if fit.usable:
        rows = headline(fit.effects, fit.engine)
        parts += [_absolute(fit, asked), _effect_rows(rows, asked, "What followed", _left(fit, rows, asked))]
        parts += [_curve(fit, asked)] if rows.empty else []
    if len(fit.diagnostics):
        checks = [
            (
                r["gate"].replace("_", " "),
                number(r["value"]),
                r["limit"],
                "yes" if r["passed"] else "no",
                r["meaning"],
            )
            for r in fit.diagnostics.to_dict("records")
        ]
        columns = ("check", "value", "needed", "passed", "meaning")
        parts.append(
            fold(f"Checks of the fit: {_passed(fit)}", table("Checks", columns, checks, right=("value",)))
        )
    if fit.notes or fit.rung_reason:
        reason = f"Why this model: {fit.rung_reason}" if fit.rung_reason else ""
        parts.append(fold("Notes", quiet(reason, *fit.notes)))
    parts.append(quiet(f"All rows: .effects; further tables: {', '.join(fit.tables) or 'none'} (.tables)"))
    return card(_fit_title(fit, asked), _fit_lines(fit), *parts)


def fit_text(fit: Fit) -> str:
    """A few lines: the model, its size, whether it is usable, and the primary row."""
    asked = _Asked.of(fit.step, fit.asked)
    lines = [_fit_title(fit, asked), *_fit_lines(fit)]
    if fit.usable:
        lines += [_effect_words(r, asked) for r in fit.effects[fit.effects["primary"]].to_dict("records")]
    more = f".effects ({plural(len(fit.effects), 'row')}), .diagnostics"
    return "\n  ".join([*lines, more + (f", .tables: {', '.join(fit.tables)}" if fit.tables else "")])


def _asked_in(effects: pd.DataFrame) -> _Asked:
    asked = tuple(Variable(**v) for v in effects.attrs.get("asked", ()))
    return _Asked.of(effects.attrs.get("step", "step"), asked)


def effects_card(effects: pd.DataFrame) -> Document:
    """Rows of the tidy effect table in reading order: the primary one, then absolute scales, then ratios."""
    rows, asked = _ordered(effects), _asked_in(effects)
    more = f"And {plural(len(rows) - MOST, 'row')} more; " if len(rows) > MOST else ""
    note = f"{more}columns and all digits: .to_string() or .to_csv(...)"
    title = f"Differences between {asked.step}s, and what followed"
    lead = rows[rows["primary"].astype(bool)].to_dict("records")
    said = (
        f"Primary: {_effect_words(lead[0], asked)}" if lead else "The study's primary row is not among them."
    )
    inner = _effect_rows(rows.head(MOST), asked, title, note, full=True)
    return card(f"Effects: {plural(len(rows), 'row')}", [said], inner)


def effects_text(effects: pd.DataFrame) -> str:
    """The effect table's readable columns, in reading order."""
    rows = _ordered(effects)
    told = [_told(r) for r in rows.to_dict("records")]
    names = ["engine", "outcome", "term", "level", "adjustment", "pain_adjusted", "contrast"]
    words = rows[names].assign(estimate=[one for one, _ in told], interval=[between for _, between in told])
    words = words.join(rows[["scale", "n_people", "n_steps"]])
    shown = pd.DataFrame(words).head(MOST).to_string(index=False)
    more = f"\n... and {plural(len(words) - MOST, 'row')} more" if len(words) > MOST else ""
    head = f"Effects: {plural(len(words), 'row')}, the primary one first, then absolute before relative"
    return f"{head}\n{shown}{more}"


def _effect_rows(
    rows: pd.DataFrame, asked: _Asked, title: str, note: str, *, full: bool = False
) -> tuple[Grid, ...]:
    """Effect rows under headings that say outcome and unit; `full` adds the model and adjustment there, and
    the level.
    """
    widths = {float(v) for v in rows["interval"].dropna()}
    between = f"{100 * widths.pop():g} % interval" if len(widths) == 1 else "interval"
    bayes = not full and rows["p_important"].notna().any()
    right = ("estimate", between, "people", f"person-{asked.step}s", "chance that it matters")
    columns = ("exposure", "contrast", *(("level",) if full else ()), *right[: 5 if bayes else 4])
    cells, groups = [], []
    for r in rows.to_dict("records"):
        estimate, limited = _told(r, 100.0 if r["scale"] == "probability" else 1.0)
        level = (r["level"],) if full else ()
        p = known(r["p_important"])
        matters = (UNKNOWN if p is None else chance(p),) if bayes else ()
        sizes = (whole(r["n_people"]), whole(r["n_steps"]))
        name = exposure_label(r["term"], asked.variables)
        cells.append((name, asked.contrast(r), *level, estimate, limited, *sizes, *matters))
        groups.append(_group(r, asked, full=full))
    return table(title, columns, cells, right=right, groups=groups, note=note)


def headline(effects: pd.DataFrame, engine: str) -> pd.DataFrame:
    """The rows that answer: adjusted, at the primary pain adjustment, not between people, one contrast a term
    and scale.
    """
    if effects.empty:
        return effects
    adjusted, lead = effects["adjustment"] == "adjusted", effects[effects["primary"]]
    pain = (lead if len(lead) else effects[adjusted]).head(1)["pain_adjusted"]
    e = effects[adjusted & effects["pain_adjusted"].isin(pain) & (effects["level"] != "between")]
    own = e[e["engine"] == engine]
    e = own if len(own) else e
    if (e["scale"] != "log_odds").any():
        e = e[e["scale"] != "log_odds"]
    keys = zip(e["term"], e["contrast"], e["primary"], strict=True)
    e = e.assign(_clear=[-1 if leads else clearness(term, contrast) for term, contrast, leads in keys])
    e = e.sort_values("_clear", kind="stable").drop_duplicates(["outcome", "scale", "term"])
    return _ordered(e.drop(columns="_clear").sort_index())


def effect_words(row: dict[Any, Any], step: str, variables: Mapping[str, Variable] = VARIABLES) -> str:
    """A row in one line: exposure and contrast, estimate with unit and interval, denominators."""
    return _effect_words(row, _Asked(step, variables))


def _effect_words(row: dict[Any, Any], asked: _Asked) -> str:
    estimate, between = _told(row)
    return (
        f"{exposure_label(row['term'], asked.variables)} {asked.contrast(row)}: {estimate} "
        f"{row['scale'].replace('_', ' ')} ({100 * row['interval']:g} % interval {between}); "
        f"{plural(row['n_people'], 'person', 'people')}, {plural(row['n_steps'], f'person-{asked.step}')}"
    )


def challenge_card(challenge: Challenge) -> Document:
    """The question, how it ended and in what words, the numbers, and what it cannot show."""
    numbers = challenge.numbers
    cells = [
        (r["quantity"], number(r["value"], r["low"], r["high"]), interval(r["low"], r["high"]), r["unit"])
        for r in numbers.head(MOST).to_dict("records")
    ]
    more = f"And {plural(len(numbers) - MOST, 'row')} more: .numbers" if len(numbers) > MOST else ""
    columns = ("quantity", "value", BETWEEN, "unit")
    options = challenge.picture.options if challenge.picture is not None else {}
    counted = {"n_people": ("person", "people"), "n_steps": ("person-step",)}
    size = ", ".join(plural(options[name], *nouns) for name, nouns in counted.items() if name in options)
    lines = [challenge.question, _answer(challenge), size]
    inner = table("Numbers", columns, cells, right=columns[1:3], note=more)
    return card(
        f"Challenge: {challenge.title}", lines, inner, quiet(f"What it cannot show: {challenge.limits}")
    )


def challenge_text(challenge: Challenge) -> str:
    """Title, question, how it ended and in what words."""
    lines = (f"Challenge: {challenge.title}", challenge.question, _answer(challenge))
    return "\n  ".join([*lines, ".numbers, .limits, .picture"])


def challenges_card(challenges: Challenges) -> Document:
    """One row per challenge with how it ended; what each found opens on a click."""
    if not len(challenges):
        return card(f"Challenges: {_ended(challenges)}", [])
    rows = [(c.title, c.question, c.ended) for c in challenges]
    found = quiet(*(f"{c.title}. {_answer(c)}" for c in challenges))
    return card(
        f"Challenges: {_ended(challenges)}",
        [],
        table("How each ended", ("challenge", "question", "ended"), rows),
        fold("What each found, with its numbers", found),
        quiet('One of them: challenges["its_name"]; all as a table: .table'),
    )


def challenges_text(challenges: Challenges) -> str:
    """One line per challenge."""
    wide = max((len(c.name) for c in challenges), default=0)
    lines = [f"{c.name:<{wide}}  {c.ended}" for c in challenges]
    return "\n  ".join([f"Challenges: {_ended(challenges)}", *lines])


def _ended(challenges: Challenges) -> str:
    counted = Counter(c.ended.lower() for c in sorted(challenges, key=lambda c: not c.tried))
    ended = ", ".join(f"{n} {word}" for word, n in counted.items())
    return f"{sum(c.tried for c in challenges)} run; {ended}" if ended else "none was run"


def _answer(challenge: Challenge) -> str:
    if challenge.problem:
        return f"{challenge.ended}: {challenge.problem}"
    return f"{challenge.ended}. {challenge.sentence}"


def _fit_title(fit: Fit, asked: _Asked) -> str:
    return f"{capital(named(fit.engine).label)}: {asked.explained(fit.outcome)}"


def _fit_lines(fit: Fit) -> list[str]:
    size = f"{plural(fit.n_people, 'person', 'people')}, {plural(fit.n_steps, f'person-{fit.step}')}"
    if not fit.usable:
        return [f"Not usable as a result: {fit.why_not.rstrip('.') or 'a check failed'}.", size]
    return [f"{size}; {fit.rung}", f"Usable: {_passed(fit)}"]


def _passed(fit: Fit) -> str:
    checks = fit.diagnostics
    return f"{int(checks['passed'].sum())} of {len(checks)} checks passed" if len(checks) else "no checks"


def _left(fit: Fit, rows: pd.DataFrame, asked: _Asked) -> str:
    """What is held equal, from where on a difference matters, and what the other rows are."""
    said, rest = [], len(fit.effects) - len(rows)
    if len(rows):
        column = next((c for c in rows["outcome"] if not c.startswith("flare_")), rows["outcome"].iloc[0])
        held = {asked.held(key, column).split(": ")[-1] for key in rows["pain_adjusted"]}
        said.append(f"Adjusted for each other and for {', '.join(sorted(held))}.")
        if rows["p_important"].notna().any():
            said.append("A difference matters from the plan's important change on.")
    said.append("A sequence in time, and not shown to be more.")
    if rest:
        said.append(f"{plural(rest, 'row')} more in .effects: crude, other adjustment, other contrasts.")
    return " ".join(said)


def _group(row: dict[Any, Any], asked: _Asked, *, full: bool) -> str:
    rating = asked.rating(row["outcome"])
    unit = {
        "points": f"difference in {rating.unit}s{rating.span and f' ({rating.span})'}",
        "probability": f"difference in how many of 100 {asked.step}s",
        "odds_ratio": "odds ratio, 1 is no difference",
        "log_odds": "odds ratio, 1 is no difference",
    }[row["scale"]]
    what = f"{capital(asked.explained(row['outcome']))}: {unit}"
    if not full:
        return what
    held = asked.held(row["pain_adjusted"], row["outcome"])
    return f"{what}. {named(row['engine']).label.capitalize()}, {row['adjustment']}, {held}"


def _ordered(effects: pd.DataFrame) -> pd.DataFrame:
    keys = pd.DataFrame(
        {
            "scale": effects["scale"].map({scale: i for i, scale in enumerate(SCALES)}),
            "outcome": pd.factorize(effects["outcome"])[0],
            "primary": ~effects["primary"].astype(bool),
            "engine": pd.factorize(effects["engine"])[0],
            "crude": effects["adjustment"] != "adjusted",
            "held": pd.factorize(effects["pain_adjusted"])[0],
        },
        index=effects.index,
    )
    return effects.loc[keys.sort_values(keys.columns.tolist(), kind="stable").index]


def _told(row: dict[Any, Any], factor: float = 1.0) -> tuple[str, str]:
    """Estimate and interval as text; only differences carry a plus sign."""
    numbers = [known(row[key]) for key in ("estimate", "low", "high")]
    estimate, low, high = (None if v is None else factor * v for v in numbers)
    if row["scale"] == "log_odds":
        estimate, low, high = (None if v is None else math.exp(v) for v in numbers)
    if row["scale"] in ("odds_ratio", "log_odds"):
        return number(estimate, low, high), interval(low, high)
    return change(estimate, low, high)


def _absolute(fit: Fit, asked: _Asked) -> tuple[Grid, ...]:
    """Expected shares at the reference and at the contrast, from a fit that has them."""
    frame = fit.tables.get("absolute_risk", fit.tables.get("risk"))
    if frame is None or frame.empty or "at" not in frame:
        return ()
    value = "mean" if "mean" in frame else "probability"
    cells, groups = [], []
    for r in frame.to_dict("records"):
        outcome = r.get("outcome", fit.outcome)
        share = outcome.startswith("flare_") or outcome.endswith(("_zero_next", "_zero"))
        factor, unit = (100.0, f"of 100 {fit.step}s") if share else (1.0, f"{asked.rating(outcome).unit}s")
        limits = [None if known(r[k]) is None else factor * r[k] for k in (value, "low", "high")]
        apart = "difference" in (r["at"], r.get("what"))
        text, between = change(*limits) if apart else (number(*limits), interval(*limits[1:]))
        cells.append(("difference" if apart else r["at"], text, between))
        groups.append(f"{capital(asked.explained(outcome))}, {unit}")
    columns = ("at", "expected", BETWEEN)
    return table("In absolute terms", columns, cells, right=columns[1:], groups=groups)


def _curve(fit: Fit, asked: _Asked) -> tuple[Grid, ...]:
    """A few points of a fit whose answer is a curve."""
    frame = fit.tables.get("curve")
    if frame is None or frame.empty:
        return ()
    n = min(CURVE, len(frame))
    at = sorted({round(i * (len(frame) - 1) / max(n - 1, 1)) for i in range(n)})
    names = {
        "lag": f"{fit.step}s earlier",
        "percent": "load against usual, %",
        JUMP: exposure_label(JUMP),
    }
    column = next((c for c in names if c in frame), frame.columns[0])
    size = AnalysisPlan.primary_contrast
    times = contrast_size(JUMP, size) if (lagged := column == "lag") else 1.0
    rows = [
        (number(round(r[column], 1)), *change(*(times * r[k] for k in ("estimate", "low", "high"))))
        for r in frame.iloc[at].to_dict("records")
    ]
    columns = (names.get(column, exposure_label(column)), "points", BETWEEN)
    per = f"per {contrast_label(JUMP, size)} load" if lagged else "against the usual load"
    title = f"{capital(asked.explained(fit.outcome))}, {asked.rating(fit.outcome).unit}s {per}"
    note = f"{len(at)} of {len(frame)} points: .tables['curve']"
    return table(title, columns, rows, right=columns, note=note)
