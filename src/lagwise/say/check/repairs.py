"""What each repair of the reader does, by its name; the dictionary and `check` say so."""

from __future__ import annotations

from collections.abc import Mapping

REPAIRS: Mapping[str, str] = {
    "encoding": "The file is not UTF-8 and was read as Windows-1252 (Latin-1)",
    "title_rows": "The header was found below the first row; the rows above it were left out",
    "merged_cells": "A merged cell speaks for every row it spans",
    "column_names": "A header differs from the contract only in case, spaces or hyphens",
    "missing_words": "A word or sign that stands for 'not recorded' (NA, n/a, null, -, ?) was read as empty",
    "body_weight": "'BW' or 'body weight' under load_kg was read as not recorded: "
    "how heavy the person is, is not known here",
    "decimal_sign": "The other decimal sign than the declared one was read (82,5 and 82.5)",
    "thousands": "Thousands set apart in a way that leaves no doubt were read "
    "(1.250,5, 1,250.5, 1 250,5, 1'250)",
    "fractions": "A half or a quarter written as a fraction was read (7½, 7 1/2)",
    "other_digits": "Digits of another width or script were read as 0-9",
    "units_in_cell": "A unit written behind the number was left out ('82,5 kg', '45 min')",
    "hours_and_minutes": "A duration in another unit than the column's was turned into it (1 h 15, "
    "1:15 or 1,5 h under minutes; 7:30 or 450 min under sleep_hours)",
    "pounds_in_cell": "A number written with lb was turned into kg",
    "out_of_ten": "A rating written as '8/10' was read as 8",
    "ranges": "A range was read as its middle ('8-9' as 8.5); only where study.toml asks for it "
    "with ranges = true",
    "rpe_words": "A rating written as 'RPE 8' or '@8' was read as 8",
    "sets_by_reps": "'3x8' under sets was read as 3 sets of 8 repetitions",
    "reps_listed": "Repetitions listed set by set were read as their mean, "
    "and as the number of sets ('8/8/9', '8,8,9')",
    "yes_no_words": "Yes or no in another spelling was read (y, ja, oui, si, x; n, nein, non)",
    "date_words": "A date that can be read in one way only was read although it is not written as YYYY-MM-DD",
    "date_serials": "A spreadsheet's serial day number was read as a date",
    "date_times": "The time of day beside a date was read as `time`; "
    "left out in forms with one column per day, and where the table has such a column",
    "time_zones": "Day and clock were read as they stand in the file's own time zone (UTC, +02:00, "
    "a named zone); near midnight that may be another day than where the person was",
    "time_words": "A time in another spelling was read as HH:MM; 24:00 as 23:59 of that day",
    "choice_words": "A listed word in other case or with spaces or hyphens was read",
    "level_case": "Levels of the people table that differ in case or spaces only were read as one, "
    "in the spelling that most rows have",
    "row_per_set": "Each row of a log that has no column of sets, and names exercises several times "
    "a day, was read as one set",
    "once_per_session": "Effort written on one row of each session was read for all rows of that "
    "session, minutes in equal parts",
}
