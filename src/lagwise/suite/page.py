"""Executed notebooks as pages: self-contained HTML that asks nothing of the network."""

from __future__ import annotations

import re
from collections.abc import Collection
from importlib.resources import as_file, files
from typing import Any

from lagwise.core.errors import NotebookError
from lagwise.core.results import Caseload
from lagwise.document.html import render_html, stylesheet
from lagwise.document.markdown import escape
from lagwise.document.settle import settled
from lagwise.document.tree import Document, Heading, Inline, Span, grid, para
from lagwise.say.notebooks import TEXTS, notes, retold
from lagwise.suite.index import POLICY
from lagwise.suite.sources import glossary

GLOSSARY = "glossary.html"
"""The page of words that every page links."""
AS_WRITTEN = "as-written"
"""Tag of a text cell about an invented caseload, whose words stay on any folder."""
_FORMULA = re.compile(r"\$\$(?P<block>.+?)\$\$|(?<![\\$\w])\$(?P<inline>[^$\n]+?)\$(?![\w$])", re.DOTALL)
_LINK = re.compile(r"(?<!!)\[(?P<text>[^\]]+)\]\((?P<target>[^)\s]+)\)")


def page(notebook: Any, title: str, of: str, *, show_code: bool = False) -> str:
    """An executed notebook as one HTML file. Its code opens on a click, and with `show_code` stands open.

    Figures are inside it with their alternative text, formulas are MathML, and a content policy keeps scripts
    and outside addresses from being used, whatever a cell's output holds.

    Parameters
    ----------
    notebook : NotebookNode
        It is not changed.
    title : str
    of : str
        What it was run on, in words.
    """
    from nbconvert import HTMLExporter

    with as_file(files("lagwise.suite") / "templates") as templates:
        exporter = HTMLExporter(
            template_name="lagwise-page",
            extra_template_basedirs=[str(templates)],
            exclude_anchor_links=True,
            exclude_input_prompt=True,
            exclude_output_prompt=True,
        )
        css = stylesheet() + (templates / "page.css").read_text(encoding="utf-8")
        about = {"title": title, "of": of, "css": css, "show_code": show_code, "glossary": GLOSSARY}
        resources = {"page": about}
        text, _ = exporter.from_notebook_node(with_mathml(notebook), resources)
    return text


def glossary_page() -> str:
    """The glossary as a page: each word with its meaning."""
    text = glossary().read_text(encoding="utf-8")
    rows = [line.strip("| ").split(" | ", 1) for line in text.splitlines() if line.startswith("| ")]
    cells = [[_coded(word), _coded(meaning)] for word, meaning in rows[1:]]
    back = para(Span(TEXTS["all"], "file", "index.html"), role="note")
    words = grid("words", TEXTS["words"], rows[0], cells)
    blocks = (Heading(1, TEXTS["glossary"], "title"), back, words)
    return render_html(settled(Document(TEXTS["glossary"], blocks)), {}, head=POLICY, numbered=False)


def _coded(text: str) -> Inline:
    return tuple(Span(part, "code" if i % 2 else "plain") for i, part in enumerate(text.split("`")) if part)


def relinked(notebook: Any, there: Collection[str], ending: str) -> Any:
    """The notebook with its links to other notebooks given an ending, and links that lead nowhere as plain
    text.

    Parameters
    ----------
    there : collection of str
        Names of the notebooks that lie beside it.
    ending : str
        '.html' or '.ipynb'.
    """

    def link(match: re.Match[str]) -> str:
        target, hash_, place = match["target"].partition("#")
        if target.startswith(("https://", "http://")) or not target:
            return match[0]
        name = target.removesuffix(".ipynb")
        return f"[{match['text']}]({name}{ending}{hash_}{place})" if name in there else match["text"]

    return _with_text(notebook, lambda text: _LINK.sub(link, text))


def with_mathml(notebook: Any) -> Any:
    """The notebook with the formulas of its text cells as MathML."""
    found = [
        m for cell in notebook.cells if cell.cell_type == "markdown" for m in _FORMULA.finditer(cell.source)
    ]
    if not found:
        return notebook
    import pypandoc

    formulas = [f"$${m['block'].strip()}$$" if m["block"] else f"${m['inline'].strip()}$" for m in found]
    html = pypandoc.convert_text(
        "\n\n".join(formulas), "html", format="markdown", extra_args=["--mathml", "--wrap=none", "--quiet"]
    )
    made = re.findall(r"<math.*?</math>", html, re.DOTALL)
    if len(made) != len(formulas):
        raise NotebookError("a formula of a notebook cannot be shown", where=str(formulas))
    ready = iter(
        " ".join(re.sub(r"<annotation.*?</annotation>", "", m, flags=re.DOTALL).split()) for m in made
    )
    return _with_text(notebook, lambda text: _FORMULA.sub(lambda _: next(ready), text))


def in_words_of(notebook: Any, caseload: Caseload) -> Any:
    """The notebook with its text in the words of a caseload's plan, and below its opening a short cell of
    notes, where there is anything to note.

    Cells tagged `as-written` speak of invented records and stay; on the opening, the tag is of all. Only what
    the notebook's own text speaks of is noted: the load, what is rated.
    """
    from copy import deepcopy

    from nbformat.v4 import new_markdown_cell

    text = "\n".join(cell.source for cell in notebook.cells if cell.cell_type == "markdown")
    invented = AS_WRITTEN in notebook.cells[0].metadata.get("tags", ())
    noted = () if invented else notes(caseload)
    said = [note for word, note in noted if re.search(rf"\b{word}\b", text)]
    out = deepcopy(notebook)
    for cell in out.cells:
        if not invented and cell.cell_type == "markdown" and AS_WRITTEN not in cell.metadata.get("tags", ()):
            cell.source = retold(cell.source, caseload.study, escape)
    if said:
        note = TEXTS["in_this_folder"].format(notes=" ".join(said))
        out.cells.insert(1, new_markdown_cell(note, id="note-folder"))
    return out


def _with_text(notebook: Any, change: Any) -> Any:
    from copy import deepcopy

    out = deepcopy(notebook)
    for cell in out.cells:
        if cell.cell_type == "markdown":
            cell.source = change(cell.source)
    return out
