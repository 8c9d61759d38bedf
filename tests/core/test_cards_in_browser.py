"""Cards in a real browser, inside JupyterLab's own light and dark pages: legible, nothing fetched, nothing run."""

from __future__ import annotations

from dataclasses import replace

import browser
import pytest
from writeup_inputs import STUDY, caseload, challenges, mixed, ordinal, panel

pytestmark = pytest.mark.xdist_group("test_suite_run")  # which loads what exports notebooks too
LEAST = 4.5
"""Contrast that readers with low vision need of body text (WCAG 2, level AA)."""
HOSTILE = '<script>window.hit = 1</script><img src=x onerror="window.hit = 2">'

MEASURE = """() => {
  const parse = c => { const n = c.match(/[\\d.]+/g).map(Number); return [n[0], n[1], n[2], n.length > 3 ? n[3] : 1]; };
  const over = (top, below) => [0, 1, 2].map(i => top[i] * top[3] + below[i] * (1 - top[3])).concat(1);
  const light = c => { const l = c.slice(0, 3).map(v => { v /= 255; return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; });
                       return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]; };
  const ground = e => { if (!e) return [255, 255, 255, 1]; const own = parse(getComputedStyle(e).backgroundColor);
                        return own[3] === 1 ? own : over(own, ground(e.parentElement)); };
  const faded = e => e ? Number(getComputedStyle(e).opacity) * faded(e.parentElement) : 1;
  const out = [];
  for (const e of document.querySelectorAll('.lagwise-card *')) {
    if (!e.closest('style') && [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim())) {
      const behind = ground(e), ink = parse(getComputedStyle(e).color);
      ink[3] *= faded(e);
      const a = light(over(ink, behind)), b = light(behind);
      out.push({tag: e.tagName + '.' + e.className, text: e.textContent.slice(0, 40), ground: b,
                contrast: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)});
    }
  }
  return out;
}"""


def exported(theme: str) -> str:
    """A notebook of cards as JupyterLab's exporter writes it, with the theme's own style sheets."""
    import nbformat  # here, so that one worker of pytest loads them
    from nbconvert import HTMLExporter
    from nbformat import v4

    fit = mixed()
    bad = replace(caseload(replace(STUDY, title=HOSTILE)), folder="x")
    things = (
        bad, panel(study=replace(STUDY, title=HOSTILE)), fit, fit.effects, ordinal(), challenges(),
        next(iter(challenges())),
    )  # fmt: skip
    outputs = [
        v4.new_output("execute_result", {"text/html": t._repr_html_(), "text/plain": ""}) for t in things
    ]
    cells = [v4.new_code_cell("shown", outputs=[output]) for output in outputs]
    book = v4.new_notebook(cells=cells)
    nbformat.validate(book)
    text, _ = HTMLExporter(theme=theme).from_notebook_node(book)
    return text


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_text_stands_out_from_its_ground(opened, theme, tmp_path):
    file = tmp_path / "cards.html"
    file.write_text(exported(theme), encoding="utf-8")
    with browser.page_or_picture(opened, f"cards-{theme}") as page:
        page.route("http*://**", lambda route: route.abort())
        page.emulate_media(color_scheme=theme)
        page.goto(file.as_uri(), wait_until="domcontentloaded")
        page.evaluate("document.querySelectorAll('.lagwise-card details').forEach(d => d.open = true)")
        measured = page.evaluate(MEASURE)
        assert len(measured) > 200
        assert [m for m in measured if m["contrast"] < LEAST] == []
        assert all((m["ground"] < 0.2) == (theme == "dark") for m in measured), "a box of another colour"
        assert page.evaluate("window.hit") is None, "something from the data was run"


def test_a_card_by_itself_asks_for_nothing_and_fits_a_narrow_page(opened, tmp_path):
    file = tmp_path / "card.html"
    body = "".join(t._repr_html_() for t in (panel(), mixed(), mixed().effects, challenges()))
    file.write_text(f"<!doctype html><title>cards</title>{body}", encoding="utf-8")
    asked: list[str] = []
    with browser.page_or_picture(opened, "card-narrow", width=420) as page:
        page.on("request", lambda request: asked.append(request.url))
        page.goto(file.as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 420
    assert asked == [file.as_uri()]
