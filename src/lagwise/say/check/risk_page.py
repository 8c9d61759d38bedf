"""risk.html: what could still be recognised, in plain words first, then in tables."""

from __future__ import annotations

import math

from lagwise.caseload.risk import Risk, percent
from lagwise.caseload.singled_out import Share
from lagwise.document.html import render_html
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Document, Grid, Heading, bullets, grid, para
from lagwise.say.check.risk import NOT_ANONYMOUS

_CSS = ".group th { padding-top: 1rem; font-weight: 600; }\n"
TITLE = "What could still be recognised"

METHOD = (
    "How it is counted. Take a person at random, and some of what is recorded of that person at random. The "
    "person is singled out when this fits nobody else here. The percentage is the average over people and "
    "over what may be known of them; every set of points is tried where there are few, else at least 20 of "
    "each person are drawn, with a fixed seed (standard error at most {error:.1f} percentage points). "
    "'Before' somebody knows the dates; 'after' the dates were moved, so that weekdays and the days between "
    "two known points are what is left of them. Somebody who knows such a thing with an error, or not for "
    "sure that the "
    "person is here, finds fewer; somebody who knows things of several kinds finds more.",
    "Whether the dates of everybody are moved or start in the same week (--relative) makes no difference to "
    "somebody who knows the days between. In a copy with --weekly-sums a rating is the mean of its week.",
)

KNOWN = ("How many known", "Before", "In this copy", "People mostly found")


def sentences(risk: Risk) -> list[str]:
    """The first paragraph: what a little knowledge does, before and after."""
    out = []
    for one in risk.headlines():
        at = one.kind.counts.index(one.kind.headline)
        before, after = one.before[at], one.after[at]
        if not math.isnan(before.mean):
            now = "it is not told any more" if math.isnan(after.mean) else f"in {percent(after)} of 100"
            out.append(
                f"Somebody knows {one.kind.spoken}: in {percent(before)} of 100 such cases this fits one "
                f"person only in the files as they were; in this copy, {now}."
            )
    return out


def risk_page(risk: Risk) -> str:
    """The risk as one HTML page; everything from the data is escaped."""
    kinds = [
        (str(k), shown(before), shown(after), _mostly(after))
        for one in risk.told
        for k, before, after in zip(one.kind.counts, one.before, one.after, strict=True)
    ]
    known = [one.kind.words for one in risk.told for _ in one.kind.counts]
    error = 100 * max((s.error for one in risk.told for s in (*one.before, *one.after)), default=0.0)
    facts = [tuple(map(str, fact)) for fact in risk.facts]
    what = "What a copy made with these options would leave, each line worked out on this caseload"
    blocks: tuple[Block, ...] = (
        Heading(1, TITLE, "title"),
        para(NOT_ANONYMOUS, role="lead"),
        para(f"This copy holds {risk.people} people. What a little knowledge of one of them does:"),
        bullets(*sentences(risk)),
        Heading(2, "Singled out by what somebody may know", "known"),
        grid(
            "singled-out",
            "People mostly found: those whom more than half of what may be known of them tells from all "
            "others, in this copy",
            KNOWN, kinds, numeric=range(4), groups=known,
        ),
        Heading(2, "What lowers it", "lowers"),
        lessened(risk, what, whole=True),
        *map(para, (METHOD[0].format(error=max(error, 0.1)), METHOD[1])),
        Heading(2, "Single facts", "facts"),
        grid("single", "What single columns hold", ("What", "Value", "Meaning"), facts),
    )  # fmt: skip
    return render_html(settled(Document(TITLE, blocks)), {}, css=_CSS, numbered=False)


def lessened(risk: Risk, caption: str, *, whole: bool = False) -> Grid:
    """What other copies would leave of each kind of knowledge; `whole`: in words and as an option."""
    first = ("Copy", "Option") if whole else ("copy",)
    rows = [
        (
            *((words, option) if whole else (option or words,)),
            *(shown(s) if whole else percent(s) for s in shares),
        )
        for words, option, shares in risk.copies()
    ]
    head = (*first, *(one.kind.short for one in risk.headlines()))
    return grid("lowered", caption, head, rows, numeric=range(len(first), len(head)))


def shown(share: Share) -> str:
    """'40 %', or 'not there' where nobody has so many points."""
    return f"{percent(share)} %" if share.people else "not there"


def _mostly(share: Share) -> str:
    return "-" if math.isnan(share.mostly) else f"{100 * share.mostly:.0f} %"
