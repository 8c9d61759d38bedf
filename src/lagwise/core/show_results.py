"""How fits, effect tables and challenges show themselves: as a card in a notebook, as a few lines at a prompt.

Absolute numbers stand before ratios, every number beside its interval, unit and denominators. No stars, no colours.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import pandas as pd

from lagwise.core.engine import named
from lagwise.core.numbers import chance, plural, whole
from lagwise.core.study import INTERVAL
from lagwise.core.table_html import UNKNOWN, card, change, fold, interval, known, number, quiet, table
from lagwise.core.words import (
    NOT_RUN,
    PAIN_ADJUSTED,
    VERDICT,
    capital,
    clearness,
    exposure_label,
    outcome_label,
    rated_in,
    short_contrast,
)

if TYPE_CHECKING:
    from lagwise.core.results import Challenge, Challenges, Fit
    from lagwise.core.variable import Variable

MOST = 20
"""Rows of an effect table or of a challenge's numbers that a card shows."""
CURVE = 7
"""Points of a curve that a card shows."""
SCALES = ("points", "probability", "odds_ratio", "log_odds")
"""Absolute scales first."""


def fit_html(fit: Fit) -> str:
    """The fit's own answer: adjusted rows at their clearest contrast, absolute first, then its checks and notes."""
    parts = []
    if fit.usable:
        rows = headline(fit.effects, fit.engine)
        parts += [
            _absolute(fit),
            effect_rows_html(rows, fit.step, title="What followed", note=_left(fit, rows)),
        ]
        parts += [_curve(fit)] if rows.empty else []
    checks = fit.diagnostics
    if len(checks):
        columns = ("check", "value", "needed", "passed", "meaning")
        shown = [
            (str(r["gate"]).replace("_", " "), number(r["value"]), r["limit"], "yes" if r["passed"] else "no", r["meaning"])
            for r in checks.to_dict("records")
        ]  # fmt: skip
        parts.append(
            fold(f"Checks of the fit: {_passed(fit)}", table("Checks", columns, shown, right=("value",)))
        )
    if fit.notes or fit.rung_reason:
        reason = f"Why this model: {fit.rung_reason}" if fit.rung_reason else ""
        parts.append(fold("Notes", *(quiet(note) for note in (reason, *fit.notes))))
    parts.append(
        quiet("All rows: .effects; further tables: " + (", ".join(fit.tables) or "none") + " (.tables)")
    )
    return card(_fit_title(fit), _fit_lines(fit), *parts)


def fit_text(fit: Fit) -> str:
    """A few lines: the model, its size, whether it is usable, and the primary row."""
    lines = [_fit_title(fit), *_fit_lines(fit)]
    if fit.usable:
        lines += [effect_words(r, fit.step) for r in fit.effects[fit.effects["primary"]].to_dict("records")]
    more = f".effects ({plural(len(fit.effects), 'row')}), .diagnostics"
    return "\n  ".join([*lines, more + (f", .tables: {', '.join(fit.tables)}" if fit.tables else "")])


def effects_html(effects: pd.DataFrame) -> str:
    """Rows of the tidy effect table in reading order: the primary one, then absolute scales, then ratios."""
    rows = _ordered(effects)
    shown = rows.head(MOST)
    more = f"And {plural(len(rows) - MOST, 'row')} more; " if len(rows) > MOST else ""
    note = f"{more}columns and all digits: .to_string() or .to_csv(...)"
    step = effects.attrs.get("step", "step")
    inner = effect_rows_html(
        shown, step, title=f"Differences between {step}s, and what followed", note=note, full=True
    )
    return card(f"Effects: {plural(len(rows), 'row')}", [_primary_line(rows, step)], inner)


def effects_text(effects: pd.DataFrame) -> str:
    """The effect table's readable columns, in reading order."""
    rows = _ordered(effects)
    told = [_told(r) for r in rows.to_dict("records")]
    words = rows[["engine", "outcome", "term", "level", "adjustment", "pain_adjusted", "contrast"]].assign(
        estimate=[estimate for estimate, _ in told],
        interval=[between for _, between in told],
        scale=rows["scale"],
        n_people=rows["n_people"],
        n_steps=rows["n_steps"],
    )
    shown = pd.DataFrame(words).head(MOST).to_string(index=False)
    more = f"\n... and {plural(len(words) - MOST, 'row')} more" if len(words) > MOST else ""
    return f"Effects: {plural(len(words), 'row')}, the primary one first, then absolute before relative\n{shown}{more}"


def effect_rows_html(rows: pd.DataFrame, step: str, *, title: str, note: str = "", full: bool = False) -> str:
    """Effect rows under headings that say outcome and unit; `full` adds the model and adjustment there, and the level."""
    if rows.empty:
        return ""
    widths = {float(v) for v in rows["interval"].dropna()}
    between = f"{100 * widths.pop():g} % interval" if len(widths) == 1 else "interval"
    extra = ("level",) if full else ()
    columns = ["", "exposure", "contrast", *extra, "estimate", between, "people", f"person-{step}s"]
    bayes = not full and rows["p_important"].notna().any()
    columns += ["chance that it matters"] if bayes else []
    cells = []
    for r in rows.to_dict("records"):
        estimate, limited = _told(r, 100.0 if r["scale"] == "probability" else 1.0)
        row = [
            _group(r, step, full=full),
            exposure_label(r["term"]),
            short_contrast(r["term"], r["contrast"], known(r["contrast_size"])),
            *((r["level"],) if full else ()),
            estimate,
            limited,
            whole(r["n_people"]),
            whole(r["n_steps"]),
        ]
        if bayes:
            p = known(r["p_important"])
            row.append(UNKNOWN if p is None else chance(p))
        cells.append(row)
    right = ("estimate", between, "people", f"person-{step}s", "chance that it matters")
    return table(title, columns, cells, right=right, group="", note=note)


def headline(effects: pd.DataFrame, engine: str) -> pd.DataFrame:
    """The rows that answer: adjusted, at the primary pain adjustment, not between people, one contrast a term and scale."""
    if effects.empty:
        return effects
    lead = effects[effects["primary"]]
    pain = (lead if len(lead) else effects[effects["adjustment"] == "adjusted"]).head(1)["pain_adjusted"]
    e = effects[
        (effects["adjustment"] == "adjusted")
        & effects["pain_adjusted"].isin(pain)
        & (effects["level"] != "between")
    ]
    own = e[e["engine"] == engine]
    e = own if len(own) else e
    if (e["scale"] != "log_odds").any():
        e = e[e["scale"] != "log_odds"]
    clear = [
        -1 if lead else clearness(t, c)
        for t, c, lead in zip(e["term"], e["contrast"], e["primary"], strict=True)
    ]
    e = e.assign(_clear=clear).sort_values("_clear", kind="stable")
    e = e.drop_duplicates(["outcome", "scale", "term"]).drop(columns="_clear").sort_index()
    return _ordered(e)


def effect_words(row: dict[Any, Any], step: str) -> str:
    """A row in one line: exposure and contrast, estimate with unit and interval, denominators."""
    estimate, between = _told(row)
    unit = {"points": "points", "probability": "probability"}.get(
        row["scale"], row["scale"].replace("_", " ")
    )
    return (
        f"{exposure_label(row['term'])} {short_contrast(row['term'], row['contrast'], known(row['contrast_size']))}: {estimate} {unit} "
        f"({100 * row['interval']:g} % interval {between}); {plural(row['n_people'], 'person', 'people')}, "
        f"{plural(row['n_steps'], f'person-{step}')}"
    )


def challenge_html(challenge: Challenge) -> str:
    """The question, how it ended and in what words, the numbers, and what it cannot show."""
    numbers = challenge.numbers
    cells = [
        (r["quantity"], number(r["value"], r["low"], r["high"]), interval(r["low"], r["high"]), r["unit"])
        for r in numbers.head(MOST).to_dict("records")
    ]
    more = f"And {plural(len(numbers) - MOST, 'row')} more: .numbers" if len(numbers) > MOST else ""
    between = f"{100 * INTERVAL:g} % interval"
    columns = ("quantity", "value", between, "unit")
    lines = [challenge.question, _answer(challenge), _size(challenge)]
    inner = table("Numbers", columns, cells, right=("value", between), note=more)
    return card(
        f"Challenge: {challenge.title}", lines, inner, quiet(f"What it cannot show: {challenge.limits}")
    )


def challenge_text(challenge: Challenge) -> str:
    """Title, question, how it ended and in what words."""
    lines = [
        f"Challenge: {challenge.title}",
        challenge.question,
        _answer(challenge),
        ".numbers, .limits, .picture",
    ]
    return "\n  ".join(lines)


def challenges_html(challenges: Challenges) -> str:
    """One row per challenge with how it ended; what each found opens on a click."""
    rows = [(c.title, c.question, _verdict(c)) for c in challenges]
    found = [f"{c.title}. {_answer(c)}" for c in challenges]
    parts = [
        table("How each ended", ("challenge", "question", "ended"), rows),
        fold("What each found, with its numbers", *(quiet(text) for text in found)),
        quiet('One of them: challenges["its_name"]; all as a table: .table'),
    ]
    return card(f"Challenges: {_ended(challenges)}", [], *parts)


def challenges_text(challenges: Challenges) -> str:
    """One line per challenge."""
    wide = max((len(c.name) for c in challenges), default=0)
    lines = [f"{c.name:<{wide}}  {_verdict(c)}" for c in challenges]
    return "\n  ".join([f"Challenges: {_ended(challenges)}", *lines])


def _ended(challenges: Challenges) -> str:
    counted = Counter(_verdict(c).lower() for c in sorted(challenges, key=lambda c: not c.tried))
    return f"{sum(c.tried for c in challenges)} run; " + ", ".join(
        f"{n} {word}" for word, n in counted.items()
    )


def _verdict(challenge: Challenge) -> str:
    if challenge.problem:
        return NOT_RUN[challenge.applies]
    return VERDICT.get(challenge.verdict, challenge.verdict)


def _answer(challenge: Challenge) -> str:
    if challenge.problem:
        return f"{_verdict(challenge)}: {challenge.problem}"
    return f"{_verdict(challenge)}. {challenge.sentence}"


def _size(challenge: Challenge) -> str:
    options = challenge.picture.options if challenge.picture is not None else {}
    said = [plural(options["n_people"], "person", "people")] if "n_people" in options else []
    said += [plural(options["n_steps"], "person-step")] if "n_steps" in options else []
    return ", ".join(said)


def _fit_title(fit: Fit) -> str:
    name = named(fit.engine).label
    return f"{capital(name)}: {_explained(fit.outcome, fit.step, _asked(fit))}"


def _fit_lines(fit: Fit) -> list[str]:
    size = f"{plural(fit.n_people, 'person', 'people')}, {plural(fit.n_steps, f'person-{fit.step}')}"
    if not fit.usable:
        return [f"Not usable as a result: {fit.why_not.rstrip('.') or 'a check failed'}.", size]
    return [f"{size}; {fit.rung}", f"Usable: {_passed(fit)}"]


def _passed(fit: Fit) -> str:
    checks = fit.diagnostics
    return f"{int(checks['passed'].sum())} of {len(checks)} checks passed" if len(checks) else "no checks"


def _left(fit: Fit, rows: pd.DataFrame) -> str:
    rest = len(fit.effects) - len(rows)
    pain = {_adjusted(p, fit.step, rows["outcome"]) for p in rows["pain_adjusted"]} if len(rows) else set()
    held = (
        f"Adjusted for each other and for {', '.join(sorted(p.split(': ')[-1] for p in pain))}. "
        if pain
        else ""
    )
    matters = (
        "A difference matters from the plan's important change on. "
        if len(rows) and rows["p_important"].notna().any()
        else ""
    )
    return f"{held}{matters}A sequence in time, and not shown to be more." + (
        f" {plural(rest, 'row')} more in .effects: crude, other adjustment, other contrasts." if rest else ""
    )


def _group(row: dict[Any, Any], step: str, *, full: bool) -> str:
    outcome, asked = _explained(row["outcome"], step), rated_in([row["outcome"]])
    span = asked.span and f" ({asked.span})"
    unit = {
        "points": f"difference in {asked.unit}s{span}",
        "probability": f"difference in how many of 100 {step}s",
        "odds_ratio": "odds ratio, 1 is no difference",
        "log_odds": "difference in log-odds",
    }[row["scale"]]
    what = f"{outcome[:1].upper()}{outcome[1:]}: {unit}"
    if not full:
        return what
    pain = _adjusted(row["pain_adjusted"], step, [row["outcome"]])
    return f"{what}. {named(row['engine']).label.capitalize()}, {row['adjustment']}, {pain}"


def _asked(fit: Fit) -> Variable | None:
    """What turns for the worse are of, as a flare model's settings name it; None of a fit that names nothing."""
    defined = fit.settings.get("definition")
    return None if defined in (None, "reported") else rated_in([str(defined)])


def _explained(column: str, step: str, asked: Variable | None = None) -> str:
    return outcome_label(column, asked).replace("{step}", step)


def _adjusted(key: str, step: str, outcomes: Iterable[str]) -> str:
    return PAIN_ADJUSTED.get(key, key).format(step=step, asked=rated_in(outcomes).label)


def _ordered(effects: pd.DataFrame) -> pd.DataFrame:
    place = {scale: i for i, scale in enumerate(SCALES)}
    keys = pd.DataFrame(
        {
            "scale": effects["scale"].map(place),
            "outcome": pd.factorize(effects["outcome"])[0],
            "primary": ~effects["primary"].astype(bool),
            "crude": effects["adjustment"] != "adjusted",
            "engine": pd.factorize(effects["engine"])[0],
            "pain": pd.factorize(effects["pain_adjusted"])[0],
        },
        index=effects.index,
    )
    return effects.loc[
        keys.sort_values(["scale", "outcome", "primary", "engine", "crude", "pain"], kind="stable").index
    ]


def _told(row: dict[Any, Any], factor: float = 1.0) -> tuple[str, str]:
    """Estimate and interval as text; only differences carry a plus sign."""
    numbers = [known(row[key]) for key in ("estimate", "low", "high")]
    estimate, low, high = (None if v is None else factor * v for v in numbers)
    if row["scale"] == "odds_ratio":
        return number(estimate, low, high), interval(low, high)
    return change(estimate, low, high)


def _primary_line(rows: pd.DataFrame, step: str) -> str:
    lead = rows[rows["primary"].astype(bool)].to_dict("records")
    return f"Primary: {effect_words(lead[0], step)}" if lead else "The study's primary row is not among them."


def _absolute(fit: Fit) -> str:
    """Expected shares at the reference and at the contrast, from a fit that has them; empty otherwise."""
    frame = fit.tables.get("absolute_risk", fit.tables.get("risk"))
    if frame is None or frame.empty or "at" not in frame:
        return ""
    value = "mean" if "mean" in frame else "probability"
    cells = []
    for r in frame.to_dict("records"):
        outcome = r.get("outcome", fit.outcome)
        share = outcome.startswith("flare_") or outcome.endswith(("_zero_next", "_zero"))
        factor, unit = (100.0, f"of 100 {fit.step}s") if share else (1.0, f"{rated_in([outcome]).unit}s")
        limits = [None if known(r[k]) is None else factor * r[k] for k in (value, "low", "high")]
        apart = "difference" in (r["at"], r.get("what"))
        text, between = change(*limits) if apart else (number(*limits), interval(*limits[1:]))
        name = _explained(outcome, fit.step)
        cells.append(
            (f"{name[:1].upper()}{name[1:]}, {unit}", "difference" if apart else r["at"], text, between)
        )
    between = f"{100 * INTERVAL:g} % interval"
    return table(
        "In absolute terms", ("", "at", "expected", between), cells, right=("expected", between), group=""
    )


def _curve(fit: Fit) -> str:
    """A few points of a fit whose answer is a curve; empty when there is none."""
    frame = fit.tables.get("curve")
    if frame is None or frame.empty:
        return ""
    last = len(frame) - 1
    at = (
        sorted({round(i * last / (min(CURVE, len(frame)) - 1)) for i in range(min(CURVE, len(frame)))})
        if last
        else [0]
    )
    name = {"lag": f"{fit.step}s earlier", "percent": "load against usual, %"}
    column = next((c for c in ("lag", "percent", "jump") if c in frame), frame.columns[0])
    rows = [
        (number(round(r[column], 1)), *change(r["estimate"], r["low"], r["high"]))
        for r in frame.iloc[at].to_dict("records")
    ]
    between = f"{100 * INTERVAL:g} % interval"
    columns = (name.get(column, exposure_label(column)), "points", between)
    per = "per log unit of load jump" if column == "lag" else "against the usual load"
    return table(
        f"{capital(_explained(fit.outcome, fit.step))}, {rated_in([fit.outcome]).unit}s {per}",
        columns,
        rows,
        right=columns,
        note=f"{len(at)} of {len(frame)} points: .tables['curve']",
    )
