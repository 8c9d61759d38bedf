"""Rebuild the generated parts of the docs: the data dictionary, the index of challenges and the README's picture."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import lagwise as lw
from lagwise.say.challenge import markdown
from lagwise.say.columns import EFFECTS

DOCS = Path(__file__).resolve().parent
sys.path.insert(0, str(DOCS))
from dictionary import with_dictionary  # noqa: E402  the page beside this one, whoever runs it

CLINIC = DOCS.parent / "data_synthetic" / "clinic"


INDEX = "## The challenges\n"


def with_index(page: str) -> str:
    """The page of challenges with the part from its index on made anew."""
    return page[: page.index(INDEX)] + INDEX + "\n" + markdown()


def effects_page() -> str:
    """The page that documents effects.csv column by column."""
    rows = "\n".join(f"| `{name}` | {meaning} |" for name, meaning in EFFECTS.items())
    return f"""# effects.csv: the tidy effect table

Every engine returns this one table, one row per estimand; `effects.csv` holds the rows of all fits of a report. Generated from `lagwise.say.columns`.

| column | meaning |
|---|---|
{rows}

The row with `primary` = true is the answer to the planned question at the study's primary contrast, in points: the joint model's (`engine` rated) where load is asked about, at least 10 people have it and `[analysis] headline` is not
"mixed"; else the mixed model's adjusted estimate (with 5 to 9 people the within-person one takes its place). Both stand in the table whatever leads; where they read differently the answer is undecided. The same estimate 'per unit' stands beside it.
`per unit` of jump is one log unit, a load 2.7 times the usual; `+50 %` is log(1.5) = 0.405 of it.
"""


def rewrite(name: str, change: Callable[[str], str]) -> None:
    """Change a page of the docs in place."""
    page = DOCS / name
    page.write_text(change(page.read_text("utf-8")), "utf-8")


def main() -> None:
    """Rebuild everything."""
    (DOCS / "effects.md").write_text(effects_page(), "utf-8")
    rewrite("data-format.md", with_dictionary)
    rewrite("challenges.md", with_index)
    caseload = lw.read(CLINIC)
    panel = lw.build_panel(caseload)
    fits = [lw.fit_mixed(panel), lw.fit_rated(panel), lw.fit_ordinal(panel, seed=1)]
    (DOCS / "figures").mkdir(exist_ok=True)
    findings = lw.collect(caseload, panel, fits, None)
    lw.figure(findings, "effects").save(DOCS / "figures" / "effects.png")


if __name__ == "__main__":
    main()
