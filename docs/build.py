"""Rebuild the generated parts of the docs: the data dictionary, the index of challenges and the README's picture."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import lagwise as lw
from lagwise.caseload.dictionary import with_dictionary
from lagwise.challenges.registry import markdown

DOCS = Path(__file__).resolve().parent
CLINIC = DOCS.parent / "data_synthetic" / "clinic"


INDEX = "## The challenges\n"


def with_index(page: str) -> str:
    """The page of challenges with the part from its index on made anew."""
    return page[: page.index(INDEX)] + INDEX + "\n" + markdown()


def rewrite(name: str, change: Callable[[str], str]) -> None:
    """Change a page of the docs in place."""
    page = DOCS / name
    page.write_text(change(page.read_text("utf-8")), "utf-8")


def main() -> None:
    """Rebuild everything."""
    rewrite("data-format.md", with_dictionary)
    rewrite("challenges.md", with_index)
    caseload = lw.read(CLINIC)
    panel = lw.build_panel(caseload)
    fits = [lw.fit_mixed(panel), lw.fit_ordinal(panel, seed=1)]
    (DOCS / "figures").mkdir(exist_ok=True)
    findings = lw.collect(caseload, panel, fits, None)
    lw.figure(findings, "effects").save(DOCS / "figures" / "effects.png")


if __name__ == "__main__":
    main()
