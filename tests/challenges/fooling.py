"""Caseloads made to fool an analysis, their honest twins, and what is said of them. The long run is tests/bench/fooling.py."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
import pandas as pd
from challenge_panels import light_fit

from lagwise.challenges import unmeasured_confounding
from lagwise.challenges.context import Context
from lagwise.challenges.estimate import side
from lagwise.challenges.missing_steps import last_pain, leavers
from lagwise.core.results import Challenges, Fit, Panel
from lagwise.core.study import Study
from lagwise.models.rows import limits
from lagwise.panel import panel_from_blocks
from lagwise.say.challenge import challenge
from lagwise.synthetic import CLINIC, Spec
from lagwise.synthetic.fast import blocks_of
from lagwise.synthetic.observe import Records, observe
from lagwise.synthetic.process import Weeks, run

STUDY = Study("Simulated")
SIZES = ((12, 26), (30, 26), (60, 40))
NULL = replace(CLINIC, of_jump=0.0, of_jump_sd=0.0)
SIDE = {-1: "-", 0: "0", 1: "+"}
LETTER = {"holds": "h", "does_not_hold": "n", "cannot_tell": "c", "informative": "i"}
EVERYWHERE = ("pre_exposure_outcome", "leave_one_person_out", "unmeasured_confounding")
"""Challenges that every caseload is put to."""
MEASURES = ("reps", "tonnage", "session_rpe")


def _as_written(weeks: Weeks, records: Records, rng: np.random.Generator) -> Records:
    return records


def _all_kept(blocks: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    return blocks


@dataclass(frozen=True)
class Trick:
    """A way to fool, or an honest twin.

    `words` says what was built in; `truth` what is true of load and next week's pain; `spec` the process; `one` the slope of the first person where only
    that one has any; `records` and `blocks` what is done to what was written down; `beside` further challenges that bear on it, `dear` slower ones.
    """

    words: str
    truth: str
    spec: Spec
    one: float = 0.0
    records: Callable[[Weeks, Records, np.random.Generator], Records] = _as_written
    blocks: Callable[[pd.DataFrame, np.random.Generator], pd.DataFrame] = _all_kept
    beside: tuple[str, ...] = ()
    dear: tuple[str, ...] = ()


def _unlogged_stress(blocks: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    return blocks.assign(stress=np.nan)


def _hidden_when_it_hurts(weeks: Weeks, records: Records, rng: np.random.Generator) -> Records:
    """After weeks of more than usual load, four of five weeks that hurt more than half a point above the person's level have no check-in."""
    ache = weeks.pain - weeks.level[:, None]
    heavy = np.column_stack([np.zeros(len(ache), dtype=bool), weeks.jump[:, :-1] > 0.05])
    lost = heavy & (ache > 0.5) & (rng.random(ache.shape) < 0.8)
    return replace(records, made=records.made & ~lost[:, :, None])


def _measures(apart: float) -> Callable[[pd.DataFrame, np.random.Generator], pd.DataFrame]:
    """Other load measures, each off that in sets by noise of its own with an SD of `apart` log units."""

    def add(blocks: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
        load = blocks["load_sets"]
        return blocks.assign(
            **{f"load_{m}": 8 * load * np.exp(rng.normal(0, apart, len(load))) for m in MEASURES}
        )

    return add


def _other_loads(blocks: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """Other load measures that vary as much as sets do, around each person's usual, and have nothing to do with them."""
    load = blocks["load_sets"].where(blocks["load_sets"] > 0)
    usual = load.groupby(blocks["person"]).transform("median")
    other = {
        f"load_{m}": (8 * usual * np.exp(rng.normal(0, 0.35, len(load)))).where(
            load.notna(), blocks["load_sets"]
        )
        for m in MEASURES
    }
    return blocks.assign(**other)


def _in_another_measure(blocks: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """What moves pain is the tonnage; sets and the other measures are off it by noise of their own."""
    load = blocks["load_sets"]
    noisy = {
        f"load_{m}": load * np.exp(rng.normal(0, 0.3, len(load))) for m in ("sets", "reps", "session_rpe")
    }
    return blocks.assign(load_tonnage=load, **noisy)


GONE = {"missing": 0.25, "missing_of_pain": 1.0, "dropout": 0.03, "dropout_of_pain": 1.2}
PATH, GAPS, CHOICES = ("does_pain_drive_load",), ("missing_steps",), ("other_reasonable_choices",)
TRICKS = MappingProxyType(
    {
        "none": Trick("Nothing: no effect, pain leaves load alone", "none", replace(NULL, feedback=0.0), beside=PATH, dear=GAPS),
        "real": Trick("Nothing: a real effect in nearly everybody", "real", CLINIC, dear=GAPS),
        "feedback": Trick("No effect; pain cuts load by 25 % a point", "none", replace(NULL, feedback=0.25), beside=PATH),
        "hidden cause": Trick(
            "No effect; unlogged stress cuts load and raises pain", "none",
            replace(NULL, stress_cut=0.15, of_stress=0.4, sleep_of_stress=0.0, effort_of_stress=0.0, worry_of_stress=0.0),
            blocks=_unlogged_stress,
        ),
        "one person": Trick("Load matters steeply in one person (6 points per log unit), in nobody else", "one", NULL, one=6.0),
        "leaving": Trick("No effect; those who hurt leave, and miss check-ins", "none", replace(NULL, **GONE), dear=GAPS),
        "leaving, real": Trick("A real effect; those who hurt leave, and miss check-ins", "real", replace(CLINIC, **GONE), dear=GAPS),
        "hidden weeks": Trick(
            "No effect; pain after heavy weeks is not written down when it is high", "none", NULL, records=_hidden_when_it_hurts, dear=GAPS
        ),
    }
)  # fmt: skip

MEASURED = MappingProxyType(
    {
        "measures alike": Trick("A real effect; all load measures tell the same", "real", CLINIC, blocks=_measures(0.05), dear=CHOICES),
        "noisy measures": Trick("A real effect of the load in sets; the other measures stray far from it", "one", CLINIC, blocks=_measures(0.5), dear=CHOICES),
        "one measure": Trick("A real effect of the load in sets; the other measures are unrelated loads", "one", CLINIC, blocks=_other_loads, dear=CHOICES),
        "another measure": Trick("A real effect of the tonnage; sets and the other measures stray from it", "one", CLINIC, blocks=_in_another_measure, dear=CHOICES),
    }
)  # fmt: skip
"""Tricks with load measures, put to the challenge of other choices alone: the rest is as with a real effect."""


def caseload(trick: Trick, people: int, weeks: int, seed: int) -> Panel:
    """One caseload; the same seed, the same rows."""
    happened, recorded, laid_out = (np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(3))
    spec = replace(trick.spec, n_people=people, n_steps=weeks)
    if trick.one:
        # People do not know of each other, so that one of another process can stand among them.
        alone = run(replace(spec, of_jump=trick.one), np.random.default_rng(happened.integers(2**32)), 1)
        others = run(spec, happened, people - 1)
        went = Weeks(**{k: np.concatenate([getattr(alone, k), v]) for k, v in vars(others).items()})
    else:
        went = run(spec, happened)
    records = trick.records(went, observe(went, spec, recorded), recorded)
    return panel_from_blocks(trick.blocks(blocks_of(went, records, laid_out, STUDY), laid_out), STUDY)


NUMBERS = {
    "turned": ("leave_one_person_out", "people whose leaving"),
    "apart_p": ("leave_one_person_out", "p of the person"),
    "single_p": ("other_reasonable_choices", "p of single"),
    "single_share": ("other_reasonable_choices", "largest share"),
}
"""Columns kept beside the verdicts: the challenge and the beginning of the quantity."""


def told(name: str, people: int, weeks: int, seed: int) -> dict[str, object]:
    """What is said of one caseload: the side of 0 of the mixed model's interval, of the `joint` model's (x where it does not lead), and the first letter of each verdict ('' when not asked)."""
    trick = TRICKS[name]
    panel = caseload(trick, people, weeks, seed)
    fit = light_fit(panel, both=bool(trick.beside))
    row = _asked(name, panel, fit, (*EVERYWHERE, *trick.beside), people, weeks, seed)
    return {"does_pain_drive_load": ""} | row | {"joint": _joint(Context(panel, fit))}


def _joint(context: Context) -> str:
    if context.led is None:
        return "x"
    return SIDE[side(*limits(*context.led.contrast("jump", context.primary.size)))]


def told_more(name: str, people: int, weeks: int, seed: int) -> dict[str, object]:
    """The same by the slower challenges that bear on a trick."""
    trick = (TRICKS | MEASURED)[name]
    panel = caseload(trick, people, weeks, seed)
    fit = light_fit(panel, both=bool(trick.beside))
    empty = dict.fromkeys((*GAPS, *CHOICES, "single_p", "single_share"), "")
    return empty | _asked(name, panel, fit, trick.dear, people, weeks, seed)


def _asked(
    name: str, panel: Panel, fit: Fit, asked: tuple[str, ...], people: int, weeks: int, seed: int
) -> dict[str, object]:
    checks = challenge(panel, fit, only=asked, seed=seed, quick=True)
    primary = fit.effects.iloc[0]
    own = SIDE[side(primary["low"], primary["high"])]
    return (
        {"trick": name, "people": people, "weeks": weeks, "seed": seed, "side": own}
        | {r.name: "x" if r.problem else LETTER[r.verdict] for r in checks}
        | {short: _number(checks, *where) for short, where in NUMBERS.items() if where[0] in asked}
    )


def _number(checks: Challenges, name: str, quantity: str) -> float | str:
    found = [r for r in checks if r.name == name and not r.problem]
    values = [v for r in found for q, v in zip(r.numbers["quantity"], r.numbers["value"], strict=True) if q.startswith(quantity)]  # fmt: skip
    return round(float(values[0]), 3) if values else ""


LEAVING = MappingProxyType(
    {
        "leave at random": replace(NULL, **(GONE | {"missing_of_pain": 0.0, "dropout_of_pain": 0.0})),
        "leave when it hurts": replace(NULL, **GONE),
        "few leave when it hurts": replace(NULL, **(GONE | {"dropout": 0.008})),
    }
)
"""Caseloads for the rule of early leavers."""
YARDSTICK = ("none", "real", "hidden cause")
"""Tricks for the rule of weak yardsticks."""


def left(name: str, people: int, weeks: int, seed: int) -> dict[str, object]:
    """What the rule of early leavers goes by: the share who left early, and whether their last recorded pain has an interval above 0."""
    panel = caseload(Trick("", "none", LEAVING[name]), people, weeks, seed)
    early = leavers(panel)
    return _threshold("early leavers", name, people, weeks, seed) | {
        "value": round(len(early) / panel.frame["person"].nunique(), 3), "seen": int(last_pain(panel.frame, "pain", early)[1] > 0),
    }  # fmt: skip


def measured(name: str, people: int, weeks: int, seed: int) -> dict[str, object]:
    """What the rule of weak yardsticks goes by: the largest shift in standard errors, and whether a cause as strong changes the reading."""
    panel = caseload(TRICKS[name], people, weeks, seed)
    context = Context(panel, light_fit(panel), seed=seed)
    found = unmeasured_confounding.run(context).claim.measured
    shift = max(n.value for key, n in found.items() if "shift" in key) / context.primary.answer.std_error
    tips = found["changes_at"].value
    return _threshold("yardstick", name, people, weeks, seed) | {
        "value": round(shift, 3),
        "seen": int(tips <= 1),
    }


def _threshold(rule: str, name: str, people: int, weeks: int, seed: int) -> dict[str, object]:
    return {"rule": rule, "caseloads": name, "people": people, "weeks": weeks, "seed": seed}
