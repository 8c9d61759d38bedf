"""Methods with the formulas in words, and what a causal reading would take."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.core.columns import LOAD_MEASURES
from lagwise.core.study import INTERVAL
from lagwise.writeup.content import Block, Heading, bullets, inline, para, strong
from lagwise.writeup.findings import Findings, FitFacts, PictureFacts
from lagwise.writeup.numbers import per_hundred, plural, size
from lagwise.writeup.words import ENGINES, Words, join


def methods(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """How steps, load and pain are defined, what was modelled, and what a causal reading would take."""
    blocks: list[Block] = [Heading(2, "Methods", "methods"), bullets(*_definitions(findings, words))]
    fits = [f for f in findings.fits if f.rung]
    if fits:
        blocks += [Heading(3, "Models", "models"), bullets(*(_model(f, words) for f in fits))]
    blocks += [
        Heading(3, "What it would take to read this causally", "causal"),
        para(
            f"A causal reading would need all of these: that load came before the pain it is compared with; that nothing which changes from "
            f"{words.step} to {words.step} and drives both load and pain was left out (illness, work, mood); that every kind of {words.step} compared "
            f"could have happened to each person; that load and pain were measured alike throughout; and that what is missing can be set "
            f"aside given what was recorded. None of these can be proved from a log."
        ),
    ]
    return tuple(blocks)


def _definitions(findings: Findings, words: Words):
    study = findings.study
    load, pain, analysis = study.plan["load"], study.plan["pain"], study.plan["analysis"]
    measure = LOAD_MEASURES.get(load["measure"], load["measure"])
    step = words.step
    contrast = (
        f"{size(100 * words.contrast)} % {'above' if words.contrast >= 0 else 'below'} the usual load"
        if words.primary == "jump"
        else f"{size(words.contrast)} {words.unit(words.primary, words.contrast)} {'above' if words.contrast >= 0 else 'below'} the person's own average"
    )
    exposures = join([words.label(t) for t in analysis["exposures"]])
    ends = {"end": f"cover the {step} or are made at its end", "start": f"are made before the {step}'s sessions"}[
        pain["rated"]
    ]
    return [
        inline(strong("Step. "), f"Each person's record is laid out {step} by {step}, complete between their first and last entry; a {step} without a record stays empty."),
        inline(strong("Load. "), f"The sum of {measure} in the {step}. A {step} is trained, rest (recorded as none) or unknown (nothing recorded)."),
        inline(strong("Usual load. "), f"The mean of known loads of the {load['usual_steps']} {words.steps} before, of which at least {load['usual_needs']} must be known; the {step} itself is never part of it."),
        inline(strong("Load jump. "), "The natural logarithm of load divided by usual load. No cut-off is used; load enters as the number it is."),
        inline(strong("Pain. "), f"The {pain['summary']} of the {step}'s ratings on a 0-10 scale. Ratings {ends}."),
        inline(strong("Flare-up. "), f"By pain: at least {size(pain['flare_rise'])} points above the mean of the person's earlier {words.steps}, after a {step} below that mark. By word: what the person called a flare-up."),
        inline(strong("Question. "), f"The difference in pain in the next {step} between {words.steps} {contrast} and {words.reference(words.primary)}, held equal in the rest. The exposures were {exposures}."),
        inline(strong("Margins. "), f"Fixed beforehand: differences within {size(analysis['practically_zero'])} points either way are called practically zero; from {size(pain['important_change'])} {'point' if pain['important_change'] == 1 else 'points'} on they matter. Intervals are {per_hundred(INTERVAL)} % intervals."),
        inline(strong("Within and between. "), "Exposures other than the load jump enter twice: as the difference from the person's own mean, and as that mean's difference from the mean over people."),
    ]  # fmt: skip


def _model(fit: FitFacts, words: Words):
    name = ENGINES.get(fit.engine, fit.engine)
    rung = fit.rung.rstrip(".").removeprefix(f"{name}, ")
    text = f"Of {words.outcome(fit.outcome)}; {rung}."
    if fit.rung_reason:
        text += f" Why not a fuller one: {fit.rung_reason.rstrip('.')}."
    if fit.n_people:
        text += f" {plural(fit.n_people, 'person', 'people')}, {plural(fit.n_steps, f'person-{words.step}')}."
    if fit.notes:
        text += " " + " ".join(f"{n[0].upper()}{n[1:].rstrip('.').replace('_', ' ')}." for n in fit.notes if n)
    return inline(strong(f"{name[0].upper()}{name[1:]}. "), text)
