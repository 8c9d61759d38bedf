"""What objects show of themselves: whole, escaped, self-contained cards with units, sizes and intervals; short text."""

from __future__ import annotations

import re
import subprocess
import sys
from dataclasses import replace
from functools import cache

import pandas as pd
import pytest
from whole_page import Page
from writeup_inputs import STUDY, caseload, challenges, mixed, ordinal, panel

import lagwise as lw
from lagwise.core.variable import Variable
from lagwise.document.card import card, card_html, fold, quiet, table
from lagwise.say import show_records, show_results
from lagwise.writeup.collect import collect

HOSTILE = '<script>window.hit = 1</script>"><img src=x onerror="window.hit = 2">&amp;'


def quarantine(n: int = 3, mend: str = "Give a number from 0 to 10.") -> pd.DataFrame:
    rows = [("checkins", i + 2, f"column {i % 12}", "77", "out_of_range", mend) for i in range(n)]
    return pd.DataFrame(rows, columns=["table", "row", "column", "value", "code", "mend"])


@cache
def shown() -> dict[str, object]:
    fit = mixed()
    return {
        "caseload": caseload(quarantine=quarantine()), "panel": panel(), "mixed": fit, "ordinal": ordinal(),
        "effects": fit.effects, "challenges": challenges(), "challenge": next(iter(challenges())),
        "unusable": mixed(usable=False), "findings": collect(caseload(), panel(), [fit], challenges()),
    }  # fmt: skip


@pytest.fixture(params=["caseload", "panel", "mixed", "ordinal", "effects", "challenges", "challenge", "unusable", "findings"])  # fmt: skip
def thing(request):
    return shown()[request.param]


def html(thing) -> str:
    return thing._repr_html_()


def test_a_card_is_whole_and_keeps_to_itself(thing):
    text = html(thing)
    page = Page(text)
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert not {tag for tag, _ in page.tags} & {"script", "link", "iframe", "img", "object"}
    assert not re.search(r"https?:|//|url\(|@import|\bsrc=|\bhref=", text)
    assert not [a for _, a in page.tags for name in a if name.startswith("on")]
    rules = re.search(r"<style>(.*?)</style>", text, re.DOTALL).group(1).splitlines()
    assert all(
        part.startswith(".lagwise-card") for rule in rules for part in rule.split("{")[0].split(",")
    ), "a rule leaks"
    assert not re.search(r"#[0-9a-fA-F]{3,8}\b|\bred\b|\bgreen\b", "".join(rules)), (
        "no colour but the page's own"
    )


def test_the_same_object_gives_the_same_bytes(thing):
    assert html(thing) == html(thing)


@pytest.mark.parametrize("name", ["mixed", "ordinal", "effects"])
def test_results_carry_estimate_interval_unit_and_sizes(name):
    said = Page(html(shown()[name])).text
    for needed in ("95 % interval", "points (0-10)", "11", "61", "people"):
        assert needed in said
    assert "*" not in said
    first = {
        "mixed": "+0.42 +0.11 to +0.73",
        "effects": "+0.42 +0.11 to +0.73",
        "ordinal": "+0.38 +0.10 to +0.66",
    }[name]
    assert first in said


def test_a_panel_says_its_size_its_units_and_how_much_is_known():
    whole = panel()
    said = Page(html(whole)).text
    known = int(whole.frame["pain"].notna().sum())
    share = f"{100 * known / len(whole.frame):.0f} %"
    assert f"12 people, {len(whole.frame)} person-weeks" in said
    assert f"pain points {known} {share} 12" in said
    assert "working sets" in said
    assert f"The first 5 of {len(whole.frame)} rows" in said
    assert f"And {len(whole.frame) - 5} rows more" in said


def test_a_caseload_says_what_became_of_every_row():
    said = Page(html(caseload(quarantine=quarantine()))).text
    assert "checkins checkins.csv 210 207 3" in said
    assert "out of range 1 Give a number from 0 to 10." in said
    assert "3 rows set aside" in said


def test_no_card_names_a_person_or_repeats_a_cell():
    codes = [f"Mira-{i}" for i in range(12)]
    cards = (html(panel(codes=codes)), html(caseload(quarantine=quarantine())))
    assert not any("Mira" in text for text in cards)
    assert "77" not in Page(cards[1]).text


def test_long_lists_end_with_the_count_of_the_rest(monkeypatch):
    assert f"And {12 - show_records.MOST} kinds more." in Page(html(caseload(quarantine=quarantine(40)))).text
    monkeypatch.setattr(show_results, "MOST", 5)
    effects = mixed().effects
    assert f"And {len(effects) - 5} rows more" in Page(html(effects)).text
    assert repr(effects).endswith(f"... and {len(effects) - 5} rows more")


def test_absolute_numbers_stand_before_ratios():
    effects = mixed().effects
    ratio = effects.assign(scale="odds_ratio", estimate=1.4, low=0.9, high=2.2, primary=False)
    mixed_up = type(effects)(pd.concat([ratio, effects], ignore_index=True))
    said = Page(html(mixed_up)).text
    assert said.index("difference in points") < said.index("odds ratio")
    assert "1.4 0.9 to 2.2" in said, "a ratio carries no plus sign"
    risks = Page(html(ordinal())).text
    assert risks.index("In absolute terms") < risks.index("What followed")
    assert "usual load 8.1 5.0 to 12.0" in risks


def test_a_fit_that_failed_its_checks_shows_no_result():
    said = Page(html(mixed(usable=False))).text
    assert "Not usable as a result: the Hessian is not positive definite." in said
    assert "0.42" not in said
    assert "0.42" not in repr(mixed(usable=False))
    assert "0.42" in repr(mixed())


def test_only_the_answering_rows_stand_on_the_card_of_a_fit():
    effects = mixed().effects
    between = effects[effects["term"] == "effort"].assign(level="between")
    backwards = pd.concat([between, effects.iloc[::-1]], ignore_index=True)
    rows = show_results.headline(backwards, "mixed")
    assert set(rows["term"]) == {"jump", "effort", "stress", "sleep_hours", "worry"}
    assert len(rows) == 5
    assert set(rows["adjustment"]) == {"adjusted"}
    assert set(rows["pain_adjusted"]) == {"during"}
    assert set(rows["level"]) == {"whole", "within"}
    assert rows["primary"].tolist() == [True, False, False, False, False]


def test_what_comes_from_data_is_escaped():
    study = replace(STUDY, title=HOSTILE)
    bad = caseload(study, quarantine=quarantine(mend=HOSTILE))
    counts = bad.counts.assign(file=HOSTILE)
    one = replace(next(iter(challenges())), title=HOSTILE, question=HOSTILE, sentence=HOSTILE, limits=HOSTILE)
    numbers = one.numbers.assign(quantity=HOSTILE, unit=HOSTILE)
    fit = replace(mixed(), rung=HOSTILE, notes=(HOSTILE,), step=HOSTILE)
    many = replace(challenges(), results=(one,))
    cards = [
        html(o)
        for o in (replace(bad, counts=counts), replace(one, numbers=numbers), fit, many, panel(study=study))
    ]
    grid = table(HOSTILE, (HOSTILE,), [(HOSTILE,)], note=HOSTILE, groups=(HOSTILE,))
    for text in (*cards, card_html(card(HOSTILE, [HOSTILE], fold(HOSTILE, grid), quiet(HOSTILE)))):
        page = Page(text)
        assert not {tag for tag, _ in page.tags} & {"script", "img"}
        assert "window.hit" in page.text


def test_at_a_prompt_every_object_is_a_few_lines(thing):
    lines = repr(thing).splitlines()
    assert 1 < len(lines) <= 26
    assert "DataFrame(" not in repr(thing)
    assert "mappingproxy" not in repr(thing)


def test_a_study_and_a_picture_are_short_too():
    picture = next(c.picture for c in challenges() if c.picture is not None)
    assert repr(STUDY).startswith("Study: Shoulder and elbow pain")
    assert len(repr(STUDY)) < 400
    assert repr(picture) == f"Picture ({picture.kind}): {picture.title}"


def test_an_effect_table_is_a_dataframe_and_without_its_columns_shows_as_one():
    effects = mixed().effects
    assert isinstance(effects, pd.DataFrame)
    part = effects[["term", "estimate"]]
    plain = pd.DataFrame(part)
    assert repr(part) == repr(plain)
    assert html(part) == plain._repr_html_()
    assert repr(effects.iloc[:0]).startswith("Empty EffectTable")
    assert "1 row" in repr(effects.query("primary"))


def test_a_day_is_not_called_a_week():
    daily = replace(STUDY, clock=replace(STUDY.clock, step_days=1))
    said = Page(html(panel(study=daily))).text
    assert "person-days" in said
    assert "week" not in said.replace("winter", "")


def test_effects_by_themselves_say_the_step_of_their_fit():
    effects = replace(mixed(), step="day").effects
    for shown in (effects, effects.query("engine == 'mixed'")):
        assert "Differences between days" in Page(html(shown)).text
        assert "person-days" in Page(html(shown)).text


def test_a_fit_says_its_studys_own_label_and_scale(tmp_path):
    own = Variable("fatigue", "tiredness after training", "point", low=1.0, high=5.0, worse="high", own=True)
    fit = mixed()
    effects = fit.effects.assign(outcome="fatigue_next")
    asked = replace(fit, outcome="fatigue_next", effects=effects, asked=(own,))
    onsets = replace(asked, effects=effects.assign(outcome="flare_next"), outcome="flare_next")
    for shown in (asked, lw.load(asked.save(tmp_path / "fit.nc"))):
        assert shown.asked == (own,)
        assert repr(shown).startswith("Mixed model: tiredness after training in the next step")
        for card_of in (shown, shown.effects, shown.effects.query("primary")):
            said = Page(html(card_of)).text
            assert "Tiredness after training in the next step: difference in points (1-5)" in said
            assert "pain" not in said.replace("worry about the pain", "")
    assert "a rise in tiredness after training beginning in the next step" in repr(onsets)


def test_tables_are_built_only_where_they_are_shown():
    asked = (
        "import sys, lagwise as lw, lagwise.core.results; repr(lw.Study('a')); print('jinja2' in sys.modules)"
    )
    out = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert out.stdout.strip() == "False"
    assert lw.Panel is type(panel())
