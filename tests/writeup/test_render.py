import io
import itertools
import re
import shutil
import subprocess
import zipfile
from html.parser import HTMLParser
from itertools import pairwise

import docx
import pytest
import writeup_inputs as made
from docx.oxml.ns import qn
from markdown_it import MarkdownIt
from pypdf import PdfReader
from test_render_pdf import spoken

from lagwise.document.markdown import escape, render_md
from lagwise.document.tree import Box, Document, Figure, Grid, Heading, Para, grid, inline, para, strong, walk
from lagwise.findings.codes import with_pages
from lagwise.say.report.document import document, on_sheets
from lagwise.writeup.render_docx import render_docx
from lagwise.writeup.widths import TOGETHER

pytestmark = pytest.mark.xdist_group("browser")  # files that are made once


@pytest.fixture(scope="module")
def findings():
    return with_pages(made.whole(), ["P01"])


@pytest.fixture(scope="module")
def written(findings):
    return made.whole_files()


class Tags(HTMLParser):
    def __init__(self, html):
        super().__init__()
        self.seen, self.text = [], []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.text.append(data)


def test_html_stands_alone_and_can_be_navigated(written):
    tags = Tags(written["case-series.html"].decode())
    assert not [a for t, a in tags.seen if t in ("link", "iframe") or (t == "script" and a)]
    assert not [a for _, a in tags.seen if re.match(r"https?:|//", a.get("src", a.get("href", "")))]
    levels = [int(t[1]) for t, _ in tags.seen if re.fullmatch(r"h[1-6]", t)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(b - a <= 1 for a, b in itertools.pairwise(levels))
    ids = [a["id"] for _, a in tags.seen if "id" in a]
    assert len(ids) == len(set(ids))
    targets = {a["href"][1:] for t, a in tags.seen if t == "a"}
    assert targets <= set(ids)
    assert {a["scope"] for t, a in tags.seen if t == "th"} == {"col", "row"}
    assert sum(t == "caption" for t, _ in tags.seen) == sum(t == "table" for t, _ in tags.seen) > 4


def test_markdown_escapes_what_markdown_would_read():
    told = (
        "- item", "1. one", "# head", "a*b*c", "x_y_z", "[a](b)", "`c`", "<b>", "a | b", "+ plus", "&lt;",
        "a\\b", "~~x~~",
    )  # fmt: skip
    for text in told:
        html = MarkdownIt("commonmark").enable(["table", "strikethrough"]).render(escape(text))
        tags = Tags(html)
        assert "".join(tags.text).strip() == text
        assert {t for t, _ in tags.seen} == {"p"}


def test_markdown_escapes_nothing_within_a_line_that_begins_a_list_only_at_its_start():
    run = inline(strong("Step"), ". Each week, 3 ", "- 4; + 5", ".")
    tree = Document("t", (para(*run), para("3. three"), grid("g", ".", ("=",), [("- 1", "+ 2")])))
    assert render_md(tree) == (
        "**Step**. Each week, 3 - 4; + 5.\n\n3\\. three\n\n**Table 1.** .\n\n| = |\n| --- |\n| - 1 | + 2 |\n"
    )


def test_word_document_has_real_styles(findings, written):
    word = docx.Document(io.BytesIO(written["case-series.docx"]))
    styles = [p.style.name for p in word.paragraphs]
    assert styles[0] == "Title"
    assert {"Heading 1", "Heading 2", "Table Caption", "Image Caption", "Lead", "Box"} <= set(styles)
    assert len(word.tables) == sum(isinstance(b, Grid) for b in on_sheets(document(findings)).blocks)  # fmt: skip
    shown = {b.name for b in walk(document(findings).blocks) if isinstance(b, Figure)}
    drawn = {name.split("/")[-1].removesuffix(".png") for name in written if name.endswith(".png")}
    assert len(word.inline_shapes) == len(shown) and drawn - shown == {
        "coverage", "person-P01"
    }  # fmt: skip  # the timeline stands for one, the other is on a page of its own
    alts = re.findall(
        r'<wp:docPr [^>]*descr="([^"]*)"',
        zipfile.ZipFile(io.BytesIO(written["case-series.docx"])).read("word/document.xml").decode(),
    )
    assert len(alts) == len(word.inline_shapes) and all(len(a) > 10 for a in alts)
    gap = [r for p in word.paragraphs for r in p.runs if r.style.name == "To Fill In"]
    assert len(gap) >= 6
    assert word.sections[0].page_width.mm == pytest.approx(210, abs=0.5)


def test_the_same_content_in_every_format(findings, written):
    tree = document(findings)
    html = " ".join("".join(Tags(written["case-series.html"].decode()).text).split())
    word = docx.Document(io.BytesIO(written["case-series.docx"]))
    said = " ".join(
        " ".join(
            [p.text for p in word.paragraphs] + [c.text for t in word.tables for r in t.rows for c in r.cells]
        ).split()
    )
    md = Tags(MarkdownIt("commonmark").enable("table").render(written["case-series.md"].decode()))
    plain = " ".join("".join(md.text).split())
    for block in walk(tree.blocks):
        if isinstance(block, Para) and (block.role == "screen" or all(s.kind == "link" for s in block.spans)):
            continue  # leads on from a door, or into a picture
        for text in () if isinstance(block, Box) else spoken(block):
            flat = " ".join(text.split())
            assert flat in html and flat in said and flat in plain, flat


def test_a_blank_is_marked_in_every_format(written):
    assert 'class="blank"' in written["case-series.html"].decode()
    assert "**\\[author to fill in: approval" in written["case-series.md"].decode()


def test_characters_that_xml_cannot_hold_are_left_out():
    tree = Document("a\x00b", (Heading(1, "a\x00b", "title"), para("c\x0bd")))
    word = docx.Document(io.BytesIO(render_docx(tree, {}, made_on="2024-05-01")))
    assert [p.text for p in word.paragraphs] == ["ab", "cd"]
    assert word.core_properties.created.isoformat().startswith("2024-05-01")
    assert render_md(tree).startswith("# a")


def test_every_page_of_the_word_document_says_who_may_see_it(findings, written):
    section = docx.Document(io.BytesIO(written["case-series.docx"])).sections[0]
    assert section.header.paragraphs[0].text == f"{findings.study.title}\tPrivate: shows single people"
    assert [p.text for p in section.footer.paragraphs] == [" / "]
    fields = re.findall(r'w:instr="([^"]*)"', section.footer._element.xml)
    assert fields == [" PAGE ", " NUMPAGES "]


def test_what_is_said_of_a_figure_stays_with_it_in_word(written):
    word = docx.Document(io.BytesIO(written["case-series.docx"])).paragraphs
    before = [p for p, after in pairwise(word) if after.style.name == "Captioned Figure"]
    said = [p for p in before if p.style.name in ("Body Text", "First Paragraph", "Lead")]
    said += [p for p in word if p.text.startswith("Asks.")]
    said += [p for p, after in pairwise(word) if p.style.name == after.style.name == "Box"]
    assert len(said) > 15 and all(p.paragraph_format.keep_with_next for p in said)


def test_captions_headings_lists_and_tables_are_real(written):
    word = docx.Document(io.BytesIO(written["case-series.docx"]))
    body = word.element.body
    tables = body.findall(qn("w:tbl"))
    for table in tables:
        before = table.getprevious()
        while before.tag != qn("w:p"):  # bookmarks
            before = before.getprevious()
        assert before.style == "TableCaption" and "".join(before.itertext()).strip().startswith("Table ")
        rows = table.findall(qn("w:tr"))
        assert rows[0].find(qn("w:trPr")).find(qn("w:tblHeader")) is not None
        assert all(r.find(qn("w:trPr")).find(qn("w:cantSplit")) is not None for r in rows[1:])
        assert len({len(r.findall(qn("w:tc"))) for r in rows}) == 1
        kept = [len(list(r.iter(qn("w:keepNext")))) == len(r.findall(qn("w:tc"))) for r in rows]
        assert kept.index(False) == (len(rows) - 1 if len(rows) <= TOGETHER + 1 else 2)
    captions = [p.text for p in word.paragraphs if p.style.name == "Image Caption"]
    assert [int(c.split(".")[0].removeprefix("Figure ")) for c in captions] == list(
        range(1, len(captions) + 1)
    )
    assert len(captions) == len(word.inline_shapes)
    levels = {p.text: p.style.name for p in word.paragraphs if p.style.name.startswith("Heading")}
    assert levels["Who and what was recorded"] == levels["Appendix"] == "Heading 1"
    assert levels["Methods"] == "Heading 2"
    listed = [p for p in word.paragraphs if p._p.pPr is not None and p._p.pPr.numPr is not None]
    assert len(listed) > 10


def test_libreoffice_opens_the_word_document_as_it_is(findings, written, tmp_path):
    """It converts without repair, and every heading, caption and cell is on its pages."""
    office = shutil.which("soffice")
    if office is None:
        pytest.fail(
            "No LibreOffice on the PATH. On Debian or Ubuntu: apt-get install --no-install-recommends libreoffice-writer-nogui"
        )
    source = tmp_path / "case-series.docx"
    source.write_bytes(written["case-series.docx"])
    command = [
        office, "--headless", f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}", "--convert-to",
        "pdf", "--outdir", str(tmp_path), str(source),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, text=True, timeout=300, check=True)
    assert not re.search(r"error|repair|corrupt", done.stdout + done.stderr, re.IGNORECASE), done.stderr
    pages = PdfReader(tmp_path / "case-series.pdf").pages
    read = re.sub(r"\s", "", "".join(p.extract_text() for p in pages))
    for block in on_sheets(document(findings)).blocks:
        told = (
            (block.text,)
            if isinstance(block, Heading)
            else (block.caption,)
            if isinstance(block, Grid | Figure)
            else ()
        )
        assert not [t for t in told if re.sub(r"\s", "", t) not in read]
    assert all("Private:showssinglepeople" in re.sub(r"\s", "", p.extract_text()) for p in pages)
