import io
import itertools
import re
import unicodedata

import pytest
import writeup_inputs as made
from pypdf import PdfReader

from lagwise.document.tree import Box, Bullets, Document, Figure, Grid, Heading, grid, inline, para
from lagwise.say.report.document import document, on_sheets
from lagwise.say.report.figures import figures
from lagwise.writeup.render_pdf import FIGURE_WIDTH, _size, render_pdf
from lagwise.writeup.share import shared

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 500"><rect width="1000" height="500" fill="#1d5f8a"/></svg>'
FIGURES = {"f": {"svg": SVG}}


@pytest.fixture(scope="module")
def findings():
    return made.whole()


@pytest.fixture(scope="module")
def pdf(findings):
    return rendered(findings)


def rendered(findings):
    """The PDF with empty figures: the words are what is read here."""
    tree = on_sheets(document(findings))
    empty = {name: {"svg": SVG} for name in figures(findings)}
    return PdfReader(io.BytesIO(render_pdf(tree, empty, made_on=findings.provenance.made_on)))


def bare(text):
    """Letters and signs alone: where a PDF breaks lines and words is the layout's own affair."""
    plain = unicodedata.normalize("NFKC", text)
    return re.sub(r"[\s\u200b\u00ad]", "", plain).replace("\u2010", "-")


def body(page):
    """A page's text without what stands at the head and foot of every page."""
    kept = []

    def visit(text, cm, tm, font, size):
        if 60 < tm[5] * abs(cm[3]) + cm[5] < float(page.mediabox[3]) - 60:
            kept.append(text)

    page.extract_text(visitor_text=visit)
    return "".join(kept)


def said(reader):
    return bare("".join(body(page) for page in reader.pages))


def line(run):
    return "".join(f"[{s.text}]" if s.kind == "blank" else s.text for s in run)


def spoken(block):
    """Every text of a block as it must be read."""
    match block:
        case Heading():
            yield block.text
        case Figure():
            yield block.caption
        case Bullets():
            yield from map(line, block.items)
        case Box():
            yield block.title
            for inner in block.blocks:
                yield from spoken(inner)
        case Grid():
            yield from (block.caption, block.note, *block.head)
            yield from (line(cell) for row in block.rows for cell in row)
        case _:
            yield line(block.spans)


def without_breaks(text):
    """For the comparison of words that the layout may hyphenate."""
    return text.replace("-", "")


def test_every_sentence_heading_caption_and_cell_is_in_the_pdf(findings, pdf):
    read = without_breaks(said(pdf))
    texts = [t for block in on_sheets(document(findings)).blocks for t in spoken(block)]
    assert len(texts) > 300
    assert [t for t in texts if without_breaks(bare(t)) not in read] == []


def test_tables_and_figures_are_numbered_as_everywhere(findings, pdf):
    read = said(pdf)
    blocks = on_sheets(document(findings)).blocks
    for kind, word in ((Grid, "Table"), (Figure, "Figure")):
        captions = [b.caption for b in blocks if isinstance(b, kind)]
        assert captions
        for number, caption in enumerate(captions, 1):
            assert bare(f"{word} {number}. {caption}") in read


def test_every_page_says_who_may_see_it_and_its_number(findings, pdf):
    for number, page in enumerate(pdf.pages, 1):
        text = page.extract_text()
        assert "Private: shows single people" in text
        assert f"{number} / {len(pdf.pages)}" in text
    assert all(findings.study.title in page.extract_text() for page in pdf.pages[1:])
    leaves = rendered(shared(findings))
    assert all("Version without single people" in page.extract_text() for page in leaves.pages)
    assert "Private" not in "".join(page.extract_text() for page in leaves.pages)


def structure(reader):
    """Elements of the structure tree as (name, element)."""

    def walk(node):
        node = node.get_object()
        if not hasattr(node, "get"):
            return
        if "/S" in node:
            yield node["/S"][1:], node
        kids = node.get("/K", [])
        for kid in kids if isinstance(kids, list) else [kids]:
            if hasattr(kid, "get_object") and hasattr(kid.get_object(), "get"):
                yield from walk(kid)

    return list(walk(reader.trailer["/Root"]["/StructTreeRoot"]))


def test_it_is_tagged_for_screen_readers(findings, pdf):
    root = pdf.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and root["/Lang"].startswith("en")
    assert b"pdfuaid:part" in root["/Metadata"].get_object().get_data()
    tags = structure(pdf)
    counted = {name: sum(n == name for n, _ in tags) for name in ("Table", "Figure", "TH", "H1")}
    blocks = on_sheets(document(findings)).blocks
    pictures = [b for b in blocks if isinstance(b, Figure)]
    tables = [b for b in blocks if isinstance(b, Grid)]
    assert counted["Table"] == len(tables)
    assert counted["TH"] == sum(len(t.head) for t in tables)
    alts = [str(node["/Alt"]) for name, node in tags if name == "Figure"]
    assert alts == [f.alt for f in pictures]
    levels = [int(name[1]) for name, _ in tags if re.fullmatch(r"H[1-6]", name)]
    assert levels[0] == 1 and all(b - a <= 1 for a, b in itertools.pairwise(levels))


def test_title_date_and_bookmarks(findings, pdf):
    assert pdf.metadata.title == findings.study.title
    assert f"{pdf.metadata.creation_date:%Y-%m-%d}" == findings.provenance.made_on
    top = [item.title for item in pdf.outline if not isinstance(item, list)]
    assert top == [
        b.text for b in on_sheets(document(findings)).blocks if isinstance(b, Heading) and b.level == 2
    ]


def test_paper():
    tree = Document("t", (Heading(1, "t", "title"), para("x")))
    for paper, size in (("a4", (210, 297)), ("letter", (215.9, 279.4))):
        page = PdfReader(
            io.BytesIO(render_pdf(Document("t", tree.blocks, paper=paper), {}, made_on="2024-05-01"))
        ).pages[0]
        assert [float(v) * 25.4 / 72 for v in page.mediabox[2:]] == pytest.approx(size, abs=0.5)


MARKUP = (
    "#panic()", "$x$", "*bold*", "_em_", "@ref", "<label>", "[body]", "\\", "`raw`", "= title", "- item", "+ item", "/ term: x",
    "//comment", "/*c*/", "https://x.org", "~", "--", "'q' \"q\"", "#import \"@preview/x:1.0.0\"", "{{7*7}}", "\\u{41}",
)  # fmt: skip


def test_typst_markup_in_any_place_stays_text():
    every = " ".join(MARKUP)
    blocks = (
        Heading(1, every, "title"), Heading(2, every, "h"), para(every), Bullets((inline(every),)),
        grid("t", every, (every, "b"), [(every, every)], note=every), Figure("f", every, every),
        Box(every, (para(every),)),
    )  # fmt: skip
    reader = PdfReader(io.BytesIO(render_pdf(Document(every, blocks), FIGURES, made_on="2024-05-01")))
    read = without_breaks(said(reader))
    assert read.count(without_breaks(bare(every))) >= 9
    assert reader.metadata.title == every


def test_signs_of_formulas_and_other_scripts_are_drawn():
    signs = "− ≤ ≥ ± × – … β σ² τ ρ √ → ∑ µ é ß ł Ω Привет שלום مرحبا ½"
    tree = Document("t", (Heading(1, "t", "title"), para(signs)))
    reader = PdfReader(io.BytesIO(render_pdf(tree, {}, made_on="2024-05-01")))
    fonts = {
        str(f.get_object()["/BaseFont"]) for p in reader.pages for f in p["/Resources"]["/Font"].values()
    }
    assert any("Libertinus" in f for f in fonts) and any("DejaVu" in f for f in fonts)
    read = said(reader)
    assert [c for c in "−≤≥±×–…βτρ→∑éßłΩП" if bare(c) not in read] == []


def test_very_long_words_and_codes_stay_inside_the_page():
    code = "W" * 300
    tree = Document(
        code,
        (
            Heading(1, code, "title"),
            grid("t", code, ("Person", "n"), [(code, "1"), ("b", code)], numeric=(1,)),
        ),
    )
    reader = PdfReader(io.BytesIO(render_pdf(tree, {}, made_on="2024-05-01")))
    furthest = []

    def visit(text, cm, tm, font, size):
        if text.strip():
            furthest.append(tm[4] * cm[0] + cm[4])

    for page in reader.pages:
        page.extract_text(visitor_text=visit)
    assert max(furthest) < float(reader.pages[0].mediabox[2])
    assert said(reader).count("W") >= 4 * 300


def test_text_takes_the_place_that_a_tall_figure_leaves():
    tall = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1000 1400"><rect width="1000" height="1400" fill="#1d5f8a"/></svg>'
    low = SVG.replace(b'0 0 1000 500"', b'0 0 1000 200"')
    before, after = para("before " * 500), para("after " * 60)

    def first_page(svg, *, under_heading=False):
        heading = (Heading(3, "Under it", "h"),) if under_heading else ()
        blocks = (
            Heading(1, "T", "title"), Heading(2, "S", "s"), before, *heading, Figure("f", "C", "a"), after,
        )  # fmt: skip
        return body(PdfReader(io.BytesIO(render_pdf(Document("T", blocks), {"f": {"svg": svg}}, made_on="2024-05-01"))).pages[0])  # fmt: skip

    assert "after" in first_page(tall)
    assert "after" not in first_page(tall, under_heading=True)
    assert first_page(low).index("C") < first_page(low).index("after")


def test_a_short_table_its_note_and_an_opening_paragraph_stay_on_one_page():
    """However far down the page they begin."""
    for lines in range(20, 44, 3):
        table = grid("t", "Of many", ("One", "Two"), [(f"row {i}", "2") for i in range(10)], note="The note.")
        filled = [para("filling") for _ in range(lines)]
        opened = (Heading(2, "Opened", "o"), para("Asks this."), para("Seen that. " * 90))
        tree = Document("T", (Heading(1, "T", "title"), *filled, table, *filled, *opened))
        pages = [
            p.extract_text() for p in PdfReader(io.BytesIO(render_pdf(tree, {}, made_on="2024-05-01"))).pages
        ]
        assert any(all(s in p for s in ("Of many", "row 0", "row 9", "The note.")) for p in pages), lines
        assert any(all(s in p for s in ("Opened", "Asks this.", "Seen that.")) for p in pages), lines


@pytest.mark.parametrize(
    ("wide", "high", "across"),
    [(1000, 500, FIGURE_WIDTH), (1000, 1000, 0.75 * FIGURE_WIDTH), (300, 300, 0.75 * 300 * 25.4 / 72)],
)
def test_a_tall_figure_leaves_room_for_others_on_its_page(wide, high, across):
    """It stood alone on a page, or in the middle of a sentence of the next section."""
    svg = f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}"></svg>'.encode()
    assert _size(svg) == pytest.approx((across, across * high / wide))
