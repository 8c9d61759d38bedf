"""How far numbers of a version to share are rounded, so that one person more or less does not show.

One rule: a number is rounded to a unit at least as large as what one person moves it by, with room for
`FEWEST_SHOWN` ordinary people where no bound is known. Subtracting two versions one person apart then leaves
that person's part anywhere within the unit.

- Counts of people: down to a multiple of `FEWEST_SHOWN` (`share_counts.floored`).
- Other counts (person-steps, ratings, rows, events, flare-ups): to a unit of at least `FEWEST_SHOWN`, and of
  at least the most that one person can add: the longest record, the whole count, or `FEWEST_SHOWN` times the
  count per person, whichever is least.
- Means, standard deviations and quantiles over people: to `FEWEST_SHOWN` SD / n.
- Estimates with an interval: to `FEWEST_SHOWN` standard errors / sqrt(n), which is what five people one SD of
  slopes off move it by. Intervals are rounded outwards, so that they never claim more than the exact ones,
  but not past 0 or a margin of the plan, of which they claim no less either, and not past the half unit
  below what makes practically no difference from usual low to usual high.
- Chances and p: to tenths, p upwards.
"""

from __future__ import annotations

import math

from lagwise.core.numbers import FEWEST_SHOWN
from lagwise.core.study import INTERVAL

WIDTH = 2 * 1.96 if INTERVAL == 0.95 else 4.0
"""Standard errors in an interval."""
COARSE = (1, 2, 5)
FINE = (1, 1.5, 2, 3, 4, 5, 6, 8)
P_AT_MOST = (0.01, 0.05, 0.1, 0.2, 0.5, 1.0)
RELATIVE = 0.1
"""The least unit of what is read of people, as a share of its size: many people have the same."""


def nice(least: float, steps: tuple[float, ...] = COARSE) -> float:
    """The smallest of `steps` times a power of ten that is at least `least`; 0 for 0."""
    if not least > 0 or not math.isfinite(least):
        return 0.0
    power = 10.0 ** math.floor(math.log10(least))
    found = next((s * power for s in steps if s * power >= least * (1 - 1e-9)), 10 * power)
    return float(f"{found:.6g}")


def to_unit(value: float, unit: float) -> float:
    """The nearest multiple of the unit, halves away from 0; the value itself for no unit."""
    return _multiple(math.copysign(math.floor(abs(value) / unit + 0.5), value), unit) if unit > 0 else value


def outwards(low: float, high: float, unit: float, margins: tuple[float, ...] = ()) -> tuple[float, float]:
    """An interval with its lower limit rounded down and its upper limit up, neither past a margin either side
    of 0: what an interval says of 0 and of margins stays what the exact one says.

    0 is a multiple of every unit, so an end that stops there tells no more than the rounding itself. A margin
    cuts a unit once, and plans name round ones: of an interval that can lie within it half a unit is left at
    least.
    """
    if unit <= 0:
        return low, high
    down, up = _multiple(math.floor(low / unit + 1e-9), unit), _multiple(math.ceil(high / unit - 1e-9), unit)
    ends = [sign * m for m in margins for sign in (-1, 1)]
    return max([down, *(m for m in ends if m <= low)]), min([up, *(m for m in ends if m >= high)])


def count_unit(count: float, people: float, longest: float = math.inf) -> int:
    """The unit of a count that `people` people make up, none of whom can add more than `longest`."""
    each = FEWEST_SHOWN * count / people if people else count
    most = min(count, each, longest)
    return max(FEWEST_SHOWN, round(nice(most, FINE if most == longest else COARSE)))


def counted(count: float, people: float, longest: float = math.inf) -> int:
    """A count to its unit; one that is not 0 is never given as 0 but as the unit."""
    if count <= 0:
        return 0
    near = max(
        FEWEST_SHOWN, to_unit(count, FEWEST_SHOWN)
    )  # the unit itself must not tell a count from its neighbours
    unit = count_unit(near, people, longest)
    return max(unit, int(to_unit(near, unit)))


def part(count: float, of: float, people: float, longest: float = math.inf) -> tuple[int, int]:
    """A count and what it is a part of, both to their units: the smaller of the part and the rest to its own,
    the other as what is left.
    """
    whole = counted(of, people, longest)
    rest = max(0.0, of - count)
    if count <= rest:
        return min(counted(count, people, longest), whole), whole
    return max(whole - counted(rest, people, longest), 0), whole


def spread_unit(sd: float | None, size: float, people: float, steps: tuple[float, ...] = COARSE) -> float:
    """The unit of a mean, SD or quantile over people whose values have the SD `sd`, of values about as large
    as `size`.
    """
    return nice(max(FEWEST_SHOWN * (sd or 0.0) / max(people, 1), RELATIVE * abs(size)), steps)


def plain_unit(value: float, people: float, steps: tuple[float, ...] = COARSE) -> float:
    """The unit of a number without SD or interval: five people's part of it."""
    return nice(FEWEST_SHOWN * abs(value) / max(people, 1), steps)


def interval_unit(low: float, high: float, people: float) -> float:
    """The unit of an estimate over `people` people, from its interval."""
    return nice(FEWEST_SHOWN * (high - low) / WIDTH / math.sqrt(max(people, 1)))


def chance_said(probability: float) -> float:
    """A chance to the middle of its tenth: 0.05, 0.15 ... 0.95."""
    return round((min(math.floor(10 * probability + 1e-9), 9) + 0.5) / 10, 2)


def p_at_most(p: float) -> float:
    """The smallest of `P_AT_MOST` that p does not exceed."""
    return next((v for v in P_AT_MOST if p <= v + 1e-12), 1.0)


def estimate_said(
    estimate: float | None,
    low: float | None,
    high: float | None,
    people: float,
    *,
    least: float = 0.0,
    ratio: bool = False,
    margins: tuple[float, ...] = (),
    within: float = 0.0,
) -> tuple[float | None, float | None, float | None]:
    """An estimate and its interval to their unit, no finer than `least`, the ends not past `margins`; ratios
    on the log scale, where their interval is even.

    `within` is a margin that may be no round one: the ends stop at the half unit below it.
    """
    if estimate is None:
        return None, None, None
    if low is None or high is None:
        return to_unit(estimate, max(least, plain_unit(estimate, people))), None, None
    if ratio:
        if min(estimate, low) <= 0:
            return None, None, None
        logs = estimate_said(math.log(estimate), math.log(low), math.log(high), people)
        return tuple(None if v is None else float(f"{math.exp(v):.2g}") for v in logs)  # type: ignore[return-value]
    unit = max(least, interval_unit(low, high, people))
    half = _multiple(math.floor(2 * within / unit + 1e-9), unit / 2) if unit else 0.0
    low, high = outwards(low, high, unit, (*margins, half))
    return min(max(to_unit(estimate, unit), low), high), low, high


def _multiple(times: float, unit: float) -> float:
    return float(f"{times * unit:.10g}") + 0.0
