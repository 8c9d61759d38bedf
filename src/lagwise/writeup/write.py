"""Write the case series to a folder, all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import pandas as pd

from lagwise.core.aside import begin_each
from lagwise.core.results import Panel
from lagwise.document.tree import Paper
from lagwise.findings import Findings
from lagwise.output import check_folder, whole_folder
from lagwise.writeup.csvs import table_csv, tables_csv, write_csv

if TYPE_CHECKING:
    from lagwise.say.report.document import Section

FINDINGS = "findings.json"
KIND = "report"
FEW = 4
"""Figures that are drawn in one go by one process or the other."""


def write_up(
    findings: Findings,
    out: str | Path,
    *,
    panel: Panel | None = None,
    quarantine: pd.DataFrame | None = None,
    posterior: Any = None,
    private: bool = True,
    paper: Paper = "a4",
    template: str | Path | None = None,
    also: Sequence[Section] = (),
    helper: Executor | None = None,
) -> Path:
    """Write the case series and everything beside it.

    Parameters
    ----------
    findings : Findings
        The only source of what the documents say.
    out : path
        Folder to write. It may be new, empty, or an earlier report in which every file is as it was written
        (manifest.json lists them), which is then replaced as a whole.
    panel, quarantine, posterior : optional
        Written as panel.csv, quarantine.csv and posterior.nc when given.
    private : bool
        False makes a version to share: `lagwise.writeup.share.shared`, and no panel.csv, quarantine.csv or
        posterior.nc.
    paper : 'a4' or 'letter'
        Page of the PDF and the Word document.
    template : path, optional
        Folder of the author's own sections, see `lagwise.writeup.own_sections`.
    also : sections of your own, optional
        Functions of the shape in `lagwise.say.report.document.Section`, whose blocks stand after the limits.
    helper : concurrent.futures.Executor, optional
        Another process, which draws the figures.

    Returns
    -------
    pathlib.Path
        The folder, with case-series.html, .md, .docx and .pdf, findings.json, effects.csv, challenges.csv,
        each-person.csv (private only), stretches.csv where the plan names stretches of the calendar,
        attempts.csv where events are followed,
        figures/ (png, svg and csv of each), manifest.json and a page for each person in
        `findings.for_person`.

    Raises
    ------
    WriteUpError
        When `out` holds anything else, lies in a caseload folder or cannot be written; what was there stays
        as it was.

    Examples
    --------
    >>> import lagwise as lw
    >>> out = lw.write_up(findings, folder / "report")
    >>> sorted(path.suffix for path in out.glob("case-series.*"))
    ['.docx', '.html', '.md', '.pdf']
    """
    from lagwise.writeup.own_sections import read_own_sections
    from lagwise.writeup.share import shared

    target = check_target(out)
    own = read_own_sections(template) if template is not None else {}
    with whole_folder(target, "the report", kind=KIND, private=private) as work:

        def tables() -> None:
            for name, frame in (
                ("panel", None if panel is None else panel.frame),
                ("quarantine", quarantine),
            ):
                if frame is not None and private:
                    with (work / f"{name}.csv").open("w", encoding="utf-8", newline="") as to:
                        write_csv(frame, to)

        told = findings if private else shared(findings)
        made = files(told, paper=paper, own=own, also=also, helper=helper, meanwhile=tables)
        for name, content in made.items():
            path = work / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        if posterior is not None and private:
            posterior.to_netcdf(work / "posterior.nc", engine="h5netcdf")
    return target


def files(
    findings: Findings,
    *,
    paper: Paper = "a4",
    own: Mapping[str, str] = MappingProxyType({}),
    also: Sequence[Section] = (),
    helper: Executor | None = None,
    meanwhile: Callable[[], None] = lambda: None,
) -> dict[str, bytes]:
    """Every file that is made from the findings and the author's `own` sections, by its path inside the
    report folder. `meanwhile` is called while the helper draws.
    """
    from lagwise.document.html import numbers, render_html
    from lagwise.document.markdown import render_md
    from lagwise.say.report.document import document, on_a_screen, on_sheets, with_sources
    from lagwise.say.report.figures import figures
    from lagwise.writeup.draw import draw_all
    from lagwise.writeup.own_sections import with_own_sections
    from lagwise.writeup.render_docx import render_docx
    from lagwise.writeup.render_pdf import render_pdf
    from lagwise.writeup.render_person import person_files

    pictures = figures(findings)
    named = list(pictures.items())
    few = [dict(named[at : at + FEW]) for at in range(0, len(named), FEW)]
    drawing = begin_each(helper, draw_all, [(some,) for some in few])
    meanwhile()
    told = document(findings, paper=paper, also=also, pictures=pictures)
    sheets = on_sheets(with_own_sections(told, own, findings))
    page = on_a_screen(with_own_sections(with_sources(findings, also=also), own, findings))
    drawn = {name: made for some in drawing() for name, made in some.items()}
    made_on = findings.provenance.made_on
    with ThreadPoolExecutor(
        2
    ) as side:  # pandoc is a process of its own, and Typst works outside the interpreter lock
        word, pdf = (
            side.submit(render, sheets, drawn, made_on=made_on) for render in (render_docx, render_pdf)
        )
        html = render_html(page, drawn, numbered=numbers(sheets))
        docx, printed = (
            word.result(),
            pdf.result(),
        )  # here, so that whoever ends the run still waits for both to tidy up
    out = {
        "case-series.html": html.encode("utf-8"),
        "case-series.md": render_md(sheets).encode("utf-8"),
        "case-series.docx": docx,
        "case-series.pdf": printed,
        FINDINGS: findings.to_json().encode("utf-8"),
        **{name: text.encode("utf-8") for name, text in tables_csv(findings).items()},
    }
    for name, picture in pictures.items():
        out[f"figures/{name}.csv"] = table_csv(picture.data).encode("utf-8")
        for kind, content in drawn[name].items():
            out[f"figures/{name}.{kind}"] = content
    return out | person_files(findings)


def check_target(out: str | Path, *, reading: str | Path | None = None) -> Path:
    """The folder to write, resolved, when a report may go there: new, empty, or an earlier report as it was
    written.

    `reading` is the caseload folder, if there is one.

    Raises
    ------
    WriteUpError
        When it is a file, lies in a caseload folder, or holds anything else.
    """
    return check_folder(out, kind=KIND, what="report", reading=None if reading is None else Path(reading))
