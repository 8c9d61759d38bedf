import pandas as pd

from lagwise.caseload import read
from lagwise.caseload.check_ratings import second_ratings, sent_twice, straight_lines
from lagwise.caseload.check_sequence import out_of_order

DAYS = pd.date_range("2024-01-01", periods=30, freq="3D").strftime("%Y-%m-%d").tolist()


def sessions(days: list[str]) -> str:
    return "person,date,sets\n" + "".join(f"{p},{day},3\n" for p in ("a1", "b2") for day in days)


def checkins(*more: str) -> str:
    return "person,date,pain\n" + "".join(f"a1,{day},{i % 4}\n" for i, day in enumerate(DAYS)) + "".join(more)


def test_two_exchanged_dates_are_named(folder):
    lines = sessions(DAYS).splitlines()
    lines[11], lines[15] = lines[11].replace(DAYS[10], DAYS[14]), lines[15].replace(DAYS[14], DAYS[10])
    (finding,) = out_of_order(read(folder(sessions="\n".join(lines), checkins=checkins())))
    assert (finding.code, finding.table, finding.count) == ("out_of_order", "sessions", 2)
    assert "row 12" in finding.where and "row 16" in finding.where


def test_files_in_order_backwards_or_in_no_order_are_not_accused(folder):
    mixed = DAYS[::2] + DAYS[1::2][::-1]
    for days in (DAYS, DAYS[::-1], mixed):
        assert out_of_order(read(folder(sessions=sessions(days), checkins=checkins()))) == []


def test_a_second_different_rating_of_one_day_is_named(folder):
    (finding,) = second_ratings(read(folder(checkins=checkins(f"a1,{DAYS[3]},9\n"))))
    assert (finding.code, finding.count) == ("second_ratings", 1)
    assert "row 32" in finding.where


def test_people_who_rate_twice_a_day_are_not_accused(folder):
    assert second_ratings(read(folder(checkins=checkins()))) == []
    twice = [f"a1,{day},{i % 3}\n" for i, day in enumerate(DAYS)]
    assert second_ratings(read(folder(checkins=checkins(*twice)))) == []


def test_copies_pasted_at_the_end_and_far_dates_are_left_to_other_checks(folder):
    lines = sessions(DAYS).splitlines()
    copied = "\n".join([*lines, *lines[5:7]])
    far = sessions([*DAYS[:10], DAYS[10].replace("2024", "2021"), *DAYS[11:]])
    for text in (copied, far):
        assert out_of_order(read(folder(sessions=text, checkins=checkins()))) == []


def clocked(*more: str) -> str:
    rows = [f"a1,{day},19:{10 + i},{i % 4},{(3 * i) % 7},7.{i % 10}\n" for i, day in enumerate(DAYS)]
    return "person,date,time,pain,stress,sleep_hours\n" + "".join(rows) + "".join(more)


def test_the_same_check_in_minutes_later_and_a_corrected_one(folder):
    assert sent_twice(read(folder(checkins=clocked()))) == []
    caseload = read(
        folder(checkins=clocked(f"a1,{DAYS[5]},19:17,1,1,7.5\n", f"a1,{DAYS[8]},19:21,9,3,7.8\n"))
    )
    (twice,) = sent_twice(caseload)
    (corrected,) = second_ratings(caseload)
    assert (twice.count, twice.where) == (1, f"a1, row 32 ({DAYS[5]})")
    assert (corrected.count, corrected.where) == (1, f"a1, row 33 ({DAYS[8]})")
    later = read(folder(checkins=clocked(f"a1,{DAYS[5]},21:17,1,1,7.5\n", f"a1,{DAYS[8]},12:21,9,3,7.8\n")))
    assert sent_twice(later) == second_ratings(later) == []


def test_the_same_check_in_on_the_next_day_of_people_who_rate_weekly(folder):
    weeks = pd.date_range("2024-01-07", periods=12, freq="7D").strftime("%Y-%m-%d").tolist()
    rows = [f"a1,{day},{i % 4},{(3 * i) % 7},7.{i % 10}\n" for i, day in enumerate(weeks)]
    head = "person,date,pain,stress,sleep_hours\n"
    assert sent_twice(read(folder(checkins=head + "".join(rows)))) == []
    again = rows[3].replace("2024-01-28", "2024-01-29")
    (finding,) = sent_twice(read(folder(checkins=head + "".join(rows) + again)))
    assert finding.where == "a1, row 14 (2024-01-29)"
    other = again.replace("7.3", "7.4")
    assert sent_twice(read(folder(checkins=head + "".join(rows) + other))) == []
    daily = pd.date_range("2024-01-07", periods=12).strftime("%Y-%m-%d").tolist()
    assert (
        sent_twice(
            read(folder(checkins=head + "".join(f"a1,{day},{i // 3},2,7.5\n" for i, day in enumerate(daily))))
        )
        == []
    )


def test_one_number_on_every_scale(folder):
    head = "person,date,pain,stress,worry\n"
    rows = [
        f"{p},{day},{i % 5 + 1},{(i + s) % 5 + 1},{(i + s) % 5 + 1}\n"
        for p, s in (("a1", 1), ("b2", 0))
        for i, day in enumerate(DAYS[:8])
    ]
    (finding,) = straight_lines(read(folder(checkins=head + "".join(rows))))
    assert (finding.count, finding.where) == (8, "b2, row 10")
    zero = "".join(f"c3,{day},0,0,0\n" for day in DAYS[:8])
    assert straight_lines(read(folder(checkins=head + "".join(rows[:8]) + zero))) == []
    assert straight_lines(read(folder(checkins=head + "".join(rows[:8]) + "".join(rows[8:11])))) == []
