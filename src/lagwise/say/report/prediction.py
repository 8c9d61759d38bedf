"""Whether load helps to foresee the next rating: guesses with and without it, and by two plain rules, on the
same steps.
"""

from __future__ import annotations

from typing import Any

from lagwise.core.numbers import decimals, fixed, limits_text, people_said, plural, side, size, whole
from lagwise.document.tree import Block, Heading, grid, para
from lagwise.findings import Findings, rows_of
from lagwise.say.report.varying import lead
from lagwise.say.report.words import Words

SCHEME = {
    "next step": "The next {step} of the same people",
    "leave one person out": "People left out one at a time",
    "leave groups of people out": "People left out in 20 groups",
}
PREDICTOR = {
    "model": "All that the model holds",
    "model without load": "The same without load",
    "same as last step": "{Outcome} as {in} the {step} before",
    "own mean": "The person's own average until then",
}


def prediction(findings: Findings, words: Words) -> list[Block]:
    """The mean miss of each guess, and by how much more than the full model each misses; nothing where none
    was made.
    """
    fit = lead(findings)
    records = rows_of(fit, "prediction")
    if not records:
        return []
    rows = []
    for scheme, said in SCHEME.items():
        for r in (r for r in records if r["scheme"] == scheme and r["predictor"] in PREDICTOR):
            more = "\u2013" if r["predictor"] == "model" else _more(r, words)
            sizes = f"{whole(r['n_people'])} ({whole(r['n_steps'])})"
            rows.append(
                (
                    words.fill(said),
                    words.fill(PREDICTOR[r["predictor"]]),
                    fixed(r["mae"], words.outcome.places),
                    more,
                    sizes,
                )
            )
    if not rows:
        return []
    return [
        Heading(3, f"How well {words.then}'s {words.asked} can be foreseen", "prediction"),
        para(foreseen(records, words)),
        grid(
            "prediction-table",
            f"How far guesses of {words.asked_then} miss, in {words.unit}",
            (
                "Guessed for",
                "Guessed from",
                "Mean miss",
                "More than from all that the model holds (95 % interval)",
                f"People (person-{words.steps})",
            ),
            rows,
            numeric=(2, 3, 4),
            note=(
                "Every guess uses only what was known by then, and none sees what it guesses. Of the same "
                f"people {words.steps} from the middle of the longest record on are guessed. Intervals come "
                "from drawing people anew."
            )
            + _large(records, findings, words),
        ),
    ]


def _large(records: list[dict[str, Any]], findings: Findings, words: Words) -> str:
    """What a miss says of single steps, where all of them exceed what the plan calls practically zero."""
    zero = findings.study.outcome.zero
    if all(r["mae"] > zero for r in records if r["predictor"] == "model"):
        return (
            f" Misses of more than {size(zero)} {words.unit} say that no single {words.step} can be told "
            "from such a log."
        )
    return ""


def _more(r: dict[str, Any], words: Words) -> str:
    low, high = r["mae_more_low"], r["mae_more_high"]
    return limits_text(r["mae_more"], low, high, decimals(low, high, most=words.outcome.places))


def foreseen(records: list[dict[str, Any]], words: Words) -> str:
    """What load adds to a guess, by its interval: the same sentence whether it adds, takes away or leaves it
    open.
    """
    by = {(r["scheme"], r["predictor"]): r for r in records}
    scheme = next((s for s in SCHEME if (s, "model") in by), None)
    if scheme is None:
        return ""
    model, without = by[scheme, "model"], by.get((scheme, "model without load"))
    last = by.get((scheme, "same as last step"))
    people = f"{people_said(model['n_people'])}, {plural(model['n_steps'], f'person-{words.step}')}"
    said = (
        f"Guesses of {words.then}'s {words.asked} from all that the model holds miss by "
        f"{fixed(model['mae'], words.outcome.places)} {words.unit} on average ({people})"
    )
    if last is not None and last["mae_more_low"] is not None:
        said += f". Saying 'as {words.on} the {words.step} before' misses by {_by(last, words)}"
    said += ". "
    if without is None or without["mae_more_low"] is None:
        return said.rstrip()
    said += f"Without load they miss by {_by(without, words)}"
    way = side(without["mae_more_low"], without["mae_more_high"])
    if way > 0:
        return f"{said}. Load adds that much to the guess."
    if way < 0:
        return f"{said}. With load the guess is the worse for it."
    places = words.outcome.places
    most = round(max(without["mae_more_high"], 0), places)
    room = f"no more than {fixed(most, places)}" if most else f"less than {fixed(10**-places, places)}"
    return (
        f"{said}. Load is not shown to add anything to the guess. The interval leaves room for {room} "
        f"{words.unit}."
    )


def _by(r: dict[str, Any], words: Words) -> str:
    """'0.02 points more (0.01 less to 0.05 more)'."""
    low, high = r["mae_more_low"], r["mae_more_high"]
    places = decimals(low, high, most=words.outcome.places)
    same = not round(abs(r["mae_more"]), places)
    none = f"less than {fixed(10**-places, places)} {words.unit} more or less"
    size = none if same else _side(r["mae_more"], places, f" {words.unit}")
    if round(max(abs(low), abs(high)), places) == 0:
        return f"{size} (95 % interval within {fixed(10**-places, places)} either way)"
    return f"{size} (95 % interval {_side(low, places)} to {_side(high, places)})"


def _side(value: float, places: int, unit: str = "") -> str:
    return f"{fixed(abs(value), places)}{unit} {'more' if value >= 0 else 'less'}"
