"""Methods with the formulas in words, and what a causal reading would take."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.numbers import UNKNOWN, per_hundred, significant, size
from lagwise.core.study import INTERVAL
from lagwise.core.words import capital, listed
from lagwise.document.tree import Block, Grid, Heading, bullets, grids, inline, para, strong
from lagwise.findings import Findings, FitFacts, PictureFacts
from lagwise.models.rating_noise import HELD
from lagwise.say.askable import question
from lagwise.say.report.fitted import columns_of, main_fit
from lagwise.say.report.reasons import left_said
from lagwise.say.report.words import Words

NOT_FITTED = "not fitted"
"""The rung of a model that was left out."""


def methods(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """How steps, load and what is asked about are defined, what was modelled, and what a causal reading would
    take.
    """
    blocks: list[Block] = [Heading(2, "Methods"), bullets(*_definitions(findings, words))]
    if findings.described:
        return tuple(blocks)
    fed = words.exposure if words.term != "jump" or words.has_load else "the exposure"
    fits = [f for f in findings.fits if f.rung]
    if fits:
        blocks += [Heading(3, "Models", "models"), bullets(*(_model(f, words) for f in fits))]
        blocks += _priors(findings, words)
    blocks += [
        Heading(3, "What it would take to read this causally", "causal"),
        para("A causal reading would need all of these. None can be proved from a log."),
        bullets(
            f"{capital(fed)} came before the {words.asked} it is compared with.",
            f"Nothing was left out which changes from {words.step} to {words.step} and is tied to both {fed} "
            f"and {words.asked} (illness, work, family).",
            f"Every kind of {words.step} compared could have happened to each person.",
            f"{capital(fed)} and {words.asked} were measured alike throughout.",
            "What is missing can be set aside given what was recorded.",
        ),
    ]
    return tuple(blocks)


def _definitions(findings: Findings, words: Words):
    study = findings.study
    load, pain, analysis, out = study.plan["load"], study.plan["pain"], study.plan["analysis"], words.question
    measure = LOAD_MEASURES.get(load["measure"], load["measure"])
    step = words.step
    exposures = listed([words.label(t) for t in analysis["exposures"]])
    asked = "; by word, what the person called a flare-up" if words.own_word else ""
    others = any(not words.variables[t].whole for t in analysis["exposures"])
    ends = {
        "end": f"cover the {step} or are made at its end",
        "start": f"are made before the {step}'s sessions",
    }[pain["rated"]]
    said = [
        inline(
            strong("Step. "),
            f"Each person's record is laid out {step} by {step}, complete between their first and last "
            f"entry. A {step} without a record stays empty.",
        ),
        inline(
            strong("Load. "),
            f"The sum of {measure} {words.on} the {step}. A {step} is trained, rest (recorded as none) "
            "or unknown (nothing recorded).",
        ),
        inline(
            strong("Usual load. "),
            f"The mean of known loads of the {load['usual_steps']} {words.steps} before, of which at "
            f"least {load['usual_needs']} must be known; the {step} itself is never part of it.",
        ),
        inline(
            strong("Load jump. "),
            "The natural logarithm of load divided by usual load. No cut-off is used; load enters as "
            "the number it is.",
        ),
        inline(
            strong(f"{capital(words.asked)}. "),
            f"The {pain['summary'] if words.of_pain else 'mean'} of the {step}'s ratings "
            f"{f'on a {words.span}' if words.on_scale else f'in {words.unit}'}. Ratings {ends}.",
        ),
        inline(
            strong(f"{capital(words.turn)}. "),
            f"{capital(words.by)}: at least {words.amount(out.rise)} {words.after} the mean of the "
            f"person's earlier {words.steps}, after a {step} {words.before} that mark{asked}.",
        ),
        inline(
            strong("Question. "),
            (
                f"The difference in {words.asked_then} between {words.planned} and "
                f"{words.steps_against(words.term)}, held equal in the rest. The plan names as exposures "
                f"{exposures}. {left_said(findings, words)}"
            ).rstrip()
            if not findings.described
            else f"The plan asks {question(words)}. It names as exposures {exposures}. This record cannot "
            "answer the question.",
        ),
        inline(
            strong("Margins. "),
            f"Fixed beforehand. Differences within {size(out.zero)} {words.unit} either way are called "
            f"practically zero. From {words.amount(out.important)} on they matter. Intervals are "
            f"{per_hundred(INTERVAL)} % intervals.",
        ),
        inline(strong("Within and between. "), _parts(findings, words)),
    ]
    none = set() if words.has_load else {"Load. ", "Usual load. ", "Load jump. "}
    none |= set() if others else {"Within and between. "}
    if findings.described:
        none |= {"Margins. ", "Within and between. "}
        none |= set() if findings.count("usual_steps") else {"Usual load. ", "Load jump. "}
    none |= set() if words.rated else {f"{capital(words.asked)}. ", f"{capital(words.turn)}. "}
    return [s for s in said if s[0].text not in none]


def _parts(findings: Findings, words: Words) -> str:
    """By which parts exposures enter the main model: of few people only pain is told between them."""
    enter = "Exposures other than the load jump enter" if words.has_load else "Exposures enter"
    fit = main_fit(findings)
    columns = columns_of(fit) if fit is not None else ()
    if columns and not any(f"{t}_between" in columns for t in findings.study.of("analysis", "exposures")):
        return (
            f"{enter} as the difference from the person's own mean. With this few people the {words.asked} "
            "held equal alone enters as that mean's difference from the mean over people as well."
        )
    return (
        f"{enter} twice: as the difference from the person's own mean, and as that mean's difference from "
        "the mean over people."
    )


def _model(fit: FitFacts, words: Words):
    name = fit.by.label
    rung = fit.rung.rstrip(".").removeprefix(f"{name}, ").replace("_within", "")
    text = f"Of {words.explained(fit.outcome)}; {rung}.{_formula(fit, words)}"
    if "priors" in fit.tables:
        text += " Its priors stand in the table below."
    if fit.rung_reason and fit.rung_reason != words.findings.gate.sentence:
        text += f" Why not a fuller one: {fit.rung_reason.rstrip('.')}."
    if fit.n_people and fit.rung != NOT_FITTED:
        text += f" {words.sample(fit)}."
    if fit.notes and fit.rung != NOT_FITTED:  # there they say what the author could do
        text += " " + " ".join(
            f"{n[0].upper()}{n[1:].rstrip('.').replace('_', ' ')}." for n in fit.notes if n
        )
    return inline(strong(f"{capital(name)}. "), text)


def _formula(fit: FitFacts, words: Words) -> str:
    """What is predicted and its linear predictor, of person i and step t; empty for a model without one of
    this shape.
    """
    if fit.rung == NOT_FITTED:
        return ""
    if fit.by.headline == "joint":
        held = [words.label(name) for name in HELD if f"{name}_within" in columns_of(fit)]
        return JOINT_FORMULA.format(held=f"+ {listed(held)} " if held else "")
    predicted, error = PREDICTED.get(fit.engine, ("", ()))
    if not predicted:
        return ""
    varies, asked = "slope" in fit.rung, words.outcome.name
    labels = {
        "log_usual": "log usual load",
        asked: f"{words.asked} of the {words.step}",
        words.question.before: f"{words.asked} before the {words.step}",
    }

    def part(column: str) -> str:
        name, _, how = column.rpartition("_") if column.endswith(PARTS) else (column, "", "")
        own = "(b + v(i))" if varies and name == words.term and how != "between" else "b"
        label = labels.get(name) or (words.label(name) if name in words.variables else name)
        return f"{own} \u00d7 {f'{label} {how}'.rstrip()}({'i' if how == 'between' else 'i, t'})"

    parts = [part(c) for c in columns_of(fit) if c not in ("intercept", "step")]
    parts += ["b \u00d7 t", "u(i)", *(f"{e}(i, t)" for e in error)]
    random = ["u", *(["v"] if varies else []), *error]
    later = "t + 1" if words.question.lag else "t"
    predicted = words.fill(predicted).replace("{later}", later)
    return (
        f" {predicted} + {' + '.join(parts)}, each b a coefficient of its own; {listed(random)} normal "
        "with mean 0."
    )


JOINT_FORMULA = (
    " Rating(i, t) = a + b \u00d7 t + u(i) + d(i, t) + w(i, t) + error of its days; log load(i, t) = "
    "own way(i) + r \u00d7 log usual load(i, t) + b \u00d7 t {held}"
    "\u2212 f \u00d7 d(i, t) + g \u00d7 u(i) \u2212 k \u00d7 w(i, t) + noise; d(i, t + 1) = c \u00d7 "
    "d(i, t) + (b + v(i)) \u00d7 load jump(i, t) + rest and the exposures within people + noise. "
    "Whether a rating is missing is a further measure of d, by itself and after load above usual."
)
"""The equations of the joint model: d what moves of what is rated, u the person's level, w what passes with
the step.
"""

PARTS = ("_within", "_between")
"""What the columns of an exposure's two parts end in."""
PREDICTED = {
    "mixed": ("{Outcome}(i, {later}) = a", ("e",)),
    "metric": ("{Outcome}(i, {later}) = a", ("e",)),
    "ordinal": ("Log odds of {outcome}(i, {later}) above k = a(k)", ()),
}
"""Left side with its intercept, and the error, of the engines whose linear predictor `_formula` writes out.
"""


def _priors(findings: Findings, words: Words) -> list[Grid]:
    """What the priors of the Bayesian fits leave room for, before any rating is seen."""
    fits = [f for f in findings.fits if "priors" in f.tables]
    rows = []
    for fit in fits:
        for r in fit.tables["priors"].records():
            odds, per = r["scale"] == "odds_ratio", str(r["per"])
            unit = "log-odds" if odds else words.unit
            rows.append(
                (
                    f"{f'{fit.by.label}: ' * (len(fits) > 1)}{words.fill(PRIOR_OF[str(r['prior'])])}",
                    words.planned if r["prior"] == "difference" else PER.get(per, per),
                    f"{significant(r['low'], 2)} to {significant(r['high'], 2)}",
                    f"odds ratio of higher {words.asked}" if odds else words.unit,
                    UNKNOWN if r["sd"] is None else f"{significant(r['sd'], 2)} {unit}",
                )
            )
    return grids(
        "priors-table",
        "Priors of the Bayesian models: what they leave room for before any rating is seen",
        ("Of", "For", "95 of 100 lie between", "As", "SD"),
        rows,
        numeric=(2,),
        note="Priors are normal and favour neither side; those of spreads are half-normal. One SD: of the "
        "exposure, within people or between them as said.",
    )


PRIOR_OF = {
    "load": "load",
    "difference": "the planned difference, all priors together",
    "factor": "exposures within people",
    "between": "exposures between people",
    "pain_within": "{outcome} held equal, within people",
    "pain_between": "{outcome} held equal, between people",
    "other": "course of time; rest and starting again as yes or no",
    "intercept_sd": "spread of people's levels",
    "slope_sd": "spread of load's differences between people",
}
"""What each prior is of, in the order of the table."""
PER = {"SD": "one SD", "people": "one SD of people", "people x SD": "one SD of people and of load"}
