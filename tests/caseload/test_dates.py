from datetime import date
from pathlib import Path

import pytest

from lagwise.caseload.dates import date_reader
from lagwise.caseload.places import Place
from lagwise.core.errors import CaseloadError
from lagwise.core.study import TableSource

DAY = date(2024, 3, 14)


def reader(*texts: str, date_format: str = "", repair: dict | None = None):
    place = Place("checkins", Path("x.csv"), "x.csv", TableSource(date_format=date_format))
    return date_reader(texts, place, "date", repair or {})


def one(text: str, **options):
    return reader(text, **options)(text)


def test_iso_needs_no_repair():
    assert one("2024-03-14") == one("2024-03-14", repair={"date_words": False})
    assert one("2024-03-14").value == DAY
    assert one("2024-03-14").repairs == ()


@pytest.mark.parametrize(
    "text",
    ["14.03.2024", "14/3/2024", "03/14/2024", "2024/03/14", "20240314", "14 March 2024", "14-Mar-2024", "Mar 14, 2024",
     "Thu 14 Mar 2024", "14. März 2024"],
)  # fmt: skip
def test_spellings_with_one_reading_are_repairs(text):
    assert one(text).value == DAY
    assert one(text).repairs == ("date_words",)
    assert one(text, repair={"date_words": False}).code == "bad_date"


def test_serial_numbers_and_times_of_day():
    assert one("45365").value == DAY
    assert one("45365").repairs == ("date_serials",)
    assert one("45365", repair={"date_serials": False}).code == "bad_date"
    for text in ("2024-03-14 07:30", "2024-03-14T07:30:12Z", "2024-03-14 07:30:00.123"):
        assert one(text).value == DAY
        assert one(text).repairs == (("date_times", "time_zones") if "Z" in text else ("date_times",))
        assert one(text, repair={"date_times": False}).code == "bad_date"
        assert one(text, repair={"time_zones": False}).code == ("bad_date" if "Z" in text else "")


@pytest.mark.parametrize("text", ["03/04/2024", "3.4.2024", "03-04-2024", "03/04/2024 10:30"])
def test_day_or_month_first_stops_with_a_question(text):
    with pytest.raises(CaseloadError, match=r"day first or month first\?.*date_format") as caught:
        one(text)
    assert text in str(caught.value)


def test_another_row_of_the_column_decides():
    assert reader("03/04/2024", "14/03/2024")("03/04/2024").value == date(2024, 4, 3)
    assert reader("03/04/2024", "03/14/2024")("03/04/2024").value == date(2024, 3, 4)


def test_same_day_and_month_need_no_question():
    assert one("04/04/2024").value == date(2024, 4, 4)


def test_rows_that_contradict_each_other_stop():
    with pytest.raises(CaseloadError, match="others only month first"):
        reader("14/03/2024", "03/15/2024")


def test_declared_format_decides_alone():
    assert one("03/04/2024", date_format="%m/%d/%Y").value == date(2024, 3, 4)
    assert one("03/04/24", date_format="%d/%m/%y").value == date(2024, 4, 3)
    assert one("2024-14-03", date_format="%d.%m.%Y").code == "bad_date"
    assert one("14.03.2024 07:30", date_format="%d.%m.%Y").repairs == ("date_times",)


@pytest.mark.parametrize("text", ["14.03.24", "14/03/2024", "14. 3. 2024", "14.03.2024.", "2024-03-14"])
def test_the_declared_order_in_another_spelling_is_a_repair(text):
    reading = one(text, date_format="%d.%m.%Y")
    assert (reading.value, reading.repairs) == (date(2024, 3, 14), ("date_words",))
    assert one(text, date_format="%d.%m.%Y", repair={"date_words": False}).code == "bad_date"
    assert one("2024-04-03", date_format="%Y-%d-%m").value == date(2024, 3, 4)
    assert one("2024-03-14", date_format="%Y-%d-%m").code == "bad_date"


@pytest.mark.parametrize(
    ("text", "time"),
    [
        ("Thursday, 14 March 2024", None), ("Do., 14.03.2024", None), ("14th of March 2024", None), ("March 14th, 2024", None),
        ("14 mars 2024", None), ("14 de marzo de 2024", None), ("14.03.2024 – 20:15", "20:15"), ("14.03.2024, 20:15 Uhr", "20:15"),
        ("14.03.2024 20h15", "20:15"), ("2024/03/14 8:15:09 PM GMT+1", "20:15"),
    ],
)  # fmt: skip
def test_dates_and_clocks_of_other_places(text, time):
    reading = one(text)
    assert (reading.value, reading.extra) == (date(2024, 3, 14), time)


def test_a_weekday_before_the_date_hides_no_question():
    with pytest.raises(CaseloadError, match="day first or month first"):
        reader("Sunday, 03/04/2024")


@pytest.mark.parametrize(
    "text", ["2024-13-01", "2024-02-30", "yesterday", "14.03.24", "13/25/2024", "1", "0000-00-00"]
)
def test_no_dates(text):
    assert one(text).code == "bad_date"


@pytest.mark.parametrize("text", ["1949-12-31", "2101-01-01", "0024-03-14"])
def test_dates_outside_any_log(text):
    assert one(text).code == "out_of_range"


def test_endless_texts_are_answered_at_once():
    assert one("14.03.2024" + " " * 100_000 + "x").code == "bad_date"


def test_a_serial_with_a_fraction_carries_its_clock():
    assert (one("45365.3125").value, one("45365.3125").extra) == (DAY, "07:30")
    assert one("45365,3125").repairs == ("date_serials", "date_times")
    assert (one("45365.0").value, one("45365.0").extra) == (DAY, None)
    assert one("45365.99999").value == date(2024, 3, 15)
    assert one("45365.3125", repair={"date_times": False}).code == "bad_date"


def test_a_declared_clock_is_kept():
    assert one("14.03.2024 07:30", date_format="%d.%m.%Y %H:%M").extra == "07:30"


@pytest.mark.parametrize(
    "text", ["14. März 2024", "14. Mrz. 2024", "Donnerstag, 14. März 2024", "14 Mär 2024"]
)
def test_german_months(text):
    assert one(text).value == DAY
    assert one("28. Oktober 2024").value == date(2024, 10, 28)
    assert one("5 mai 2024").value == date(2024, 5, 5)
    assert one("19. Dez. 2024").value == date(2024, 12, 19)


def test_a_year_of_two_digits_is_set_aside_with_the_format_to_declare():
    assert '"%d.%m.%y"' in one("14.03.24").mend
