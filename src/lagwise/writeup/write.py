"""Write the case series to a folder, all of it or nothing."""

from __future__ import annotations

import json
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from types import MappingProxyType
from typing import Any

import pandas as pd

from lagwise.core.aside import begin
from lagwise.core.errors import LagwiseError, WriteUpError
from lagwise.core.results import Panel
from lagwise.writeup.content import Paper
from lagwise.writeup.csvs import challenges_csv, each_person_csv, effects_csv, frame_csv, table_csv
from lagwise.writeup.findings import SCHEMA_NAME, Findings

MARKER = "findings.json"


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
    helper: Executor | None = None,
) -> Path:
    """Write the case series and everything beside it.

    Parameters
    ----------
    findings : Findings
        The only source of what the documents say.
    out : path
        Folder to write. It may be new, empty, or a former report, which is then replaced as a whole.
    panel, quarantine, posterior : optional
        Written as panel.csv, quarantine.csv and posterior.nc when given.
    private : bool
        False makes a version to share: `lagwise.writeup.share.shared`, and no panel.csv, quarantine.csv or posterior.nc.
    paper : 'a4' or 'letter'
        Page of the PDF and the Word document.
    template : path, optional
        Folder of the author's own sections, see `lagwise.writeup.own_sections`.
    helper : concurrent.futures.Executor, optional
        Another process, which draws the figures.

    Returns
    -------
    pathlib.Path
        The folder, with case-series.html, .md, .docx and .pdf, findings.json, effects.csv, challenges.csv, each-person.csv (private only),
        figures/ (png, svg and csv of each) and a page for each person in `findings.for_person`.

    Raises
    ------
    WriteUpError
        When `out` holds something else or cannot be written; what was there stays as it was.
    """
    from lagwise.writeup.own_sections import read_own_sections
    from lagwise.writeup.share import shared

    target = check_target(out)
    own = read_own_sections(template) if template is not None else {}
    with whole_folder(target, "the report") as work:
        for name, content in files(
            findings if private else shared(findings), paper=paper, own=own, helper=helper
        ).items():
            path = work / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content)
        if panel is not None and private:
            (work / "panel.csv").write_text(frame_csv(panel.frame), encoding="utf-8", newline="")
        if quarantine is not None and private:
            (work / "quarantine.csv").write_text(frame_csv(quarantine), encoding="utf-8", newline="")
        if posterior is not None and private:
            posterior.to_netcdf(work / "posterior.nc", engine="h5netcdf")
    return target


def files(
    findings: Findings,
    *,
    paper: Paper = "a4",
    own: Mapping[str, str] = MappingProxyType({}),
    helper: Executor | None = None,
) -> dict[str, bytes]:
    """Every file that is made from the findings and the author's `own` sections, by its path inside the report folder."""
    from lagwise.writeup.document import document
    from lagwise.writeup.figures import draw_all, figures
    from lagwise.writeup.own_sections import with_own_sections
    from lagwise.writeup.render_docx import render_docx
    from lagwise.writeup.render_html import render_html
    from lagwise.writeup.render_md import render_md
    from lagwise.writeup.render_pdf import render_pdf
    from lagwise.writeup.render_person import person_files

    pictures = figures(findings)
    drawing = begin(helper, draw_all, pictures)
    tree = with_own_sections(document(findings, paper=paper), own, findings)
    drawn = drawing()
    made_on = findings.provenance.made_on
    with ThreadPoolExecutor(2) as side:  # pandoc is a process of its own, and Typst works outside the interpreter lock
        word, pdf = (side.submit(render, tree, drawn, made_on=made_on) for render in (render_docx, render_pdf))
        html = render_html(tree, drawn)
    out = {
        "case-series.html": html.encode("utf-8"),
        "case-series.md": render_md(tree).encode("utf-8"),
        "case-series.docx": word.result(),
        "case-series.pdf": pdf.result(),
        MARKER: findings.to_json().encode("utf-8"),
        "effects.csv": effects_csv(findings).encode("utf-8"),
        "challenges.csv": challenges_csv(findings).encode("utf-8"),
    }
    if "people" in findings.tables:
        out["each-person.csv"] = each_person_csv(findings).encode("utf-8")
    for name, picture in pictures.items():
        out[f"figures/{name}.csv"] = table_csv(picture.data).encode("utf-8")
        for kind, content in drawn[name].items():
            out[f"figures/{name}.{kind}"] = content
    return out | person_files(findings)


def check_target(out: str | Path, *, marker: str = MARKER, schema: str = SCHEMA_NAME, what: str = "report") -> Path:
    """The folder to write, resolved, when a report may go there: new, empty, or a former report.

    A former one is known by its file `marker`, JSON whose schema_name is `schema`; `what` it is called in errors.

    Raises
    ------
    WriteUpError
        When it is a file, or a folder that holds something else.
    """
    target = Path(out).resolve()
    if target.exists() and not target.is_dir():
        raise WriteUpError("this is a file, not a folder", where=str(out), mend=f"Name a folder for the {what}.")
    if target.is_dir() and any(target.iterdir()) and not _former(target / marker, schema):
        raise WriteUpError(
            f"the folder is not empty and holds no earlier {what}",
            where=str(out),
            mend="Name a new folder, or empty this one yourself.",
        )
    return target


@contextmanager
def whole_folder(target: Path, what: str, error: type[LagwiseError] = WriteUpError) -> Iterator[Path]:
    """A folder to fill, which takes the place of `target` once the block has ended well; else what was there stays.

    Parameters
    ----------
    target : Path
        As `check_target` gives it.
    what : str
        What is written, as the subject of an error: 'the report'.
    error : type
        The project's error to raise.

    Raises
    ------
    LagwiseError
        `error`, for anything the system refuses while the folder is filled or put in its place.
    """
    work = None
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
        yield work
        work.chmod(0o755)
        _replace_folder(work, target)
    except OSError as refused:
        raise error(
            f"{what} cannot be written ({refused.strerror or refused})",
            where=str(target),
            mend="Choose a folder you may write to.",
        ) from refused
    finally:
        if work is not None:
            shutil.rmtree(work, ignore_errors=True)


def _former(marker: Path, schema: str) -> bool:
    try:
        return json.loads(marker.read_bytes())["schema_name"] == schema
    except (OSError, ValueError, KeyError, TypeError):
        return False


def _replace_folder(work: Path, target: Path) -> None:
    """Put `work` in the place of `target`; the old folder comes back when that fails."""
    if not target.exists():
        work.rename(target)
        return
    aside = Path(tempfile.mkdtemp(prefix=f".{target.name}-old-", dir=target.parent))
    target.rename(aside / "report")
    try:
        work.rename(target)
    except OSError:
        (aside / "report").rename(target)
        raise
    finally:
        shutil.rmtree(aside, ignore_errors=True)
