"""What is said of flare-ups, from real flare models of a synthetic clinic."""

from dataclasses import replace

import pytest
import writeup_inputs as made

from lagwise.document.markdown import render_md
from lagwise.models import fit_flares, fit_mixed
from lagwise.panel import build_panel
from lagwise.synthetic import CLINIC, simulate
from lagwise.writeup import collect
from lagwise.writeup.document import document
from lagwise.writeup.wording import Risk, other_model


@pytest.fixture(scope="module")
def clinic():
    caseload = simulate(CLINIC, 1)
    panel = build_panel(caseload)
    return caseload, panel, fit_mixed(panel), fit_flares(panel, simulations=0)


def test_the_ordinal_model_stands_beside_the_flare_model_on_the_same_difference(clinic):
    caseload, panel, mixed, flares = clinic
    with_it = render_md(document(collect(caseload, panel, [mixed, made.ordinal(), flares], None)))
    without = render_md(document(collect(caseload, panel, [mixed, flares], None)))
    said = "The ordinal model, which uses every rating and not the beginnings of flare-ups alone, puts that difference at"
    assert "In the flare model about" in without and said not in without
    assert with_it.index("In the flare model about") < with_it.index(said)


def test_the_wider_interval_is_called_the_less_sure():
    narrow, wide = Risk(0.04, 0.06, 0.02, 0.01, 0.04), Risk(0.06, 0.14, 0.08, 0.02, 0.14)
    assert other_model(narrow, wide, 16).endswith(
        "at 2.0 more of 100 (95 % credible interval 1.0 to 4.0 more); with 16 flare-ups the flare model is the less sure of the two."
    )
    assert other_model(narrow, wide, None).endswith(
        "with few flare-ups the flare model is the less sure of the two."
    )
    assert other_model(wide, narrow, 16).endswith("at 8 more of 100 (95 % credible interval 2 to 14 more).")


def test_definitions_are_compared_only_where_people_were_asked(clinic):
    caseload, panel, mixed, flares = clinic
    title = "How far the two definitions of a flare-up agree"
    assert title in render_md(document(collect(caseload, panel, [mixed, flares], None)))
    silent = build_panel(replace(caseload, checkins=caseload.checkins.drop(columns="flare")))
    text = render_md(document(collect(caseload, silent, [mixed, fit_flares(silent, simulations=0)], None)))
    assert "What came before flare-ups" in text and title not in text
