"""No violation that the axe checker finds, in a real browser: each page we write, light, dark and 320 px wide."""

from __future__ import annotations

import browser
import pytest
from axe_playwright_python.sync_playwright import Axe
from writeup_inputs import whole_files

import lagwise as lw
from lagwise.caseload import deidentify, read
from lagwise.pages.check_page import check_page, checked
from lagwise.pages.plan_page import plan_page
from lagwise.synthetic import write

pytestmark = pytest.mark.xdist_group("browser")  # files that are made once
SIZES = [("light", 1280), ("dark", 320)]
"""Colours are the same at any width; what changes at 320 px is what scrolls."""


@pytest.fixture(scope="module")
def pages(tmp_path_factory) -> dict[str, str]:
    """Every kind of page as HTML text, by name."""
    written = {name: text.decode("utf-8") for name, text in whole_files().items() if name.endswith(".html")}
    assert len(written) == 2, sorted(written)
    folder = write("tiny", tmp_path_factory.mktemp("made") / "tiny", seed=3)
    own = read(folder)
    written["check.html"] = check_page(checked(folder))
    out = tmp_path_factory.mktemp("copy") / "out"
    deidentify(own, out)
    written["risk.html"] = (out / "risk.html").read_text("utf-8")
    written["plan.html"] = plan_page(lw.plan((8, 12), 10, (0.0, 0.5), caseloads=50))
    return written


def told(results) -> list[str]:
    """Each violation with its first places, so that a failure says what to mend."""
    return [
        f"{v['id']}: {v['help']}: " + " | ".join(n["html"][:200] for n in v["nodes"][:3])
        for v in results.response["violations"]
    ]


def test_no_violation_and_no_sideways_scrolling(opened, pages, tmp_path):
    failures = []
    for name, text in pages.items():
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        for scheme, width in SIZES:
            with browser.page_or_picture(opened, f"{name}-{scheme}-{width}", width=width) as page:
                page.emulate_media(color_scheme=scheme)
                page.goto(file.as_uri())
                failures += [f"{name} {scheme} {width}: {v}" for v in told(Axe().run(page))]
                wide = page.evaluate(
                    "document.documentElement.scrollWidth - document.documentElement.clientWidth"
                )
                failures += [f"{name} {width}: {wide} px wider than the screen"] if wide > 0 else []
    assert not failures, "\n".join(failures)


def test_a_page_with_faults_is_found_out(opened, tmp_path):
    file = tmp_path / "bad.html"
    file.write_text(
        "<!doctype html><title>x</title><img src='data:,'><p style='color:#ccc;background:#fff'>pale</p>"
    )
    with browser.page_or_picture(opened, "bad") as page:
        page.goto(file.as_uri())
        found = " ".join(told(Axe().run(page)))
    assert "image-alt" in found and "color-contrast" in found and "html-has-lang" in found


def test_a_failure_leaves_a_picture(opened, tmp_path, monkeypatch):
    monkeypatch.setattr(browser, "ARTEFACTS", tmp_path / "artefacts")
    with (
        pytest.raises(ValueError, match="of the test"),
        browser.page_or_picture(opened, "failed"),
    ):
        raise ValueError("of the test")
    assert (tmp_path / "artefacts" / "failed.png").read_bytes().startswith(b"\x89PNG")


def test_where_there_is_none_the_test_fails_with_the_mend(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(pytest.fail.Exception, match="apt-get install --no-install-recommends chromium"):
        browser.chromium()
