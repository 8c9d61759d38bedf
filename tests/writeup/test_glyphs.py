"""Signs beyond the write-up's own typeface: shown where the machine has one for them, named by number where it has none."""

import io
import unicodedata

import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen
from matplotlib import font_manager
from pypdf import PdfReader

from lagwise.document.tree import Document, Heading, Span, para, strong
from lagwise.findings import PictureFacts, Table
from lagwise.writeup import glyphs
from lagwise.writeup.draw import draw
from lagwise.writeup.glyphs import typefaces
from lagwise.writeup.raster import view
from lagwise.writeup.render_pdf import render_pdf

SHOULDER, ZERO_WIDTH = "\u80a9\u95a2\u7bc0", "\u200b"
ENTRIES = tuple(font_manager.fontManager.ttflist)


@pytest.fixture
def bare(monkeypatch):
    """A machine whose only typefaces are those that come with matplotlib."""
    own = [e for e in ENTRIES if "mpl-data" in e.fname]
    assert own
    monkeypatch.setattr(font_manager.fontManager, "ttflist", own)
    glyphs._typefaces.cache_clear()
    yield own
    glyphs._typefaces.cache_clear()


@pytest.fixture
def with_signs(bare, tmp_path):
    """A machine that has one more, for the signs of `SHOULDER`."""
    pen = TTGlyphPen(None)
    pen.moveTo((100, 0))
    for point in ((900, 0), (900, 800), (100, 800)):
        pen.lineTo(point)
    pen.closePath()
    names = [".notdef", *(f"uni{ord(c):04X}" for c in SHOULDER)]
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord(c): f"uni{ord(c):04X}" for c in SHOULDER})
    builder.setupGlyf({name: pen.glyph(dropImpliedOnCurves=False) for name in names})
    builder.setupHorizontalMetrics(dict.fromkeys(names, (1000, 100)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable(
        {"familyName": "Test Han", "styleName": "Regular", "fullName": "Test Han", "psName": "TestHan"}
    )
    builder.setupOS2(sTypoAscender=800)
    builder.setupPost()
    path = tmp_path / "TestHan.ttf"
    builder.save(path)
    bare.append(font_manager.FontEntry(fname=str(path), name="Test Han", style="normal", weight=400))
    return path


def picture(label):
    data = Table(columns=("value",), rows=((1.0,),))
    return PictureFacts(
        kind="histogram", title=label, data=data, x="x", y=label, alt="a", options={"mark": 1}
    )


def read(*texts):
    """What can be read of a document whose title, heading and paragraphs are these."""
    told = (para(text, strong(text), Span(text, "em"), Span(text, "code")) for text in texts)
    tree = Document(texts[0], (Heading(1, texts[0], "title"), *told))
    pages = PdfReader(io.BytesIO(render_pdf(tree, {}, made_on="2024-05-01"))).pages
    return "".join(page.extract_text() for page in pages)


def test_what_the_own_typeface_has_needs_no_other():
    for text in (
        "",
        "P01",
        "Schulter, \u0142okie\u0107",
        "\u0643\u062a\u0641",
        "\u03b1 \u2264 \u2212 0.3",
        "a\u2003b",
    ):
        assert typefaces([text]) == glyphs.Typefaces()


def test_without_a_typeface_signs_stand_as_their_numbers(bare):
    faces = typefaces([f"P {SHOULDER}", ZERO_WIDTH, "\U000e0041"])
    assert faces.added == () and set(SHOULDER) <= faces.lacking
    assert faces.shown(f"P {SHOULDER}1") == "P [80A9 95A2 7BC0]1"
    assert faces.shown("\U000e0041x") == "x"
    assert faces.shown(f"{SHOULDER[0]}\ufe0f\u200d{SHOULDER[1]}\u200d]") == "[80A9 95A2]]"
    said = read(f"hall {SHOULDER}")
    assert said.count("[80A9 95A2 7BC0]") >= 4 and "Unicode numbers" in " ".join(said.split())
    drawn, plain = draw(picture(SHOULDER)), draw(picture("[80A9 95A2 7BC0]"))
    assert drawn == plain


def test_a_typeface_of_the_machine_is_used(with_signs):
    faces = typefaces([SHOULDER])
    assert faces.added == (("Test Han", with_signs),) and not faces.lacking
    said = read(f"hall {SHOULDER}")
    assert said.count(SHOULDER) >= 4 and "Unicode numbers" not in said
    assert draw(picture(SHOULDER)) != draw(picture("[80A9 95A2 7BC0]"))


def test_labels_that_look_alike_stay_two_rows():
    def drawn(first, second):
        rows = ((first, 1.0, 0.0, 2.0), (second, 2.0, 1.0, 3.0))
        data = Table(columns=("label", "estimate", "low", "high"), rows=rows)
        return view(draw(PictureFacts(kind="intervals", title="t", data=data, x="x", y="", alt="a"))["svg"])

    assert drawn("P1", "P\u202e1") == drawn("P1", "P2") != drawn("P1", "P1")


def test_any_text_at_all_can_be_laid_out(bare):
    """A sample of every kind of sign up to U+1FFFF: marks on their own, spaces of any width, scripts of any direction."""
    kinds: dict[str, list[str]] = {}
    for at in range(0x20, 0x20000, 7):
        kinds.setdefault(unicodedata.category(chr(at)), []).append(chr(at))
    text = [
        " ".join("".join(signs[i : i + 5]) for i in range(0, min(len(signs), 300), 5))
        for signs in kinds.values()
    ]
    text += ["]\u0301\u0600", f"a{SHOULDER}\u0301", "\u1680"]
    assert read(*(f"hall {one}" for one in text)).count("hall") > 4 * len(text)
