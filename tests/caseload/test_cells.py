import math

import pytest

from lagwise.caseload import cells
from lagwise.core import columns

BY_NAME = {c.name: c for table in columns.TABLES.values() for c in table}


def number(
    name: str, text: str, *, decimal: str = ".", factor: float = 1.0, repair: dict | None = None
) -> cells.Reading:
    return cells.number_reader(BY_NAME[name], decimal=decimal, factor=factor, repair=repair or {})(text)


@pytest.mark.parametrize(
    ("name", "text", "value", "repairs"),
    [
        ("pain", "7", 7.0, ()), ("pain", "+7.50", 7.5, ()), ("pain", ".5", 0.5, ()),
        ("pain", "7,5", 7.5, ("decimal_sign",)), ("pain", "8/10", 8.0, ("out_of_ten",)),
        ("pain", "8 out of 10", 8.0, ("out_of_ten",)),
        ("pain", "7,5/10", 7.5, ("out_of_ten", "decimal_sign")), ("effort", "RPE 8", 8.0, ("rpe_words",)),
        ("effort", "@8.5", 8.5, ("rpe_words",)), ("effort", "RPE: 8/10", 8.0, ("rpe_words", "out_of_ten")),
        ("load_kg", "82,5 kg", 82.5, ("units_in_cell", "decimal_sign")),
        ("load_kg", "82.5kg", 82.5, ("units_in_cell",)),
        ("load_kg", "100 lb", 45.359237, ("pounds_in_cell",)),
        ("minutes", "45 min", 45.0, ("units_in_cell",)),
        ("sleep_hours", "7,25 h", 7.25, ("units_in_cell", "decimal_sign")),
        ("sets", "3x8", 3.0, ("sets_by_reps",)), ("sets", "3 × 8", 3.0, ("sets_by_reps",)),
        ("sets", "3 sets", 3.0, ("units_in_cell",)), ("pain", "4 points", 4.0, ("units_in_cell",)),
        ("pain", "NA", None, ("missing_words",)), ("pain", "(leer)", None, ("missing_words",)),
        ("pain", "٧", 7.0, ("other_digits",)), ("pain", "７,５", 7.5, ("other_digits", "decimal_sign")),
        ("pain", "7½", 7.5, ("fractions",)), ("pain", "7 1/2", 7.5, ("fractions",)),
        ("load_kg", "1 000,5 lb", 1000.5 * cells.POUND, ("pounds_in_cell", "thousands")),
        ("load_kg", "BW", None, ("body_weight",)), ("minutes", "1h", 60.0, ("hours_and_minutes",)),
        ("minutes", "1:15", 75.0, ("hours_and_minutes",)), ("minutes", "1h15", 75.0, ("hours_and_minutes",)),
        ("minutes", "1 h 15 min", 75.0, ("hours_and_minutes",)),
        ("minutes", "1,5 Std.", 90.0, ("hours_and_minutes",)),
        ("minutes", "01:15:00", 75.0, ("hours_and_minutes",)),
        ("sleep_hours", "7:30", 7.5, ("hours_and_minutes",)),
        ("sleep_hours", "450 min", 7.5, ("hours_and_minutes",)), ("reps", "8/8/9", 25 / 3, ("reps_listed",)),
        ("reps", "8, 8, 9", 25 / 3, ("reps_listed",)), ("reps", "8+7", 7.5, ("reps_listed",)),
        ("sets", "8,8,9", 3.0, ("reps_listed",)),
        *(("pain", text, None, ("missing_words",)) for text in ("-", ".", "..", "#NV", "keine Angabe", "not recorded"))],
)  # fmt: skip
def test_numbers_and_their_repairs(name, text, value, repairs):
    reading = number(name, text)
    assert reading.code == ""
    assert reading.repairs == repairs
    assert reading.value is None if value is None else math.isclose(reading.value, value)


@pytest.mark.parametrize(
    ("name", "text", "code"),
    [
        ("pain", "11", "out_of_range"), ("pain", "-1", "out_of_range"), ("pain", "seven", "bad_number"),
        ("pain", "7-8", "bad_number"), ("pain", "8/20", "bad_number"), ("pain", "1e1", "bad_number"),
        ("pain", "inf", "bad_number"), ("pain", "² ", "bad_number"), ("pain", "#DIV/0!", "bad_number"),
        ("load_kg", "1,250", "bad_number"), ("load_kg", "BW+10", "bad_number"),
        ("load_kg", "1 1/3", "bad_number"), ("reps", "8-10", "bad_number"), ("reps", "8/7/6/", "bad_number"),
        ("sets", "8/8", "bad_number"), ("sets", "3x8x40", "bad_number"), ("minutes", "1:75", "bad_number"),
        ("minutes", "1 h 75", "bad_number"), ("minutes", "45:00", "out_of_range"),
        ("minutes", "one hour", "bad_number"), ("sleep_hours", "25 h 10", "out_of_range"),
        ("pain", "7,5,1", "bad_number"), ("load_kg", "1,200", "bad_number"),
        ("load_kg", "100 stone", "bad_number"), ("load_kg", "700", "out_of_range"),
        ("load_kg", "1500 lb", "out_of_range"), ("minutes", "100 lb", "bad_number"),
        ("sets", "2.5", "not_whole"), ("sets", "101", "out_of_range"), ("reps", "3x8", "bad_number"),
        ("pain", "=A1+1", "formula_without_value"), ("pain", "9" * 50, "bad_number"),
        ("pain", "2024-10-08", "bad_number")],
)  # fmt: skip
def test_numbers_that_cannot_be_read(name, text, code):
    reading = number(name, text)
    assert reading.code == code
    assert reading.mend
    assert reading.value is None


@pytest.mark.parametrize(
    ("name", "text", "switch"),
    [
        ("pain", "7,5", "decimal_sign"), ("pain", "8/10", "out_of_ten"), ("effort", "RPE 8", "rpe_words"),
        ("load_kg", "82 kg", "units_in_cell"), ("load_kg", "100 lb", "pounds_in_cell"),
        ("sets", "3x8", "sets_by_reps"), ("pain", "NA", "missing_words"), ("pain", "7½", "fractions"),
        ("pain", "٧", "other_digits"), ("load_kg", "BW", "body_weight"), ("minutes", "1h15", "hours_and_minutes"),
        ("reps", "8/8/9", "reps_listed")],
)  # fmt: skip
def test_each_number_repair_can_be_switched_off(name, text, switch):
    assert number(name, text).code == ""
    assert number(name, text, repair={switch: False}).code == "bad_number"


def test_sets_by_reps_also_gives_the_repetitions():
    assert number("sets", "3x8").extra == 8.0
    assert number("sets", "3").extra is None


def test_declared_decimal_comma_and_unit():
    assert number("pain", "7,5", decimal=",").repairs == ()
    assert number("pain", "7.5", decimal=",") == cells.Reading(value=7.5, repairs=("decimal_sign",))
    assert number("load_kg", "1.200", decimal=",").code == "bad_number"
    assert number("load_kg", "100", factor=cells.POUND).value == pytest.approx(45.359237)
    assert number("load_kg", "100 kg", factor=cells.POUND).value == 100.0


@pytest.mark.parametrize(
    ("text", "value", "repaired"),
    [
        ("yes", True, False), ("No", False, False), ("TRUE", True, False), ("false", False, False), ("1", True, False),
        ("0", False, False), ("y", True, True), ("N", False, True), ("ja", True, True), ("nein", False, True),
        ("Oui", True, True), ("non", False, True), ("sí", True, True), ("x", True, True),
    ],
)  # fmt: skip
def test_yes_and_no(text, value, repaired):
    assert cells.yesno_reader({})(text) == cells.Reading(
        value=value, repairs=("yes_no_words",) if repaired else ()
    )
    strict = cells.yesno_reader({"yes_no_words": False})(text)
    assert (strict.code == "bad_yes_no") is repaired


def test_neither_yes_nor_no():
    assert cells.yesno_reader({})("maybe").code == "bad_yes_no"
    assert cells.yesno_reader({})("2").code == "bad_yes_no"
    assert cells.yesno_reader({})("n/a").value is None


@pytest.mark.parametrize(
    ("text", "value"),
    [("07:30", "07:30"), ("23:59:30", "23:59"), ("7:30", "07:30"), ("7.30", "07:30"), ("7h30", "07:30"), ("9pm", "21:00"),
     ("12 am", "00:00"), ("12:15 p.m.", "12:15")],
)  # fmt: skip
def test_times(text, value):
    assert cells.time_reader({})(text).value == value


@pytest.mark.parametrize("text", ["25:00", "12:60", "13 pm", "7", "noon", "24:15", "2024-01-07 25:00"])
def test_times_that_are_none(text):
    assert cells.time_reader({})(text).code == "bad_time"


def test_time_words_can_be_switched_off():
    assert cells.time_reader({"time_words": False})("7:30").code == "bad_time"
    assert cells.time_reader({"time_words": False})("07:30").value == "07:30"


def test_choices():
    read = cells.choice_reader(BY_NAME["kind"], {})
    assert read("illness") == cells.Reading(value="illness")
    assert read("Load reduced") == cells.Reading(value="load_reduced", repairs=("choice_words",))
    assert read("holiday").code == "bad_choice"
    assert cells.choice_reader(BY_NAME["kind"], {"choice_words": False})("Illness").code == "bad_choice"


def test_texts():
    read = cells.text_reader
    assert read(BY_NAME["exercise"], {})("Overhead Press").value == "overhead press"
    assert read(BY_NAME["site"], {})("North").value == "North"
    assert read(BY_NAME["person"], {})("x" * 101).code == "too_long"
    assert read(BY_NAME["site"], {})("x" * 301).code == "too_long"


def test_words_for_missing_in_texts_and_choices_but_never_in_codes():
    assert cells.text_reader(BY_NAME["sex"], {})("n/a") == cells.Reading(repairs=("missing_words",))
    assert cells.text_reader(BY_NAME["sex"], {"missing_words": False})("n/a").value == "n/a"
    assert cells.text_reader(BY_NAME["person"], {})("NA").value == "NA"
    assert cells.choice_reader(BY_NAME["trained"], {})("-") == cells.Reading(repairs=("missing_words",))


@pytest.mark.parametrize("text", [" " * 100_000 + "1", "5 " * 50_000, "1" * 100_000 + "a", "a of " * 20_000])
def test_endless_cells_are_answered_at_once(text):
    assert number("pain", text).code == "bad_number"
    assert cells.time_reader({})(text).code == "bad_time"
    assert cells.yesno_reader({})(text).code == "bad_yes_no"
    assert cells.choice_reader(BY_NAME["kind"], {})(text).code == "bad_choice"


@pytest.mark.parametrize(
    ("text", "word"),
    [("7-8", "range"), ("7 – 8", "range"), ("<5", "limit"), ("10+", "limit"), ("70%", "percentage"), ("999", "'not recorded'"),
     ("-99", "'not recorded'"), ("12", "from 0 to 10")],
)  # fmt: skip
def test_the_mend_says_what_the_cell_is(text, word):
    assert word in number("pain", text).mend


def test_times_with_a_day_and_the_end_of_the_day():
    assert cells.time_reader({})("24:00") == cells.Reading("23:59", repairs=("time_words",))
    assert cells.time_reader({})("1899-12-31 07:30:00") == cells.Reading("07:30", repairs=("time_words",))


@pytest.mark.parametrize("text", ["1.250,5", "1,250.5", "1 250,5", "1\u202f250.5", "1'250.5"])
def test_thousands_are_read_where_they_leave_no_doubt_and_not_with_the_repair_off(text):
    for decimal in ".,":
        assert number("load", text, decimal=decimal).value == 1250.5
        assert number("load", text, decimal=decimal).repairs == ("thousands",)
        assert number("load", text, decimal=decimal, repair={"thousands": False}).code == "bad_number"
    assert number("load", "2.500.000").value == 2_500_000
    assert number("load", "1.250", decimal=",").code == "bad_number"


def test_a_declared_mark_is_no_value_and_a_number_among_them_in_any_spelling():
    read = cells.declared_missing(
        cells.number_reader(BY_NAME["pain"], decimal=".", factor=1.0, repair={}), ["-99", "Leer"]
    )
    for mark in ("-99", "-99.0", "leer", "LEER"):
        assert read(mark) == cells.Reading(repairs=("declared_missing",))
    assert read("9").value == 9.0
    assert read("-98").code == "out_of_range"


def test_mends_say_how_a_mark_for_not_recorded_is_declared():
    read = cells.number_reader(BY_NAME["pain"], decimal=".", factor=1.0, repair={}, table="checkins")
    assert 'missing = ["999"] under [tables.checkins]' in read("999").mend
    assert 'missing = ["..."] under [tables.checkins]' in read("sehr viel").mend
    assert "missing" not in read("8-10").mend
