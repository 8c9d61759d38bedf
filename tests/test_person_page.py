"""One person's page as a browser prints and shows it."""

import re

import pandas as pd
import pytest
import small_records
import writeup_inputs as made

import lagwise as lw
from lagwise.findings.codes import with_pages
from lagwise.writeup.render_person import person_files

pytestmark = pytest.mark.xdist_group("every kind of write-up")  # which are put together once
SIZES = ("A4", "Letter")


def test_every_kind_of_page_prints_on_one_sheet(opened, tmp_path):
    """The longest of several pages, on both papers: gaps, rests, flare-ups of both kinds and a result with its interval."""
    wanted = {
        "one person",
        "exploratory, lower, without the ordinal model",
        "daily, undecided",
        "no load, practically_none",
    }
    found = [f for name, f in made.combinations() if name in wanted]
    assert len(found) == len(wanted)
    for findings in found:
        code = findings.people[0].person
        html = person_files(with_pages(findings, [code]))[f"person-{code}.html"].decode()
        page = opened.new_page(viewport={"width": 320, "height": 640})
        page.set_content(html)
        assert page.evaluate("document.documentElement.scrollWidth") <= 320
        for size in SIZES:
            pdf = page.pdf(format=size, prefer_css_page_size=False)
            assert len(re.findall(rb"/Type\s*/Page\b", pdf)) == 1, size
        page.close()


def test_every_change_is_whole_on_a_phone_and_on_one_sheet(opened):
    days = ("2025-09-20", "2025-10-20", "2025-11-17", "2025-12-15", "2026-01-05")
    kinds = ("technique_change", "education", "load_reduced", "illness", "exercise_removed")
    events = pd.DataFrame({"person": "k01", "date": days, "kind": kinds})
    caseload = lw.from_frames(
        **small_records.tables(people=6, weeks=20), events=events, plan=lw.Study("Six people")
    )
    findings = with_pages(lw.collect(caseload, lw.build_panel(caseload), [], None), ["k01"])
    html = person_files(findings)["person-k01.html"].decode()
    page = opened.new_page(viewport={"width": 390, "height": 800})
    page.set_content(html)
    table = page.locator(".scroll")
    assert table.evaluate("e => e.scrollWidth - e.clientWidth") <= 0
    assert all(kind.replace("_", " ") in table.inner_text() for kind in kinds)
    drawn = page.locator("figure svg.narrow")
    assert drawn.evaluate("e => e.getBoundingClientRect().width / e.viewBox.baseVal.width") > 1.2
    for size in SIZES:
        assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format=size))) == 1, size
    page.close()


def test_it_is_dark_where_the_reader_wants_it_and_white_on_paper(opened):
    [findings] = [
        f for name, f in made.combinations() if name == "exploratory, lower, without the ordinal model"
    ]
    code = findings.people[0].person
    html = person_files(with_pages(findings, [code]))[f"person-{code}.html"].decode()
    looks = """() => {
        const of = (e, k) => getComputedStyle(e)[k];
        const line = [...document.querySelectorAll('figure svg path')].map(p => of(p, 'stroke')).filter(s => s !== 'none');
        return [of(document.documentElement, 'backgroundColor'), of(document.body, 'color'), ...new Set(line)];
    }"""
    page = opened.new_page()
    page.set_content(html)
    seen = {}
    for scheme in ("light", "dark"):
        for media in ("screen", "print"):
            page.emulate_media(color_scheme=scheme, media=media)
            seen[scheme, media] = page.evaluate(looks)
    white, ink = "rgb(255, 255, 255)", "rgb(31, 43, 51)"
    assert seen["light", "screen"][:2] == [white, ink] and ink in seen["light", "screen"][2:]
    assert seen["dark", "screen"][:2] == ["rgb(21, 27, 31)", "rgb(230, 235, 238)"]
    assert "rgb(230, 235, 238)" in seen["dark", "screen"][2:] and ink not in seen["dark", "screen"][2:]
    assert seen["dark", "print"] == seen["light", "print"]
    assert seen["dark", "print"][:2] == [white, "rgb(0, 0, 0)"] and ink in seen["dark", "print"][2:]
