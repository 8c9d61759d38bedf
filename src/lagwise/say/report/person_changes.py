"""What changed for one person and their ratings around it, on their own page."""

from __future__ import annotations

from lagwise.core.numbers import plural
from lagwise.document.tree import Block, Heading, grid, para
from lagwise.events.phased import changes
from lagwise.findings import PersonSeries
from lagwise.say.changes.phases import rows
from lagwise.say.changes.stretches import records
from lagwise.say.report.course import events_of
from lagwise.say.report.words import Words

MOST = 5
"""Changes that the page lists, so that it stays one sheet; the picture marks all."""


def changed(one: PersonSeries, words: Words) -> list[Block]:
    """The changes that can be compared in a table, what the table is, and what it is not; nothing of a record
    in which nothing changed."""
    inside = [e for e in events_of(one) if 0 < e.start < len(one)]
    if not inside:
        return []
    found = records(changes(one.pain, inside))
    head, cells = rows(found)
    told = [
        "Dashed lines in the picture show where something changed, and flat lines your average in each part. "
    ]
    if cells:
        told.append(
            f"The table sets {words.steps} before a change beside those after it. The range is what your log "
            f"fits with, as one {words.step} tends to be like the next. The last column takes each "
            f"{words.step} before with each after, and only describes. "
        )
    if len(cells) < len(found):
        few = plural(len(found) - len(cells), "change has", "changes have")
        told.append(f"{few} too few rated {words.steps} around. ")
    if len(cells) > MOST:
        told.append(f"Only the first {MOST} are listed. ")
    told.append("Changes often come in a bad stretch, and ratings ease after one anyway. ")
    told.append("This is one person: nothing here says what the change did.")
    what = f"Your {words.asked} before and after, in {words.unit} (rated {words.steps} in brackets)"
    grids = [grid("each-change", what, head, cells[:MOST], numeric=range(1, len(head)))] if cells else []
    return [Heading(2, "What changed", "changes"), para(*told), *grids]
