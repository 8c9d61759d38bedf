import io
import re

import numpy as np
import pytest
import writeup_inputs as made
from PIL import Image

from lagwise.core.errors import WriteUpError
from lagwise.document.html import image
from lagwise.document.markdown import render_md
from lagwise.document.svg import shared
from lagwise.document.tree import Figure, Grid, walk
from lagwise.findings import PersonEvent, PictureFacts, Table
from lagwise.say.report.document import document, on_sheets
from lagwise.say.report.figures import PANELS_UP_TO, figures
from lagwise.say.report.figures_people import PER_PAGE
from lagwise.writeup.collect import collect
from lagwise.writeup.draw import draw, draw_svg
from lagwise.writeup.raster import view
from lagwise.writeup.render_pdf import FIGURE_HEIGHT, FIGURE_WIDTH


@pytest.fixture(scope="module")
def pictures():
    return figures(made.whole())


def test_the_figures_of_a_full_report(pictures):
    assert list(pictures) == [
        "flow", "timeline", "coverage", "trajectories", "effects", "adjustments", "all-challenges", "challenge-same-week-answer", "challenge-shuffled-load",
        "challenge-event-picture", "challenge-leave-one-out", "challenge-reverse-path",
    ]  # fmt: skip


def test_every_kind_draws_at_twice_its_size(pictures):
    for picture in pictures.values():
        drawn = draw(picture)
        assert b"<dc:date>" not in drawn["svg"]
        image = Image.open(io.BytesIO(drawn["png"]))
        assert abs(image.width - 2 * 96 * view(drawn["svg"])[0] / 72) <= 2
        pixels = np.asarray(image.convert("L"))
        assert (pixels < 128).mean() > 0.001


def test_the_picture_of_the_answer_can_be_read_on_a_phone():
    rows = [("step", x, y, None, None, None, None) for x, y in ((60, 2.0), (140, 5.0))]
    rows += [(w, x, 3.0, 2.5, 3.5, 9, 40) for w in ("band", "line") for x in (50, 80, 100, 150)]
    columns = ("what", "x", "outcome", "low", "high", "n_people", "n_steps")
    options = {"small": False, "percent": True, "usual": 100.0, "level": 3.0, "important": 1.0, "low": 0, "high": 10,
               "labels": dict.fromkeys(("step", "band", "line", "important"), "what it is")}  # fmt: skip
    for small in (False, True):
        picture = PictureFacts(
            kind="answer", title="Weeks: followed by higher pain", x="load, %", y="pain, points (0-10)",
            data=Table(columns=columns, rows=tuple(rows)), alt="", options=options | {"small": small},
        )  # fmt: skip
        svg = draw_svg(picture)
        shown = image("answer", {"svg": svg, "png": b""}, "alt", {})
        assert view(svg)[0] <= 350 and 'class="narrow"' in shown
    long = picture.model_copy(update={"x": "worry about the pain against the person's own average, points"})
    wide = PictureFacts(
        kind="intervals", title="", x="difference in pain, points, per +50 %: mean and middle 95 of 100 caseloads", y="", alt="",
        data=Table(columns=("label", "estimate", "low", "high"), rows=(("joint model, pain first, true 0.00", 0, -1, 1),)),
    )  # fmt: skip
    for named in (long, wide):
        ink = np.asarray(Image.open(io.BytesIO(draw(named)["png"])).convert("L"))
        assert ink.min() < 128 and ink[:, -4:].min() > 200
    whole = picture.model_copy(
        update={"kind": "histogram", "options": {"mark": 1}, "data": Table(columns=("value",), rows=((1,),))}
    )
    assert "narrow" not in image("bars", {"svg": draw_svg(whole), "png": b""}, "alt", {})


def test_figures_of_a_page_share_the_outlines_of_their_letters():
    """Each letter is outlined once, every use of one finds it, and nothing else loses its own id."""

    def bars(label):
        data = Table(columns=("value",), rows=((1,), (2,)))
        return PictureFacts(
            kind="histogram", title="Bars", x=label, y="", alt="", data=data, options={"mark": 1}
        )

    glyphs: dict[str, str] = {}
    shown = [
        image(name, {"svg": draw_svg(bars(name)), "png": b""}, name, glyphs) for name in ("first", "second")
    ]
    page = shared(glyphs) + "".join(shown)
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids)) and len(glyphs) > 3
    assert set(re.findall(r'href="#([^"]+)"', page)) | set(re.findall(r"url\(#([^)]+)\)", page)) <= set(ids)
    assert not re.search(r'd="[^"]*\.\d{3}', "".join(shown))


def test_an_unknown_kind_is_an_error():
    with pytest.raises(WriteUpError, match="pie"):
        draw(PictureFacts(kind="pie", title="t", data=Table(columns=(), rows=()), x="", y="", alt=""))


def test_the_timeline_stands_in_dates_with_a_shape_for_each_change():
    """A step that began on a date is drawn there; what changed stands at the step whose rating is after it."""
    found = collect(made.caseload(), made.panel(4, 6), [], None)
    event = PersonEvent(kind="education", start=2)
    first = found.people[0].model_copy(update={"events": (event,)})
    events = Table(columns=("kind", "n_events", "n_people"), rows=(("education", 1, 1),))
    update = {"people": (first, *found.people[1:]), "tables": {**found.tables, "events": events}}
    picture = figures(found.model_copy(update=update))["timeline"]
    rows = [r for r in picture.data.records() if r["person"] == "P01"]
    assert [r["date"] for r in rows][:3] == ["2024-01-01", "2024-01-08", "2024-01-15"]
    assert [r["events"] for r in rows] == ["", "", "education", "", "", ""]
    assert "January 2024 to February 2024, with what changed" in picture.title
    bare = found.model_copy(
        update={"people": tuple(p.model_copy(update={"began": ""}) for p in found.people)}
    )
    months = figures(bare)["timeline"]
    assert months.kind == "months" and sum(months.data.column("steps")) == len(made.panel(4, 6).frame)
    assert len(draw_svg(picture)) > 5000 and len(draw_svg(months)) > 5000


def test_courses_are_paged():
    found = collect(made.caseload(), made.panel(PER_PAGE + 2, 8), [], None)
    pages = {n: p for n, p in figures(found).items() if n.startswith("trajectories")}
    people = [set(p.data.column("person")) for p in pages.values()]
    assert [len(p) for p in people] == [PER_PAGE, 2]
    assert not people[0] & people[1]


def test_more_people_than_panels_can_be_read_of_stand_in_one_map():
    many = collect(made.caseload(), made.panel(PANELS_UP_TO + 1, 4), [], None)
    few = many.model_copy(update={"people": many.people[:-1]})
    assert "pain-map" not in figures(few)
    picture = figures(many)["pain-map"]
    assert len(set(picture.data.column("person"))) == PANELS_UP_TO + 1
    means = {r["person"]: r["mean_pain"] for r in many.tables["people"].records()}
    order = [means[p] for p in dict.fromkeys(picture.data.column("person")) if means[p] is not None]
    assert order == sorted(order)
    blocks = list(walk(document(many).blocks))
    shown = [b.name for b in blocks if isinstance(b, Figure)]
    assert "pain-map" in shown and not [n for n in shown if n.startswith("trajectories")]
    assert not [b for b in blocks if isinstance(b, Grid) and b.id == "each-person"]
    text = render_md(on_sheets(document(many)))
    assert "files trajectories-1 to trajectories-3" in text and "each-person.csv" in text
    assert "each-person.csv" not in render_md(on_sheets(document(few)))


def test_panels_of_very_many_people_are_of_some_and_say_so(monkeypatch):
    monkeypatch.setattr("lagwise.say.report.figures_people.PANELS_AT_MOST", 2 * PER_PAGE)
    found = collect(made.caseload(), made.panel(PANELS_UP_TO + 4, 4), [], None)
    pages = [p for n, p in figures(found).items() if n.startswith("trajectories")]
    assert [len(set(p.data.column("person"))) for p in pages] == [PER_PAGE] * 2
    assert pages[1].title.endswith(f"({PER_PAGE} of {PANELS_UP_TO + 4} people)")
    assert (
        "A panel of pain and load of 96 of the 100 people, taken evenly through the codes, is"
        in render_md(on_sheets(document(found)))
    )


@pytest.mark.parametrize(
    ("kind", "row", "options"),
    [
        ("intervals", {"label": "P{i}", "estimate": 0.1, "low": 0.0, "high": 0.2}, {}),
        ("coverage", {"person": "P{i}", "step": 0, "state": "trained", "ratings": 1}, {"rated": "rated"}),
        ("pain_map", {"person": "P{i}", "step": 0, "pain": 3.0, "flare": False}, {"low": 0, "high": 10}),
    ],
)
def test_no_figure_is_taller_than_a_page_carries_at_full_width(kind, row, options):
    first, *others = row.values()
    data = Table(columns=tuple(row), rows=tuple((first.format(i=i), *others) for i in range(500)))
    picture = PictureFacts(kind=kind, title="t", data=data, x="x", y="y", alt="a", options=options)
    across, high = view(draw(picture)["svg"])
    assert high / across * FIGURE_WIDTH < FIGURE_HEIGHT


def test_missing_numbers_leave_gaps_not_errors():
    data = Table(
        columns=("label", "estimate", "low", "high", "group"),
        rows=(("a", None, None, None, "g"), ("b", 1.0, None, None, "g")),
    )
    draw(PictureFacts(kind="intervals", title="t", data=data, x="x", y="", alt="a"))
    none = Table(columns=("value",), rows=())
    draw(PictureFacts(kind="histogram", title="t", data=none, x="x", y="", alt="a", options={"mark": 1}))
