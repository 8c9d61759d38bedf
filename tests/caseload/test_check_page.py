"""The page that `check` writes: it says what was read and found, names every place, escapes the data, and is one file."""

import re
from functools import cache
from html import unescape
from pathlib import Path

import pytest
from whole_page import Page

from lagwise.caseload import read
from lagwise.pages import check_map, check_parts
from lagwise.pages.check_page import check_page, checked
from lagwise.panel import build_panel
from lagwise.say import check_record
from lagwise.say.check_page import coverage

MESSY = Path(__file__).parents[2] / "data_synthetic" / "messy"
READABLE = ["clinic_workbook", "first_export", "gym_log", "second_export", "summed_weeks"]


@cache
def messy(name: str):
    """What reading, checking and laying out found in a messy folder."""
    return checked(MESSY / name)


def page_of(found) -> tuple[str, Page, str]:
    page = check_page(checked(found) if isinstance(found, Path) else found)
    whole = Page(page)
    return page, whole, " ".join("".join(whole.words).split())


@pytest.mark.parametrize("name", READABLE)
def test_the_page_says_everything_that_reading_and_checking_say_to_a_reader_in_a_hurry(name):
    caseload, noticed = messy(name).reading.caseload, messy(name).noticed
    assert all(m.why and m.mend and m.what for m in check_parts.matters(caseload, noticed))
    page, _, text = page_of(messy(name))
    layout(page)
    for table in caseload.counts.to_dict("records"):
        assert f"{table['file']}{table['read']}{table['used']}{table['quarantined']}" in text
    for row in caseload.quarantine.to_dict("records"):
        assert f"row {row['row']}" in text
        assert " ".join(row["mend"].split()) in text
    for finding in noticed.to_dict("records"):
        assert all(finding[key] in text for key in ("what", "where", "why", "mend"))
    for remark in caseload.remarks.to_dict("records"):
        if remark["code"] != "contradiction":
            together = remark["code"] in ("ignored_column", "identifier_column")
            assert (remark["column"] if together else remark["meaning"]) in text
            assert " ".join(remark["examples"].split()) in text


FOREIGN = {
    "checkins": "Code,Datum,pain\na1,2024-01-07,3\na1,2024-01-14,3\na2,2024-01-14,4\n",
    "sessions": "Kode,Tag,sets\na1,2024-01-07,3\na2,2024-01-14,4\n",
}


def sayings(page: str) -> list[str]:
    """Sentences of a page's paragraphs, lists and titles of folds."""
    parts = re.findall(r"<(p|li|summary|figcaption|caption)\b[^>]*>(.*?)</\1>", page, re.DOTALL)
    flat = [" ".join(unescape(re.sub(r"<[^>]+>", "", part)).split()) for _, part in parts]
    return [said for part in flat for said in re.split(r"(?<=[.!?:])\s+(?=[A-Z'\"])", part)]


def layout(page: str) -> None:
    """The first screen in at most 80 words, sections that open with a sentence, folded tables, short sentences."""
    main = page.split("<main", 1)[1]
    first = main.split("</h1>")[1].split("<h2")[0]
    assert len(re.sub(r"<[^>]+>", " ", first).split()) <= 80
    assert "report" in first and ("set aside" in first or "no table" in first)
    assert set(re.findall(r'</h2>\s*<(\w+)(?: class="(?:lead|finding)")?>', main)) == {"p"}
    assert re.sub(r"<details.*?</details>", "", main, flags=re.DOTALL).count("<table") <= 1
    for fold in re.findall(r"<details.*?</details>", main, re.DOTALL):
        rows = fold.count("<tr>") - fold.count("<thead>")
        assert not rows or re.search(rf"table of {rows} rows?</summary>", fold)
    assert [said for said in sayings(main) if len(said.split()) > 30] == []


def test_a_folder_of_foreign_headers_opens_with_one_edit_to_paste(folder):
    page, _, text = page_of(folder(**FOREIGN))
    layout(page)
    before, after = page.split("<h2", 2)[:2]
    assert "2 things below must be mended first" in before
    pasted = unescape(re.search(r"<pre[^>]*>(.*?)</pre>", after, re.DOTALL)[1])
    assert '[tables.checkins.columns]\nperson = "Code"' in pasted and 'date = "Tag"' in pasted
    assert after.index("<pre") < after.index("<details") and "It would bring" in text


def test_a_draft_of_a_folder_without_a_table_of_ours_says_so_at_once(folder):
    root = folder(checkins="a,b,c\n1,2,3\n")
    study = root / "study.toml"
    study.write_text("reviewed = false\n" + study.read_text("utf-8"), "utf-8")
    page, _, text = page_of(root)
    layout(page)
    assert "nothing can be told yet" in text and "study.toml is a draft" in text


def test_repairs_are_counted_per_table():
    caseload = messy("first_export").reading.caseload
    made = check_parts.row_counts(caseload).set_index("table")["repairs"]
    repairs = caseload.remarks[caseload.remarks["code"].str.startswith("repair_")]
    assert (
        made.to_dict() == repairs.groupby("table")["count"].sum().to_dict() == {"checkins": 8, "sessions": 7}
    )


def test_a_contradiction_is_told_once():
    caseload, noticed = messy("second_export").reading.caseload, messy("second_export").noticed
    for some in (noticed, noticed.query("code != 'effort_contradiction'")):
        told = [m.what for m in check_parts.matters(caseload, some)]
        assert sum("reps in reserve" in what for what in told) == 1


def test_nothing_from_the_data_is_markup_and_nothing_is_fetched(folder):
    evil = "<img src=x onerror=alert(1)>\"&'"
    root = folder(
        f"[groups]\nshoulder = ['{'<b>g</b>'}']",
        checkins=f'person,date,pain,{"<script>x</script>"}\n"<script>a</script>",2024-01-07,3,1\n'
        f'"<script>a</script>",2024-01-14,"<i>9</i>",1\n"{evil.replace(chr(34), chr(34) * 2)}",2024-01-14,4,1\n',
    )
    study = root / "study.toml"
    study.write_text(
        study.read_text("utf-8").replace("Elbow pain", "</title><script>alert(1)</script>"), "utf-8"
    )
    page, whole, text = page_of(root)
    names = [tag for tag, _ in whole.tags]
    attributes = [pair for _, given in whole.tags for pair in given.items()]
    assert names.count("script") == 1  # the page's own
    assert not {"img", "i", "b", "iframe", "link"} & set(names)
    assert not [value for name, value in attributes if name in ("src", "srcset", "action", "xlink:href")]
    assert all(value.startswith("#") for name, value in attributes if name == "href")
    assert not [name for name, _ in attributes if name.startswith("on")]
    assert "url(" not in page
    assert "@import" not in page
    assert "<i>9</i>" in text
    assert "</title><script>alert(1)</script>" in text


def test_columns_that_identify_show_no_value(folder):
    rows = "".join(f"a1,2024-01-{day:02d},3,Example Somebody,x{day}@example.invalid\n" for day in (7, 14, 21))
    page, _, text = page_of(folder(checkins="person,date,pain,Full name,contact\n" + rows))
    assert "Full name" in text
    assert "Somebody" not in page
    assert "example.invalid" not in page


def marks(svg: str, name: str) -> int:
    found = re.search(rf'<path class="{name}" d="([^"]*)"', svg)
    return found[1].count("M") if found else 0


def test_the_map_has_a_mark_for_every_step_and_rating():
    panel = build_panel(messy("first_export").reading.caseload)
    svg, left_out = check_map.coverage_map(panel)
    assert {s: marks(svg, s) for s in ("trained", "rest", "unknown")} == {
        s: panel.states[s] for s in ("trained", "rest", "unknown")
    }
    assert marks(svg, "rated") == panel.frame["pain"].notna().sum() > 0
    assert left_out == ""
    assert f'aria-label="{coverage(panel)}"' in unescape(svg)
    assert all(f">{code}</text>" in svg for code in panel.frame["person"].unique())


def test_a_record_of_numbered_days_shows_no_month(folder):
    log = "person,date,pain\n" + "".join(f"a1,{day},3\n" for day in range(1, 64, 7))
    root = folder('[tables.checkins]\ndate_format = "day"', checkins=log)
    svg, _ = check_map.coverage_map(build_panel(read(root)))
    assert re.findall(r'class="when"[^>]*>([^<]*)<', svg) == ["week 1", "week 6"]


def test_a_large_caseload_is_cut_and_says_so(folder):
    many = [(f"p{i:03d}", "2024-01-07") for i in range(305)] + [
        ("p000", f"{y}-01-07") for y in range(2025, 2035)
    ]
    text = "person,date,pain\n" + "".join(f"{code},{day},3\n" for code, day in many)
    panel = build_panel(read(folder(checkins=text)))
    svg, left_out = check_map.coverage_map(panel)
    beyond = panel.frame.query("person == 'p000'")["step"].ge(check_map.MOST_STEPS).sum()
    assert left_out == f"Not drawn: 5 people beyond the first 300 and {beyond} steps later than the first 400 of the calendar."  # fmt: skip
    assert svg.count('y="') - svg.count('class="when"') == check_map.MOST_PEOPLE
    assert len(svg) < 100_000


def test_the_other_reading_is_named(folder):
    tables = {
        "checkins": "person,date,pain\n" + "".join(f"a1,2024-01-{day:02d},3\n" for day in (1, 8, 15)),
        "sessions": "person,date,sets\na1,2024-01-01,3\n",
    }
    unknown = check_record.states_sentence(build_panel(read(folder(**tables))))
    rest = check_record.states_sentence(
        build_panel(read(folder('[load]\nno_sessions_means = "rest"', **tables)))
    )
    assert "1 trained, 0 rest, 2 unknown" in unknown
    assert 'With no_sessions_means = "rest" 2 weeks' in unknown
    assert "1 trained, 2 rest, 0 unknown" in rest
    assert 'With no_sessions_means = "unknown" 2 weeks' in rest


def test_a_page_for_summed_weeks_and_for_people_without_ratings(folder):
    weeks = "person,week,load,pain\na,2024-01-03,3,1\na,2024-01-10,3,\n"
    _, _, text = page_of(folder(weeks=weeks))
    assert "1 week with pain" in text
    (folder() / "weeks.csv").unlink()
    _, _, text = page_of(folder(checkins="person,date,pain\na,2024-01-03,\n"))
    assert "0 weeks with pain" in text


def test_the_page_is_the_same_each_time():
    assert check_page(messy("second_export")) == check_page(messy("second_export"))
