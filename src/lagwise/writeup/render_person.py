"""One person's page as one self-contained HTML file, for a phone and for paper."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from importlib.resources import files

from lagwise.document.html import render_html
from lagwise.document.tree import Document, Figure, para
from lagwise.findings import Findings
from lagwise.findings.codes import page_name
from lagwise.say.report.person import course, foot, page
from lagwise.say.report.person_changes import numbers_of
from lagwise.writeup.csvs import frame_csv, table_csv


def render_person(document: Document, drawn: Mapping[str, bytes], *, made: str) -> str:
    """HTML text of a page; `drawn` holds the files of its one picture, `made` the small print at its foot.
    Every text is escaped.
    """
    css = (files("lagwise.writeup") / "templates" / "person.css").read_text(encoding="utf-8")
    figure = next(b for b in document.blocks if isinstance(b, Figure))
    whole = replace(document, blocks=(*document.blocks, para(made, role="note")))
    hidden = '<meta name="robots" content="noindex">'
    return render_html(whole, {figure.name: drawn}, head=hidden, css=css, numbered=False)


def person_files(findings: Findings) -> dict[str, bytes]:
    """Every page asked for, with its picture, the picture's data and everything known of its changes, by path
    inside the report folder."""
    from lagwise.writeup.draw import draw_all

    out: dict[str, bytes] = {}
    codes = [p.person for p in findings.people]
    pictures = {code: course(findings, code) for code in findings.for_person}
    drawn = draw_all(pictures)
    for code, picture in pictures.items():
        name = page_name(code, codes)
        html = render_person(page(findings, code), drawn[code], made=foot(findings))
        out[f"{name}.html"] = html.encode("utf-8")
        out |= {f"figures/{name}.{kind}": content for kind, content in drawn[code].items()}
        out[f"figures/{name}.csv"] = table_csv(picture.data).encode("utf-8")
        found = numbers_of(next(p for p in findings.people if p.person == code))
        if len(found):
            out[f"figures/{name}-changes.csv"] = frame_csv(found).encode("utf-8")
    return out
