"""What stands in a column: how much of it reads as numbers, dates or codes, its range, marks and words."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field, replace

import pandas as pd

from lagwise.caseload.cells import MISSING, number_reader
from lagwise.core.columns import Column

ANY = Column("", "number")
"""A number of any size."""
_CODE = re.compile(r"-9+|-[78]+|-1|9{2,}|8{2,}|7{2,}")
_OUT_OF = re.compile(r"[\d.,]+\s*/\s*(\d+)")
_ASKED = {"ranges": True}


@dataclass(frozen=True)
class Numbers:
    """Cells read as numbers: `share` of the filled ones that could be (marks for 'not recorded' left out),
    the smallest and largest, how many are ranges to decide on; `marks` and `words`, with their counts, are
    numbers and words that stand for no number. `values` counts the numbers that were read."""

    share: float = 0.0
    low: float = float("nan")
    high: float = float("nan")
    count: int = 0
    ranges: tuple[int, str] = (0, "")
    out_of: int = 0
    commas: int = 0
    points: int = 0
    marks: Counter[str] = field(default_factory=Counter)
    words: Counter[str] = field(default_factory=Counter)
    values: Counter[float] = field(default_factory=Counter)

    @property
    def whole(self) -> bool:
        """Whether all are whole numbers."""
        return all(value == int(value) for value in self.values)


def numbers(values: pd.Series, column: Column = ANY, *, high: float | None = None) -> Numbers:
    """What a column says, read as numbers of a column of the contract; `high` is where its scale may end."""
    texts = Counter(values.dropna().str.strip())
    wide = replace(column, low=None, high=None, kind="number")
    readers = [number_reader(c, ".", 1.0, _ASKED) for c in (column, wide)]
    if column.rated and high and high != column.high:
        readers.append(number_reader(replace(column, high=high), ".", 1.0, _ASKED))
    read: Counter[float] = Counter()
    found: dict[str, float] = {}
    words: Counter[str] = Counter()
    empty = ranges = 0
    example = ""
    for text, n in texts.items():
        if text.lower() in MISSING:
            empty += n
            continue
        for reading in (reader(text) for reader in readers):
            if reading.value is not None:
                found[text] = float(reading.value)
                if "ranges" in reading.repairs:
                    ranges, example = ranges + n, example or text
                break
        else:
            words[text] += n
    marks = _marks(found, texts, column)
    for text, value in found.items():
        if text not in marks:
            read[value] += texts[text]
    filled = sum(texts.values()) - empty
    said = sum(n for text, n in words.items() if not re.search(r"\d", text) and _mark_like(n, filled))
    share = sum(read.values()) / max(filled - sum(marks.values()) - said, 1)
    plain = Counter(
        text.count(",") - text.count(".") for text in found if re.fullmatch(r"-?\d+[.,]\d+", text)
    )
    tops = Counter(m[1] for text in texts if (m := _OUT_OF.fullmatch(text)))
    return Numbers(
        share, min(read, default=float("nan")), max(read, default=float("nan")), sum(read.values()),
        (ranges, example), int(tops.most_common(1)[0][0]) if sum(tops.values()) > 2 else 0,
        plain[1], plain[-1], marks, words, read,
    )  # fmt: skip


def _mark_like(n: int, filled: int) -> bool:
    """Whether a word stands there often enough to be an answer, and not so often that the column is words."""
    return n >= 2 and n <= 0.4 * filled


def _marks(found: dict[str, float], texts: Counter[str], column: Column) -> Counter[str]:
    """Numbers such as -99 and 999 that stand apart from all others."""
    odd = {text for text in found if _CODE.fullmatch(text)}
    rest = [value for text, value in found.items() if text not in odd]
    if not rest:
        return Counter()
    low, high = min(rest), max(rest)
    legal = column.high if column.high is not None and column.high >= high else None
    apart = {
        text
        for text in odd
        if (found[text] < 0 <= low and len(text) > 1) or found[text] > max(2 * high, legal or high, 20)
    }
    return Counter({text: texts[text] for text in apart})


def recurring(words: Counter[str], filled: int) -> tuple[str, ...]:
    """The words in a column of numbers that come again and again, as an answer of its own does."""
    return tuple(w for w, n in words.most_common(6) if not re.search(r"\d", w) and _mark_like(n, filled))
