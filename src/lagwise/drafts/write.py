"""Somebody's files -> a caseload folder: copies of them, and a draft of a study plan beside them."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from lagwise.core.claim import words
from lagwise.core.errors import CaseloadError
from lagwise.drafts.guess import Draft
from lagwise.drafts.looking import look_at
from lagwise.drafts.plan import drafted
from lagwise.output import check_folder, whole_folder


def draft(files: Iterable[str | Path] | str | Path, folder: str | Path) -> Draft:
    """Look at existing files and write a caseload folder with a draft of its study plan.

    Parameters
    ----------
    files : path or paths
        Spreadsheets and text tables (.xlsx, .csv, .tsv, .txt, .parquet) or folders that hold them. They are
        copied, never moved or changed. At most the first 5000 rows of a sheet are looked at.
    folder : path
        A new or empty folder. It gets the copies and study.toml with `reviewed = false`: every guess is a
        line that ends in `# sure: why`, `# look at this: why` or `# not used: why`. Nothing is analysed on
        a guess: `lagwise.read` for an analysis waits for `reviewed = true`.

    Returns
    -------
    Draft
        The same guesses as values. Columns that look as if they could tell who somebody is (names, phone
        numbers, birth dates, free text) are in `left_out`, never in a table; they stay in the copies.

    Raises
    ------
    CaseloadError
        When a path leads nowhere, nothing in the files looks like a log, or the folder cannot be written.

    Examples
    --------
    >>> from pathlib import Path
    >>> rows = ["Code,Day,NRS (0-10)", *[f"K{i % 3},2025-09-{i + 1:02d},{i % 7}" for i in range(21)]]
    >>> _ = Path("my diary.csv").write_text("\\n".join(rows))
    >>> guesses = lw.draft("my diary.csv", "diary-caseload")
    >>> [(g.key, g.value, g.certainty) for g in guesses.section("tables.checkins.columns")]
    [('person', 'Code', 'sure'), ('date', 'Day', 'sure'), ('pain', 'NRS (0-10)', 'sure')]
    """
    given = [files] if isinstance(files, str | Path) else list(files)
    target = check_folder(folder, what="caseload", error=CaseloadError)
    seen = look_at(given)
    made = drafted(seen, _title(given))
    if not made.tables:
        first = "; ".join(made.not_read[:3])
        raise CaseloadError(
            f"no log was found: {first or 'there is no file in it'}".rstrip("."),
            where=", ".join(map(str, given[:3])),
            mend="A log has a column with codes of people, one with dates, and ratings or loads beside them.",
        )
    with whole_folder(target, "the caseload", CaseloadError) as work:
        for name, content in made.copies.items():
            (work / name).write_bytes(content)
        (work / "study.toml").write_text(words("draft_text.draft_text")(made), encoding="utf-8", newline="\n")
    return made


def _title(given: list[str | Path]) -> str:
    first = Path(given[0]) if given else Path("log")
    return first.resolve().name if len(given) == 1 and first.is_dir() else first.stem
