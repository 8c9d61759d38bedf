"""Text that tries to be a script, a formula, a template or a file to read stays text in everything that is written, and
nothing of it leaves the machine: it is written in a process whose sockets are closed."""

from __future__ import annotations

import csv
import io
import json
import re
import unicodedata
import zipfile
from html import unescape
from pathlib import Path
from xml.etree import ElementTree

import browser
import docx
import pytest
from hostile_caseload import HOSTILE, LONG, PAGES, WITHOUT_SOCKETS, python
from markdown_it import MarkdownIt
from pypdf import PdfReader

from lagwise.document.html import stylesheet
from lagwise.document.settle import settle
from lagwise.findings import Findings
from lagwise.findings.codes import shown

pytestmark = pytest.mark.xdist_group("commands")  # of one report
OURS = f"<script>\n{stylesheet('page.js').strip()}\n</script>"
"""What a report runs itself: it folds and copies."""
FORMULAS = ("=", "+", "-", "@", "\t", "\r")
NUMBER = re.compile(r"[+-]?[0-9.]+(e[+-]?[0-9]+)?( ?%)?", re.IGNORECASE)


def test_sockets_are_closed_in_that_process():
    asks = WITHOUT_SOCKETS.split("from lagwise")[0] + "socket.create_connection(('127.0.0.1', 9))"
    assert "the network was asked for" in python(asks).stderr


def files(hostile: Path, *endings: str) -> list[Path]:
    found = [
        p for p in hostile.rglob("*") if p.suffix in endings and "case" not in p.relative_to(hostile).parts
    ]
    assert found
    return found


def flat(text: str) -> str:
    """Letters and signs alone, as a layout may break lines anywhere."""
    return re.sub(r"[\s\u200b\u00ad\u200d\ufe0f]", "", unicodedata.normalize("NFKC", text)).replace(
        "\u2010", "-"
    )


def test_no_page_runs_anything_in_a_browser(hostile, tmp_path):
    assert not re.search(r"\b(fetch|import|XMLHttpRequest|WebSocket|sendBeacon|eval)\b", OURS)
    pages = files(hostile, ".html")
    assert len(pages) == 3 + len(PAGES), pages
    md = (
        MarkdownIt("commonmark", {"html": True})
        .enable("table")
        .render((hostile / "out" / "case-series.md").read_text("utf-8"))
    )
    pages.append(tmp_path / "markdown.html")
    pages[-1].write_text(f"<!doctype html><meta charset=utf-8>{md}", encoding="utf-8")
    said: list[str] = []
    with browser.browser() as opened, browser.page_or_picture(opened, "hostile") as page:
        page.on("dialog", lambda d: (said.append(f"dialog {d.message}"), d.dismiss()))
        page.on(
            "request",
            lambda r: said.append(f"request {r.url}") if not r.url.startswith(("file:", "data:")) else None,
        )
        for file in pages:
            page.goto(file.as_uri())
            page.wait_for_timeout(50)
            own = page.evaluate(
                """() => [
                    ...[...document.querySelectorAll('script, iframe, object, embed, base')].map(e => e.outerHTML),
                    ...[...document.querySelectorAll('*')].flatMap(e => [...e.attributes].filter(a => /^on/i.test(a.name) || /^\\s*javascript:/i.test(a.value)).map(a => a.name + '=' + a.value)),
                    ...[...document.querySelectorAll('img')].filter(i => !/^(data:|file:|figures)/.test(i.getAttribute('src'))).map(i => i.outerHTML),
                ]"""
            )
            said += [f"{file.name}: {one[:120]}" for one in own if one != OURS]
            page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
            text = page.evaluate("document.documentElement.outerHTML")
            assert "\u202e" not in text, file.name
            if file.name in ("case-series.html", "markdown.html"):
                text = page.evaluate("document.body.innerText")
                assert [h for h in HOSTILE if flat(settle(h)) not in flat(text)] == []
                assert "49" not in page.evaluate("document.querySelector('h1').innerText")
    assert said == []


def test_word_and_pdf_open_and_show_the_text(hostile):
    raw = (hostile / "out" / "case-series.docx").read_bytes()
    word = docx.Document(io.BytesIO(raw))
    cells = [c.text for t in word.tables for r in t.rows for c in r.cells]
    read = {"word": flat("".join([p.text for p in word.paragraphs] + cells))}
    with zipfile.ZipFile(io.BytesIO(raw)) as parts:
        for name in parts.namelist():
            if name.endswith((".xml", ".rels")):
                root = ElementTree.fromstring(parts.read(name))
                assert not [e for e in root.iter() if e.get("TargetMode") == "External"], name
                fields = [v for e in root.iter() for k, v in e.attrib.items() if k.endswith("}instr")]
                assert set(fields) <= {" PAGE ", " NUMPAGES "}, name
                assert "instrText" not in {e.tag.rpartition("}")[2] for e in root.iter()}, name
    pdf = PdfReader(hostile / "out" / "case-series.pdf")
    read["pdf"] = flat("".join(page.extract_text() for page in pdf.pages))
    objects = "".join(repr(pdf.get_object(i)) for i in range(1, int(pdf.trailer["/Size"])))
    assert "/Annots" in objects
    assert not [k for k in ("/JavaScript", "/JS", "/Launch", "/URI", "/EmbeddedFile") if f"'{k}'" in objects]
    wordless = {c for c in "".join(HOSTILE) if unicodedata.category(c) in ("Lo", "So")}
    for text in HOSTILE:
        assert flat(settle(text)) in read["word"], text
        if wordless.isdisjoint(
            text
        ):  # what typeface the machine has for other scripts is another test's question
            assert _unbracketed(flat(settle(text))) in _unbracketed(read["pdf"]), text
    assert "root:" not in read["pdf"] and "\u202e" not in read["pdf"]


def _unbracketed(text: str) -> str:
    """Without brackets, which the reader of the PDF turns round beside Arabic."""
    return re.sub(r"[][(){}<>]", "", text)


def test_no_cell_is_a_formula(hostile):
    assert not list(hostile.rglob("*.xls*"))
    for file in files(hostile, ".csv"):
        for row in csv.reader(io.StringIO(file.read_text("utf-8"))):
            assert not [c for c in row if c.startswith(FORMULAS) and not NUMBER.fullmatch(c)], (
                file.name,
                row,
            )
    each = list(csv.DictReader(io.StringIO((hostile / "out" / "each-person.csv").read_text("utf-8"))))
    assert {r["person"].removeprefix("'") for r in each} == set(HOSTILE)


def test_findings_hold_the_text_as_it_was_and_come_back(hostile):
    text = (hostile / "out" / "findings.json").read_text("utf-8")
    found = Findings.from_json(text)
    assert found.to_json() == text
    assert {p.person for p in found.people} == set(HOSTILE)
    assert all(h in found.study.title for h in HOSTILE)
    assert json.loads(text)["for_person"] == list(PAGES)


def test_labels_are_short_and_pages_have_plain_names_and_say_whose_they_are(hostile):
    pages = sorted(hostile.glob("out/person-*.html"))
    assert len(pages) == len(PAGES)
    assert all(re.fullmatch(r"person-[A-Za-z0-9-]+\.html", page.name) for page in pages)
    told = {unescape(re.findall("<title>(.*)</title>", page.read_text("utf-8"))[0]) for page in pages}
    assert told == {f"Record of {shown(code)}" for code in PAGES}
    for file in (hostile / "out" / "figures").glob("*.svg"):
        assert LONG not in file.read_text("utf-8")


def test_a_copy_to_pass_on_holds_no_code(hostile):
    copied = [p for p in (hostile / "copy").iterdir() if p.is_file()]
    assert {"checkins.csv", "sessions.csv", "people.csv", "study.toml", "risk.html"} <= {
        p.name for p in copied
    }
    for file in copied:
        text = file.read_text("utf-8")
        if file.stem not in ("sessions", "study"):  # which name the exercises and their groups
            assert not [code for code in HOSTILE if code in text], file.name
        if file.suffix == ".csv":
            assert all(row["person"].startswith("P-") for row in csv.DictReader(io.StringIO(text)))
