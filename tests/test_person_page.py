"""One person's page as a browser prints and shows it."""

import re

import browser
from writeup import writeup_inputs as made

from lagwise.writeup.person import with_pages
from lagwise.writeup.render_person import person_files

SIZES = ("A4", "Letter")


def test_every_kind_of_page_prints_on_one_sheet(tmp_path):
    """The longest of several pages, on both papers: gaps, rests, flare-ups of both kinds and a result with its interval."""
    wanted = {
        "one person",
        "exploratory, lower, without the ordinal model",
        "daily, undecided",
        "no load, practically_none",
    }
    found = [f for name, f in made.combinations() if name in wanted]
    assert len(found) == len(wanted)
    with browser.browser() as opened:
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
