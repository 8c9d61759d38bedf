"""Two reports of one study set side by side: what came in, what changed and how the estimates moved."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from lagwise.document.html import render_html
from lagwise.document.markdown import render_md, spans
from lagwise.document.settle import settled
from lagwise.document.tree import Block, Document, Figure, Heading
from lagwise.findings import Findings, Part
from lagwise.findings.look_back import findings_at, look_back
from lagwise.findings.since import Since
from lagwise.output import check_folder, whole_folder
from lagwise.say.report.document import mark
from lagwise.say.report.since import CAPTION, TITLE, parts, picture
from lagwise.say.report.since_said import cautions, known, opening
from lagwise.say.report.words import Words
from lagwise.writeup.draw import draw_all

KIND = "compare"


@dataclass(frozen=True)
class Compared:
    """Two reports side by side, which show themselves in words as the last line of a notebook cell.

    `findings` are those of the later report with `since` what changed; `times` says how often the question
    has been asked.
    """

    findings: Findings

    @property
    def since(self) -> Since:
        """Everything that changed, as numbers and codes."""
        return known(self.findings)

    @property
    def times(self) -> int:
        """How often the question has been asked, the later report included."""
        return self.since.times

    @property
    def moves(self) -> pd.DataFrame:
        """One row per estimate: what it is of, both estimates with intervals, their difference, how far new
        data alone take it (`reach`), and the verdict: 'within', 'beyond', 'cannot_tell', 'new' or 'gone'.
        """
        rows = self.since.model_dump()["moves"]
        flat = [{**r, **_beside(r.pop("old"), "old"), **_beside(r.pop("new"), "new")} for r in rows]
        return pd.DataFrame(flat)

    @property
    def counts(self) -> pd.DataFrame:
        """The record, counted in either report: name, old, new."""
        return _frame(self.since.counts)

    @property
    def verdicts(self) -> pd.DataFrame:
        """How each challenge ended in either report: name, title, old, new."""
        return _frame(self.since.verdicts)

    @property
    def title(self) -> str:
        """Title of the comparison."""
        return f"{TITLE}: {self.findings.study.title.strip()}"

    @property
    def opening(self) -> tuple[Block, ...]:
        """What came in, how the main estimate moved, how often it was asked, and what weakens that."""
        return (*opening(self.findings), *cautions(self.findings))

    def __repr__(self) -> str:
        told = (spans(block.spans) for block in opening(self.findings))
        return "\n\n".join((self.title, *told))

    def _repr_markdown_(self) -> str:
        return repr(self)

    def write(self, out: str | Path) -> Path:
        """Write compare.html, compare.md, compare.json and the figure to a folder, all of it or nothing.

        Raises
        ------
        WriteUpError
            When `out` holds anything but an earlier comparison as it was written, lies in a caseload folder
            or cannot be written.
        """
        target = check_folder(out, kind=KIND, what="comparison")
        with whole_folder(target, "the comparison", kind=KIND, private=not self.findings.shared) as work:
            for name, content in self._files().items():
                path = work / name
                path.parent.mkdir(exist_ok=True)
                path.write_bytes(content)
        return target

    def _files(self) -> dict[str, bytes]:
        words = Words(self.findings)
        pictures = picture(self.findings, words)
        drawn = draw_all(pictures)
        figures: list[Block] = [Figure(name, CAPTION, one.alt) for name, one in pictures.items()]
        rest = parts(self.findings, level=2)
        blocks = (Heading(1, self.title, "title"), *self.opening, *figures, *rest)
        page = settled(Document(self.title, blocks, words.language, mark(self.findings)))
        made = '<meta name="generator" content="lagwise compare">'
        files = {
            "compare.html": render_html(page, drawn, head=made).encode("utf-8"),
            "compare.md": render_md(page).encode("utf-8"),
            "compare.json": (self.since.model_dump_json(indent=1) + "\n").encode("utf-8"),
        }
        return files | {f"figures/{n}.{kind}": b for n, own in drawn.items() for kind, b in own.items()}


def since(new: Findings | str | Path, old: Findings | str | Path) -> Compared:
    """What changed since an earlier report of the same study.

    Parameters
    ----------
    new, old : Findings or path
        The later and the earlier report: what `collect` returns, the folder that a report wrote, or its
        findings.json.

    Returns
    -------
    Compared
        With `moves`, `counts` and `verdicts` as tables, `times`, and `write(out)` for the page. Two fits are
        set side by side by `compare`.

    Raises
    ------
    WriteUpError
        When a file holds no findings, or the two do not ask the same of the same study.

    Examples
    --------
    >>> first = lw.collect(caseload, panel, [lw.fit_mixed(panel)], None)
    >>> found = lw.since(first, first)
    >>> found.since.cautions
    ('same',)
    >>> found.times
    1
    """
    later, earlier = (f if isinstance(f, Findings) else findings_at(f) for f in (new, old))
    return Compared(later.model_copy(update={"since": look_back(later, earlier)}))


def place_beside(new: Path, old: Path, out: Path | None = None) -> Path:
    """Where a comparison goes: `out`, else a folder beside the later report, named after both."""
    later, earlier = (
        path.parent if path.suffix == ".json" else path for path in (new.resolve(), old.resolve())
    )
    place = later.with_name(f"{later.name}-since-{earlier.name}") if out is None else out
    return check_folder(place, kind=KIND, what="comparison")


def _beside(at: dict | None, when: str) -> dict:
    return {f"{k}_{when}": v for k, v in (at or {}).items()}


def _frame(rows: tuple[Part, ...]) -> pd.DataFrame:
    return pd.DataFrame([row.model_dump() for row in rows])
