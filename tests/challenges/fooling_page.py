"""docs/fooled.md from the rows that tests/bench/fooling.py stored."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
from fooling import CHOICES, EVERYWHERE, GAPS, LEAVING, MEASURED, PATH, TRICKS

from lagwise.challenges.leave_one_person_out import LEVEL
from lagwise.challenges.missing_steps import LEAVING as ENOUGH
from lagwise.challenges.missing_steps import TIED
from lagwise.challenges.other_reasonable_choices import LEVEL as JOINT
from lagwise.challenges.other_reasonable_choices import MOST
from lagwise.challenges.registry import REGISTRY
from lagwise.challenges.unmeasured_confounding import WEAK
from lagwise.core.study import Study
from lagwise.say.challenge import text, words_of
from lagwise.say.voice import Voice

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "fooled.md"
STORED, MORE, THRESHOLDS = (
    ROOT / "tests" / "bench" / f"fooled{end}.csv" for end in ("", "_more", "_thresholds")
)
VOICE = Voice.of(Study(""))
TITLE = {e.NAME: text(words_of(e), "title", VOICE) for e in REGISTRY}
TEXT = """# Caseloads made to fool

Written by `python tests/bench/fooling.py` from what it stored; the test of this page runs a slice of it again. Each caseload is drawn from the documented process of the synthetic clinic with something built in, or with nothing (the honest twins), and put
to the two models of the main question and to challenges by their quick settings. None of these seeds was used to set a threshold; the rule on sizes under a single reading was added after a first look at noisy measures among them, so that its rate there is not independent of that look. The Monte Carlo error of a share is at most 5 of 100 where 100 were drawn and 8 where 40.

## What the intervals say, and what the reader is told

The mixed model takes ratings as they are; the joint model takes them as measures with error, and load as answering the pain behind them. A report names a difference where the intervals of both leave out 0 on the same side (the mixed model's alone where the joint one is not usable), and else says that it is undecided or that both include 0.

'Named' is the share of caseloads in which the first paragraph of the write-up names a challenge that the result did not withstand, among those here that every caseload was put to ({everywhere}). 'Fooled' is a report that names a difference although load has no part in
pain, with no challenge named.

| caseloads | people x weeks | drawn | mixed model leaves out 0, of 100 | joint model leaves out 0, of 100 | the report names a difference, of 100 | a challenge is named, of 100 | fooled, of 100 |
|---|---|---|---|---|---|---|---|
{intervals}

## What each challenge says

Of 100 caseloads: holds / cannot tell / does not hold; for unmeasured confounding, which never holds, informative / cannot tell / does not hold.

| caseloads | people x weeks | drawn | {heads_verdicts} |
|---|---|---|---|---|---|
{verdicts}

Slower challenges, and one that bears on feedback alone:

| challenge | caseloads | people x weeks | drawn | holds | cannot tell | does not hold | informative |
|---|---|---|---|---|---|---|---|
{slow}

## What to read off it

- **One person.** {one_person}
- **Feedback.** {feedback}
- **An unmeasured common cause.** {hidden} No check on a record can see such a cause: its weeks look like any others. What can be said is how strong it would have to be, and the sentence of the challenge says that a stronger one cannot be seen. The challenge is
  therefore never said to have held, and the first paragraph of a write-up says that none of the attempts can see what was not recorded.
- **Those who hurt leave, or leave weeks out.** {leaving}
- **One load measure.** {measure}

## The thresholds

| rule | caseloads | people x weeks | drawn | {heads} |
|---|---|---|---|---|---|---|
{thresholds}

- **Early leavers** count from {enough:.0f} of 100 people on. What decides is whether the interval of their last recorded pain lies above 0, which chance alone gives in at most 2.5 of 100 caseloads at any threshold; a lower one would tell of a few people in whom leaving can hardly move
  the result, a higher one would miss some. The figures speak for no other number. At 12 people hardly anything of this can be seen.
- **A yardstick** is weak when the strongest recorded exposure could move the estimate by less than {weak:g} standard errors. The table gives, at three thresholds, how often the challenge is informative. Caseloads with a hidden cause are told from honest ones by none of them, since what was recorded says nothing of what
  was not; the threshold keeps a sentence from leaning on a yardstick tied to nothing and is no detector.
- **A single reading of the record** (a load measure, say) parts from the rest when {most:.0f} of 100 of its intervals do. The table gives, at three thresholds, how often the challenge would then say that the result hangs on it, by the rest of its rule. A rule on sizes stands beside it: a result
  whose median estimate under another reading is less than half of that under the plan's own cannot hold either.
- **Pain that goes unrecorded** more or less often after the primary contrast counts from {tied:.0f} of 100 weeks on, with an interval that leaves out 0; how often that happens by chance is in the rows of missing weeks above.
"""


def page() -> str:
    """The page, made from the stored rows alone."""
    rows, slow, more = (
        pd.read_csv(file, dtype={"side": str, "joint": str}) for file in (STORED, MORE, THRESHOLDS)
    )
    return TEXT.format(
        everywhere=", ".join(TITLE[c].lower() for c in EVERYWHERE), intervals="\n".join(_intervals(rows)),
        heads_verdicts=" | ".join(TITLE[c] for c in EVERYWHERE), verdicts="\n".join(_verdicts(rows)), slow="\n".join(_slow(rows, slow)),
        one_person=_one_person(rows), feedback=_feedback(rows), hidden=_hidden(rows), leaving=_leaving(rows, slow), measure=_measure(slow),
        thresholds="\n".join(_thresholds(slow, more)), heads="lower | as it is | higher", enough=100 * ENOUGH, weak=WEAK, most=100 * MOST, tied=100 * TIED,
    )  # fmt: skip


def _sizes(rows: pd.DataFrame, name: str, column: str = "trick") -> list[tuple[str, pd.DataFrame]]:
    part = rows[rows[column] == name]
    return [(f"{people} x {weeks}", some) for (people, weeks), some in part.groupby(["people", "weeks"])]


def _of(share: float) -> str:
    return "-" if np.isnan(share) else f"{100 * share:.0f}"


def _named(rows: pd.DataFrame) -> pd.Series:
    return (rows[list(EVERYWHERE)] == "n").any(axis=1)


def found(rows: pd.DataFrame) -> pd.Series:
    """The side of 0 of the difference that a report names, 0 where it names none."""
    return rows["side"].where(rows["joint"].isin(["x"]) | rows["joint"].eq(rows["side"]), "0")


def _out(rows: pd.DataFrame) -> float:
    """How often a report names a difference."""
    return float(found(rows).ne("0").mean())


def _fooled(rows: pd.DataFrame) -> float:
    """How often it does so with no challenge named."""
    return float((found(rows).ne("0") & ~_named(rows)).mean())


def _sides(side: pd.Series) -> str:
    return f"{_of(side.isin(['+', '-']).mean())} ({_of(side.eq('+').mean())} above, {_of(side.eq('-').mean())} below)"


def _intervals(rows: pd.DataFrame) -> list[str]:
    out = []
    for name, trick in TRICKS.items():
        for size, part in _sizes(rows, name):
            fooled = _of(_fooled(part)) if trick.truth == "none" else "-"
            sides = " | ".join(_sides(s) for s in (part["side"], part["joint"], found(part)))
            out.append(
                f"| {trick.words} | {size} | {len(part)} | {sides} | {_of(_named(part).mean())} | {fooled} |"
            )
    return out


def _verdicts(rows: pd.DataFrame) -> list[str]:
    out = []
    for name, trick in TRICKS.items():
        for size, part in _sizes(rows, name):
            cells = [
                " / ".join(
                    _of(part[c].eq(v).mean()) for v in ("icn" if c == "unmeasured_confounding" else "hcn")
                )
                for c in EVERYWHERE
            ]
            out.append(f"| {trick.words} | {size} | {len(part)} | {' | '.join(cells)} |")
    return out


def _slow(rows: pd.DataFrame, slow: pd.DataFrame) -> list[str]:
    out = []
    for table, challenge in ((rows, PATH[0]), (slow, GAPS[0]), (slow, CHOICES[0])):
        for name, trick in (TRICKS | MEASURED).items():
            for size, part in _sizes(table[table[challenge].notna()], name):
                shares = " | ".join(_of(part[challenge].eq(v).mean()) for v in "hcni")
                out.append(f"| {TITLE[challenge]} | {trick.words} | {size} | {len(part)} | {shares} |")
    return out


def _by_size(rows: pd.DataFrame, name: str, share) -> str:
    found = [f"{_of(share(part))} ({size})" for size, part in _sizes(rows, name)]
    return ", ".join(found[:-1]) + f" and {found[-1]}"


def _one_person(rows: pd.DataFrame) -> str:
    def apart(part: pd.DataFrame) -> float:
        return float((part["apart_p"] <= LEVEL).mean())

    def fell(part: pd.DataFrame) -> float:
        return float(part["leave_one_person_out"].eq("n").mean())

    honest = rows[rows["trick"].isin(["none", "real"])]
    return (
        f"Somebody stands apart in {_by_size(rows, 'one person', apart)} of 100 caseloads of which one person's slope makes all the difference. False alarms: {_by_size(rows, 'none', apart)} of 100 with no effect, "
        f"{_by_size(rows, 'real', apart)} with a real one whose size differs between people by a normal amount. 'Does not hold' is said of {_by_size(rows, 'real', fell)} of 100 caseloads with a real effect; in {_of(honest['turned'].gt(0).mean())} of 100 honest caseloads "
        "somebody's leaving changes the reading, which is why that alone is no reason to say so. With a single steep person the random slopes widen the interval, so that it includes 0 nearly always: the average is then undecided rather than wrong."
    )


def _feedback(rows: pd.DataFrame) -> str:
    def mixed(part: pd.DataFrame) -> float:
        return float(part["side"].ne("0").mean())

    def joint(part: pd.DataFrame) -> float:
        return float(part["joint"].isin(["+", "-"]).mean())

    return (
        f"With no effect and load cut by 25 % a point of pain a report names a difference in {_by_size(rows, 'feedback', _out)} of 100, against {_by_size(rows, 'none', _out)} with neither. The mixed model alone leaves out 0 in {_by_size(rows, 'feedback', mixed)} of 100, against {_by_size(rows, 'none', mixed)}; 5 are expected. "
        f"Ratings in whole points stray from the pain that load answered, which leaves some of it unadjusted for, and many weeks make a small bias count (other reasons are not told apart here). The joint model, which is made for both, leaves out 0 in {_by_size(rows, 'feedback', joint)}. The reverse path is told with its size (table above)."
    )


def _hidden(rows: pd.DataFrame) -> str:
    def informative(part: pd.DataFrame) -> float:
        return float(part["unmeasured_confounding"].eq("i").mean())

    return (
        f"With unlogged stress behind both, a report names a difference, and no challenge, in {_by_size(rows, 'hidden cause', _fooled)} of 100. The challenge is informative in {_by_size(rows, 'hidden cause', informative)} of 100 of these "
        f"and in {_by_size(rows, 'real', informative)} of 100 with a real effect: it cannot tell one from the other."
    )


def _leaving(rows: pd.DataFrame, slow: pd.DataFrame) -> str:
    def held(name: str) -> str:
        return _of(slow.loc[slow["trick"].eq(name), GAPS[0]].eq("h").mean())

    return (
        f"Leaving and missed check-ins that go with pain alone leave a true 0 at 0 (a report names a difference in {_by_size(rows, 'leaving', _out)} of 100); a real effect is named in {_by_size(rows, 'leaving, real', _out)} of 100 instead of "
        f"{_by_size(rows, 'real', _out)}. Pain that is hidden when it is high after heavy weeks is another matter: load and pain decide together what is seen, and a report names a difference in {_by_size(rows, 'hidden weeks', _out)} of 100. "
        f"Filling in follows the recorded weeks and cannot undo that, but that pain goes unrecorded after heavy weeks can be seen: the challenge of missing weeks holds in {held('hidden weeks')} of 100 of these at 30 x 26, against {held('none')} of 100 with nothing built in and {held('real')} with a real effect."
    )


def _measure(slow: pd.DataFrame) -> str:
    def share(name: str, verdicts: str) -> str:
        return _of(slow.loc[slow["trick"].eq(name), CHOICES[0]].isin(list(verdicts)).mean())

    return (
        f"At 30 x 26 'other reasonable choices' holds in {share('measures alike', 'h')} of 100 caseloads in which all measures tell the same. Where the others are unrelated loads it does not hold in {share('one measure', 'n')} of 100 and cannot tell in {share('one measure', 'c')}; where they stray far from the one that matters, "
        f"{share('noisy measures', 'n')} and {share('noisy measures', 'c')}. Where pain follows the tonnage and the plan asks about sets that stray from it, it does not hold in {share('another measure', 'n')} and cannot tell in {share('another measure', 'c')}: the plan's own measure then shows a part of it, on the same side."
    )


def _thresholds(slow: pd.DataFrame, more: pd.DataFrame) -> list[str]:
    out = []
    for name in LEAVING:
        for size, part in _sizes(more[more["rule"] == "early leavers"], name, "caseloads"):
            shares = " | ".join(
                f"{_of(((part['value'] >= t) & part['seen'].eq(1)).mean())} (from {100 * t:.0f})"
                for t in (0.1, ENOUGH, 0.3)
            )
            out.append(f"| early leavers: told | no effect; {name} | {size} | {len(part)} | {shares} |")
    for name in ("none", "real", "hidden cause"):
        for size, part in _sizes(more[more["rule"] == "yardstick"], name, "caseloads"):
            shares = " | ".join(
                f"{_of(((part['value'] >= t) & part['seen'].eq(0)).mean())} (from {t:g})"
                for t in (0.1, WEAK, 0.5)
            )
            out.append(f"| yardstick: informative | {TRICKS[name].words} | {size} | {len(part)} | {shares} |")
    for name in MEASURED:
        for size, part in _sizes(slow[slow["single_share"].notna()], name):
            clear = part["side"].ne("0") | (part["single_p"] <= JOINT)
            shares = " | ".join(
                f"{_of(((part['single_share'] >= t) & clear).mean())} (from {100 * t:.0f})"
                for t in (0.6, MOST, 0.9)
            )
            out.append(
                f"| single reading: hangs on it | {MEASURED[name].words} | {size} | {len(part)} | {shares} |"
            )
    return out
