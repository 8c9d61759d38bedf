from dataclasses import replace

import pytest
import writeup_inputs as made

from lagwise.core.errors import WriteUpError
from lagwise.document.html import render_html
from lagwise.document.markdown import render_md
from lagwise.document.tree import Box, Bullets, Figure, Grid, Heading, Para
from lagwise.findings import Findings
from lagwise.say.report.document import IDS, document
from lagwise.writeup.collect import collect
from lagwise.writeup.own_sections import check_own_sections, read_own_sections, with_own_sections
from lagwise.writeup.render_docx import render_docx
from lagwise.writeup.write import files


@pytest.fixture(scope="module")
def findings():
    return collect(made.caseload(), made.panel(12, 14), [made.mixed()], made.challenges())


def own(findings, **texts):
    return with_own_sections(document(findings), texts, findings)


def body(tree, section):
    """Blocks of a section without its heading."""
    blocks = list(tree.blocks)
    start = next(i for i, b in enumerate(blocks) if isinstance(b, Heading) and b.id == section)
    ends = (i for i, b in enumerate(blocks) if i > start and isinstance(b, Heading) and b.level == 2)
    return blocks[start + 1 : next(ends, len(blocks))]


def unpictured(tree):
    def bare(blocks):
        kept = (b for b in blocks if not isinstance(b, Figure))
        return tuple(replace(b, blocks=bare(b.blocks)) if isinstance(b, Box) else b for b in kept)

    return replace(tree, blocks=bare(tree.blocks))


def page(tree):
    return render_html(unpictured(tree), {})


def text_of(block):
    return "".join(span.text for span in block.spans)


def test_nothing_own_changes_nothing(findings):
    assert own(findings) == document(findings)


def test_own_text_replaces_its_section_alone_and_says_so(findings):
    tree = own(findings, methods="# How we worked\n\nWe kept **one** log.\n\n- first\n- second")
    assert [text_of(b) for b in body(tree, "methods") if isinstance(b, Para)] == ["We kept one log."]
    assert [len(b.items) for b in body(tree, "methods") if isinstance(b, Bullets)] == [2]
    assert "How we worked" in [b.text for b in tree.blocks if isinstance(b, Heading)]
    assert body(tree, "results") == body(document(findings), "results")
    told = [text_of(b) for b in tree.blocks if isinstance(b, Para) and b.role == "note"]
    assert "The author's own text stands in these sections: How we worked." in told


def test_the_sections_own_blocks_go_where_the_template_puts_them_and_never_twice(findings):
    was = body(document(findings), "results")
    assert [
        b for b in body(own(findings, results="{{ original }}"), "results") if not isinstance(b, Box)
    ] == [b for b in was if not isinstance(b, Box)]
    tree = own(findings, results="Before.\n\n{{ figures }}\n\nAfter.\n\n{{ figures }}{{ tables }}")
    kinds = [type(b) for b in body(tree, "results")]
    pictures, grids = (sum(isinstance(b, kind) for b in was) for kind in (Figure, Grid))
    assert pictures and grids
    assert kinds[:3] == [Para, Figure, Figure][: min(3, pictures + 1)] + [Para] * max(0, 2 - pictures)
    assert kinds.count(Figure) == pictures and kinds.count(Grid) == grids


def test_boxes_stay(findings):
    before = [b for b in document(findings).blocks if isinstance(b, Box)]
    after = [b for b in own(findings, limits="Short.", summary="Shorter.").blocks if isinstance(b, Box)]
    assert before and after == before


def test_values_are_quoted_as_text_not_as_markup(findings):
    title = "A *bold* <b>claim</b> | [x](http://y)"
    hostile = findings.model_copy(update={"study": findings.study.model_copy(update={"title": title})})
    tree = own(hostile, methods="Of {{ findings.study.title }} with {{ sentences | length }} sentences.")
    (para,) = (b for b in body(tree, "methods") if isinstance(b, Para))
    assert text_of(para).startswith(f"Of {title} with ")
    assert {span.kind for span in para.spans} == {"plain"}
    assert "<b>claim" not in page(tree)


def test_html_of_the_author_is_text(findings):
    tree = own(findings, methods="<script>alert(1)</script>\n\n<b>x</b>")
    assert "<script>alert" not in page(tree)
    assert "&lt;script&gt;alert(1)" in page(tree)


def test_exploratory_stays_in_a_heading_of_the_author():
    found = collect(made.caseload(), made.panel(7, 20), [made.mixed(engine="within")], made.challenges())
    headings = [b.text for b in own(found, methods="# How we worked\n\nSo.").blocks if isinstance(b, Heading)]
    assert "How we worked (exploratory)" in headings


def test_links_to_what_was_replaced_become_text(findings):
    tree = own(
        findings, challenges="None shown. [Methods](#methods) and [gone](#gone), [page](https://example.org)"
    )
    (para,) = (b for b in body(tree, "challenges") if isinstance(b, Para))
    assert [s.text for s in para.spans if s.kind == "link"] == ["Methods"]
    assert text_of(para).endswith("Methods and gone, page (https://example.org)")
    assert render_docx(unpictured(tree), {}, made_on=findings.provenance.made_on)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("{{ nothing }}", "'nothing' is undefined"), ("{{ findings.nothing }}", "no attribute 'nothing'"),
        ("one\n{% if %}", "line 2"), ("{{ ''.__class__.__mro__ }}", "may not have"),
        ("{{ findings.update({'a': 1}) }}", "may not have"), ("{{ 1 / 0 }}", "division by zero"),
        ("![a](b.png)", "image"), ("> quoted", "blockquote"), ("- a\n  - b", "a list inside a list"),
        ("---", "hr")],
)  # fmt: skip
def test_what_cannot_be_filled_is_an_error_that_names_the_file(findings, text, says):
    with pytest.raises(WriteUpError) as error:
        own(findings, methods=text)
    assert says in str(error.value) and "methods.md" in str(error.value)


def test_an_unknown_section_is_an_error_that_lists_the_sections(findings):
    with pytest.raises(
        WriteUpError, match="summary, recorded, results, happened, challenges, limits, author"
    ):
        own(findings, method="x")


def test_templates_are_read_from_a_folder(tmp_path):
    (tmp_path / "methods.md").write_text("\ufeffÜbung", encoding="utf-8")
    (tmp_path / "notes.txt").write_text("not a template", encoding="utf-8")
    assert read_own_sections(tmp_path) == {"methods": "Übung"}
    (tmp_path / "methods.md").write_bytes(b"\xdcbung")
    with pytest.raises(WriteUpError, match="UTF-8"):
        read_own_sections(tmp_path)
    for nowhere in (tmp_path / "no", tmp_path / "notes.txt"):
        with pytest.raises(WriteUpError, match="no template"):
            read_own_sections(nowhere)


def test_every_format_carries_it_and_the_numbers_stay(findings):
    """Of one person without load, who is written up too."""
    study = made.without_load()
    few = collect(made.caseload(study), made.panel(1, 12, study=study, loads=False), [], None)
    text = "We kept one log of {{ findings.numbers.people.value }}."
    mine = files(few, own={"methods": text})
    assert "We kept one log of 1." in mine["case-series.html"].decode()
    assert "We kept one log of 1." in mine["case-series.md"].decode()
    assert "1 person were" not in mine["case-series.md"].decode()
    assert set(mine) >= {"figures/coverage.png", "figures/trajectories.png"}
    assert Findings.from_json(mine["findings.json"].decode()) == few
    assert replace(document(findings), blocks=()) == replace(own(findings, methods="x"), blocks=())
    assert render_md(own(findings, methods="x")).count("# Methods") == 1


def test_the_list_of_sections_is_that_of_the_document(findings):
    heads = [b.id for b in document(findings).blocks if isinstance(b, Heading) and b.level == 2]
    assert [name for name in IDS if name not in ("since", "changed", "spread")] == heads


def test_a_folder_is_checked_before_the_long_work(tmp_path):
    (tmp_path / "methods.md").write_text("{{ title }}", encoding="utf-8")
    check_own_sections(tmp_path)
    (tmp_path / "methods.md").write_text("one\n{% for %}", encoding="utf-8")
    with pytest.raises(WriteUpError, match=r"methods\.md, line 2"):
        check_own_sections(tmp_path)
    (tmp_path / "methods.md").write_text("one", encoding="utf-8")
    (tmp_path / "changed.md").write_text("a section that some records have", encoding="utf-8")
    check_own_sections(tmp_path)
    (tmp_path / "method.md").write_text("x", encoding="utf-8")
    with pytest.raises(WriteUpError, match="there is no section method"):
        check_own_sections(tmp_path)
