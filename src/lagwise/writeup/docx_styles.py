"""Our look on the Word document of pandoc: type sizes, table rules, page size, marked gaps, fixed dates, and
what stands on every page.
"""

from __future__ import annotations

import re
from xml.sax.saxutils import escape

from lagwise.document.settle import shortened
from lagwise.document.tree import Paper
from lagwise.writeup.widths import TOGETHER

_INK = "1F2B33"
_MUTED = "55636C"
_SIZES = {"Title": 40, "Heading1": 30, "Heading2": 25, "Heading3": 22}
"""Half points; text has `_BODY`."""
_BODY = 20
_ROLES = {
    "BodyText": '<w:pPr><w:spacing w:before="60" w:after="100"/></w:pPr>',
    "Lead": '<w:pPr><w:spacing w:before="60" w:after="120"/></w:pPr><w:rPr><w:sz w:val="22"/></w:rPr>',
    "Finding": '<w:pPr><w:keepNext/><w:spacing w:before="60" w:after="120"/></w:pPr><w:rPr><w:b/></w:rPr>',
    "Note": (
        '<w:pPr><w:spacing w:before="40" w:after="160"/></w:pPr>'
        f'<w:rPr><w:color w:val="{_MUTED}"/><w:sz w:val="18"/></w:rPr>'
    ),
    "BoxTitle": (
        '<w:pPr><w:keepNext/><w:pBdr><w:left w:val="single" w:sz="24" w:space="8" w:color="1D5F8A"/></w:pBdr>'
        '<w:shd w:val="clear" w:color="auto" w:fill="F3F6F7"/>'
        '<w:spacing w:before="160" w:after="0"/></w:pPr>'
        "<w:rPr><w:b/></w:rPr>"
    ),
    "Box": (
        "<w:pPr><w:keepLines/><w:pBdr>"
        '<w:left w:val="single" w:sz="24" w:space="8" w:color="1D5F8A"/></w:pBdr>'
        '<w:shd w:val="clear" w:color="auto" w:fill="F3F6F7"/>'
        '<w:spacing w:before="0" w:after="40"/></w:pPr>'
    ),
    "ToFillIn": '<w:rPr><w:shd w:val="clear" w:color="auto" w:fill="FFF3D6"/></w:rPr>',
    "Compact": '<w:pPr><w:spacing w:before="30" w:after="30"/></w:pPr><w:rPr><w:sz w:val="17"/></w:rPr>',
    "VerbatimChar": (
        '<w:rPr><w:rFonts w:ascii="Consolas" w:hAnsi="Consolas" w:cs="Consolas"/><w:sz w:val="16"/></w:rPr>'
    ),
    "TableCaption": (
        '<w:pPr><w:keepNext/><w:spacing w:before="240" w:after="80"/></w:pPr>'
        '<w:rPr><w:i w:val="0"/><w:sz w:val="19"/></w:rPr>'
    ),
    "ImageCaption": (
        '<w:pPr><w:spacing w:before="40" w:after="240"/></w:pPr>'
        '<w:rPr><w:i w:val="0"/><w:sz w:val="19"/></w:rPr>'
    ),
    "CaptionedFigure": "<w:pPr><w:keepNext/></w:pPr>",
}
_TABLE_RULES = (
    f'<w:tblBorders><w:top w:val="single" w:sz="6" w:space="0" w:color="{_MUTED}"/>'
    f'<w:bottom w:val="single" w:sz="6" w:space="0" w:color="{_MUTED}"/>'
    '<w:insideH w:val="single" w:sz="4" w:space="0" w:color="D5DDE1"/></w:tblBorders>'
)
_FONT = '<w:rFonts w:ascii="Arial" w:hAnsi="Arial" w:eastAsia="Arial" w:cs="Arial"/>'
_PAPER = {"a4": '<w:pgSz w:w="11906" w:h="16838"/>', "letter": '<w:pgSz w:w="12240" w:h="15840"/>'}
LINE_END = {"a4": 11906 - 2 * 1134, "letter": 12240 - 2 * 1134}
"""Width between the margins, in twentieths of a point."""
_MARGINS = (
    '<w:pgMar w:top="1134" w:right="1134" w:bottom="1134" w:left="1134" '
    'w:header="567" w:footer="567" w:gutter="0"/>'
)


_LEADING = re.compile(
    r'(<w:p><w:pPr><w:pStyle w:val="(?:BodyText|FirstParagraph|Lead)"\s*/>)'
    r"((?:(?!</w:p>).)*</w:p>\s*(?:<w:bookmark[^>]*>\s*)*"
    r'<w:p><w:pPr><w:pStyle w:val="(?:CaptionedFigure|TableCaption)")',
    re.DOTALL,
)
"""A paragraph right before a figure or a table."""
_FOLLOWED = re.compile(
    r'(<w:p><w:pPr><w:pStyle w:val="(?:(Box)|FirstParagraph)"\s*/>)'
    r'(?=(?:(?!</w:p>).)*</w:p>\s*<w:p><w:pPr><w:pStyle w:val="(?(2)Box|BodyText)")',
    re.DOTALL,
)
"""A paragraph that opens a section, or a part of a box, and another one of its kind after it."""
_ROWS = re.compile(r"<w:tr>.*?</w:tr>", re.DOTALL)


def restyle(name: str, content: bytes, *, made_on: str, paper: Paper = "a4") -> bytes:
    """One file of the archive with our styles (word/styles.xml), page (word/document.xml) or date
    (docProps/core.xml).
    """
    if name == "word/styles.xml":
        return _styles(content.decode("utf-8")).encode("utf-8")
    if name == "word/document.xml":
        return _page(content.decode("utf-8"), paper).encode("utf-8")
    if name == "docProps/core.xml":
        text = re.sub(r"(<dcterms:\w+[^>]*>)[^<]*", rf"\g<1>{made_on}T00:00:00Z", content.decode("utf-8"))
        return text.encode("utf-8")
    return content


def _styles(xml: str) -> str:
    for role, look in _ROLES.items():
        xml = _with_look(xml, role, look)
    xml = re.sub(r'(<w:rPrDefault>.*?<w:sz w:val=)"\d+"', rf'\g<1>"{_BODY}"', xml, count=1, flags=re.DOTALL)
    for name, size in _SIZES.items():
        own = rf'(w:styleId="{name}"(?:(?!</w:style>).)*?<w:sz w:val=)"\d+"'
        xml = re.sub(own, rf'\g<1>"{size}"', xml, count=1, flags=re.DOTALL)
    xml = re.sub(
        r'(<w:style [^>]*w:styleId="Table".*?<w:tblPr>)',
        rf"\g<1>{_TABLE_RULES}",
        xml,
        count=1,
        flags=re.DOTALL,
    )
    xml = re.sub(r"<w:rFonts[^>]*w:asciiTheme[^>]*/>", _FONT, xml)
    xml = re.sub(r'(w:styleId="Title".*?)<w:jc w:val="center"\s*/>', r"\g<1>", xml, count=1, flags=re.DOTALL)
    return re.sub(
        r'<w:color [^>]*w:val="(?:0F4761|4F81BD|365F91|345A8A)"[^>]*/>', f'<w:color w:val="{_INK}"/>', xml
    )


def _with_look(xml: str, style_id: str, look: str) -> str:
    """A style whose own paragraph and run properties are replaced by ours."""
    found = re.search(rf'<w:style [^>]*w:styleId="{style_id}"[^>]*>.*?</w:style>', xml, flags=re.DOTALL)
    if found is None:
        return xml
    old = found.group(0)
    bare = re.sub(r"<w:(pPr|rPr)\s*/>|<w:(pPr|rPr)>.*?</w:\2>", "", old, flags=re.DOTALL)
    return xml.replace(old, bare.replace("</w:style>", f"{look}</w:style>"))


def _page(xml: str, paper: Paper) -> str:
    """The paper with even margins at the end of the section, where pandoc leaves the page size open; rows
    and short tables stay whole, and what is said of a figure or a table stays with it.
    """
    xml = _LEADING.sub(r"\g<1><w:keepNext/>\g<2>", _FOLLOWED.sub(r"\g<1><w:keepNext/>", xml))
    xml = re.sub(r"<w:tbl>.*?</w:tbl>", lambda table: _together(table[0]), xml, flags=re.DOTALL)
    xml = xml.replace("<w:tr><w:tc>", "<w:tr><w:trPr><w:cantSplit/></w:trPr><w:tc>")
    return xml.replace("</w:sectPr>", f"{_PAPER[paper]}{_MARGINS}</w:sectPr>")


def _together(table: str) -> str:
    """A table of which all rows stay on one page if it is short, else its head and the first two."""
    rows = table.count("<w:tr>") - 1
    kept = rows if rows <= TOGETHER else 2
    return _ROWS.sub(lambda row: re.sub(r"(<w:pStyle [^>]*/>)", r"\g<1><w:keepNext/>", row[0]), table, kept)


_W = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_TYPE = "application/vnd.openxmlformats-officedocument.wordprocessingml"
_SMALL = '<w:rPr><w:color w:val="55636C"/><w:sz w:val="16"/></w:rPr>'
TITLE_UP_TO = 70


def head_and_foot(title: str, mark: str, right: int) -> dict[str, bytes]:
    """The header and the footer as files of the archive; `right`: the line's end in twentieths of a point."""
    tab = f'<w:pPr><w:tabs><w:tab w:val="right" w:pos="{right}"/></w:tabs></w:pPr>'
    head = f"{_run(shortened(title, TITLE_UP_TO))}<w:r><w:tab/></w:r>{_run(mark)}"
    foot = f"{_field('PAGE')}{_run(' / ')}{_field('NUMPAGES')}"
    return {
        "word/header1.xml": _part("hdr", f"<w:p>{tab}{head}</w:p>"),
        "word/footer1.xml": _part("ftr", f'<w:p><w:pPr><w:jc w:val="center"/></w:pPr>{foot}</w:p>'),
    }


def linked(name: str, content: bytes) -> bytes:
    """A file of the archive with the header and footer named where they must be."""
    text = content.decode("utf-8") if name.endswith((".xml", ".rels")) else ""
    both = (("header", 1), ("footer", 2))
    if name == "[Content_Types].xml":
        said = (f'<Override PartName="/word/{k}1.xml" ContentType="{_TYPE}.{k}+xml"/>' for k, _ in both)
        return text.replace("</Types>", f"{''.join(said)}</Types>").encode("utf-8")
    if name == "word/_rels/document.xml.rels":
        said = (f'<Relationship Id="rIdHead{i}" Type="{_RELATION}/{k}" Target="{k}1.xml"/>' for k, i in both)
        return text.replace("</Relationships>", f"{''.join(said)}</Relationships>").encode("utf-8")
    if name == "word/document.xml":
        said = (f'<w:{k}Reference w:type="default" r:id="rIdHead{i}"/>' for k, i in both)
        return text.replace("<w:sectPr>", f"<w:sectPr>{''.join(said)}", 1).encode("utf-8")
    return content


def _part(kind: str, paragraph: str) -> bytes:
    start = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
    return f"{start}<w:{kind} {_W}>{paragraph}</w:{kind}>".encode()


def _run(text: str) -> str:
    return f'<w:r>{_SMALL}<w:t xml:space="preserve">{escape(text)}</w:t></w:r>'


def _field(name: str) -> str:
    return f'<w:fldSimple w:instr=" {name} ">{_run("1")}</w:fldSimple>'
