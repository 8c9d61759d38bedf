"""docs/fooled.md from the rows that tests/bench/fooling.py stored and the text beside this file."""

from __future__ import annotations

from collections.abc import Callable
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
TEXT = Path(__file__).with_suffix(".md").read_text(encoding="utf-8")


def page() -> str:
    """The page, made from the stored rows alone."""
    rows, slow, more = (
        pd.read_csv(file, dtype={"side": str, "joint": str}) for file in (STORED, MORE, THRESHOLDS)
    )

    def by_size(share: Callable[[pd.DataFrame], float]) -> dict[str, str]:
        return {name: _by_size(rows, name, share) for name in TRICKS}

    def verdicts(challenge: str) -> dict[str, dict[str, str]]:
        parts = slow[slow[challenge].notna()].groupby("trick")[challenge]
        return {str(name): {v: _of(float(said.eq(v).mean())) for v in "hcn"} for name, said in parts}

    honest = rows[rows["trick"].isin(["none", "real"])]
    return TEXT.format(
        everywhere=", ".join(TITLE[c].lower() for c in EVERYWHERE), intervals="\n".join(_intervals(rows)),
        heads_verdicts=" | ".join(TITLE[c] for c in EVERYWHERE), verdicts="\n".join(_verdicts(rows)), slow="\n".join(_slow(rows, slow)),
        apart=by_size(lambda part: float((part["apart_p"] <= LEVEL).mean())), turned=_of(float(honest["turned"].gt(0).mean())),
        fell=by_size(lambda part: float(part["leave_one_person_out"].eq("n").mean())), out=by_size(_out), fooled=by_size(_fooled),
        mixed=by_size(lambda part: float(part["side"].ne("0").mean())), joint=by_size(lambda part: float(part["joint"].isin(["+", "-"]).mean())),
        informative=by_size(lambda part: float(part["unmeasured_confounding"].eq("i").mean())), gaps=verdicts(GAPS[0]), choices=verdicts(CHOICES[0]),
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
