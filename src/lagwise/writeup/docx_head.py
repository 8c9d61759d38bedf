"""What stands on every page of the Word document: the title and who may see it at the head, the page number at the foot."""

from __future__ import annotations

from xml.sax.saxutils import escape

from lagwise.writeup.settle import shortened

_W = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'
_RELATION = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_TYPE = "application/vnd.openxmlformats-officedocument.wordprocessingml"
_SMALL = '<w:rPr><w:color w:val="55636C"/><w:sz w:val="16"/></w:rPr>'
TITLE_UP_TO = 70


def parts(title: str, mark: str, right: int) -> dict[str, bytes]:
    """The header and the footer as files of the archive; `right` is the line's end in twentieths of a point."""
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
    return f'<?xml version="1.0" encoding="UTF-8" standalone="yes"?><w:{kind} {_W}>{paragraph}</w:{kind}>'.encode()


def _run(text: str) -> str:
    return f'<w:r>{_SMALL}<w:t xml:space="preserve">{escape(text)}</w:t></w:r>'


def _field(name: str) -> str:
    return f'<w:fldSimple w:instr=" {name} ">{_run("1")}</w:fldSimple>'
