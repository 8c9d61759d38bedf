"""What a draft of a plan says of its guesses: why each is made, what is left out and what cannot be read."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from lagwise.core.numbers import plural

TEXTS: Mapping[str, str | Callable[..., str]] = {
    "draft.numbered": "numbers {low:g} to {high:g} in place of dates; they are counted from study_start",
    "draft.weeks_numbered": "weeks are numbered {low:g} to {high:g}, and each number is read as a day: "
    "better write the date of every week's first day in their place",
    "draft.one_first": "'{text}' can only be {first} first",
    "draft.points": "'{text}': with points the day comes first",
    "draft.both_ways": "'{day}' is day first and '{month}' month first: the column is written in both "
    "ways; take the # away where this is the way",
    "draft.either_way": "'{text}' could be day first or month first, and no row decides; take the # away "
    "where this is the way",
    "draft.fits": lambda low, high, share: (
        f"header, and numbers from {round(low, 1):g} to {round(high, 1):g}"
        + ("" if share > 0.995 else f", {share:.0%} of the cells read")
    ),
    "draft.fits_dates": "header, and {share:.0%} of the cells read as dates",
    "draft.fits_codes": lambda codes: f"header, and {plural(codes, 'code')}",
    "draft.fits_words": lambda answers: f"header, and {plural(answers, 'different answer')}",
    "draft.rows": "{rows} rows below the header",
    "draft.rows_in_all": "{rows} rows in all",
    "draft.sheet": "the sheet that holds them",
    "draft.looks_like_names": "'{header}' looks like names, which are never read: give everybody a code in "
    "a column person",
    "draft.sheets": lambda sheets: f"{plural(sheets, 'sheet')} of the same columns, pasted below each other",
    "draft.files": lambda files, rows: (
        f"{plural(files, 'file')}{', pasted below each other' * (files > 1)}; {rows} rows in all"
    ),
    "draft.in_each": "in each of them",
    "draft.code_named": "the {kind}s' names look like people's names; rename them to codes, then take the "
    "# away",
    "draft.code_initials": "the code stands in the {kind}'s name ({codes}), which look like initials: "
    "codes are safer",
    "draft.code_in_name": "no column holds a code; it stands in the {kind}'s name ({codes})",
    "draft.code_of_one": "no column holds a code: everything is taken for one person's, called {codes}",
    "draft.folders": "{folder}: folders in it are not looked at ({inner}); name them too.",
    "draft.pivot": "{where}: looks like a pivot table, sums and not a log; the sheet it sums is what is "
    "needed.",
    "draft.no_header": "{where}: no row looks like names of columns over a log; if it is one, write them "
    "above it.",
    "draft.scale_told": "{whose} says {low}-{high}, and the values keep to it",
    "draft.scale_out_of": "the cells say 'out of {high}'",
    "draft.scale_run": "values run from {least:g} to {most:g}, as on {low}-{high}",
    "draft.scale_whole": "all values are whole and from {low} to {high}, as on {low}-{high}",
    "draft.sundays": "the rows' dates are Sundays, at the week's end",
    "draft.first_days": "the rows' dates are the first of these days",
    "draft.after_date": "days after the row's date, which is not always the first of these days",
    "draft.step_taken": "{step} taken for a step of {days} days",
    "draft.kinds": "kinds of your own; correct them in the file where one is a kind of ours, such as "
    "education",
    "draft.spellings": "one exercise in several spellings? Take the # away to join them",
    "draft.worse": "which end is worse: high, low or neither",
    "draft.empty": "it is empty",
    "draft.twice": "the header stands there twice; give one of the columns another name",
    "draft.looks_like": "it looks like {kind}",
    "draft.set_numbers": "it numbers the sets 1, 2, 3, ...",
    "draft.load_counted": 'load is counted from other columns here; measure = "measured" under [load] '
    "would take this one",
    "draft.or_is_it": "{why}; or is it '{header}'?",
    "draft.run": lambda days, step, name, text, by_header: (
        f"one column for each of {days} {step}s"
        + (
            ""
            if by_header
            else f"; {name}, because '{text}' says so"
            if text
            else f"; taken for {name}, which nothing says"
        )
    ),
    "draft.own": "a rating that is not one of ours, {why}",
    "draft.known_codes": "{known} of its {codes} codes stand in another table too",
    "draft.codes": lambda codes: (
        f"{plural(codes, 'code')}, each in several rows; no header says whose they are"
    ),
    "draft.dates": "{share:.0%} of the cells read as dates",
    "draft.taken": "'{header}' was taken for {name}",
    "draft.the_same": "it is the same throughout",
    "draft.formulas": "formulas without stored values; save the workbook in a spreadsheet once",
    "draft.speaks_of": "its header speaks of {meant}, but its cells do not read as that",
    "draft.declare_it": "it holds numbers from {low:g} to {high:g}; if it is a rating of your own, declare "
    "it under [ratings.NAME] with low and high",
    "draft.not_asked": "nothing here is asked of it",
    "draft.undated": "{where}: holds {measures}, but no column of dates with a year was found.",
    "draft.transposed": "{where}: has a column for each person ({codes}); paste it transposed, with a row "
    "for each.",
    "draft.long": "{where}: has a row for each measure ({measures} under '{header}'); give each its own "
    "column.",
    "draft.no_table": "{where}: no column was taken for a rating, a load or what is known of people.",
    "draft.also": "{where}: holds {table} too ({has}), and {other} holds more; one table has one layout: "
    "copy its columns or rows over there.",
    "draft.title": "taken from the name of the folder or file",
    "draft.reviewed": "write true when you have been through the lines below; till then nothing is analysed",
    "draft.step_numbered": "weeks are numbered in place of dates: one number is one step, which texts call "
    "a day",
    "draft.step_daily": "ratings come daily: asks about the next day; 7 asks about the next week",
    "draft.step_averaged": "ratings come daily and are averaged over the week; 1 asks about the next day",
    "draft.step_rated": lambda days: f"ratings usually come every {days:g} day{'s' * (days != 1)}",
    "draft.start_known": "the first date that stands as a header",
    "draft.start": "the date of day 1, if you know it: then weeks are those of the calendar",
    "draft.from_zero": "days are numbered from 0",
    "draft.no_load": "no column of load was found: load cannot be asked about",
    "draft.sets_counted": lambda tonnage: (
        "sets are counted" + '; "tonnage" (sets x reps x kg) can be asked of too' * tonnage
    ),
    "draft.measured": "'{header}' is taken as it was measured, and summed",
    "draft.effort_times_minutes": "effort times minutes",
    "draft.load_uncounted": "no column counts or measures load; with minutes and effort it could be asked of",
    "draft.no_pain": "no column was taken for pain; asks about this instead",
    "draft.exposures": "those that the tables hold",
    "draft.primary": "the first of them, as there is no load",
    "draft.contrast": "in its own points",
    "draft.ranges": "{cells} cells are ranges such as '8-9'; take the # away to have their middle read",
    "draft.ages": "'{header}' holds exact ages, {low:g} to {high:g}: bands of ten years tell less of a "
    "person",
    "draft.two_cases": "written in two cases: {twins}",
    "draft.once": "written once a session, in its first row",
    "draft.own_kinds": "kinds of your own are under [events]",
    "draft.has_ranges": "{cells} ranges such as '{such}'",
    "draft.header_below": "the header stands below {above}",
    "draft.sep": "gives rows of the same length",
    "draft.not_utf8": "not UTF-8; read as Windows-1252, letters with accents tell",
    "draft.commas": "{numbers} numbers are written with a comma",
    "draft.fill_down": "{rows} rows have none of their own and stand below one that has",
    "draft.row_per_set": "one row per set: '{header}' numbers them 1, 2, 3, ...",
    "draft.rows_per_exercise": "{per:.1f} rows for an exercise of a day, no column of sets: a row is a set?",
    "draft.no_sets": "no column says how many sets: one row taken for one set",
    "draft.midnight": "{late} are from after midnight, most others from the evening: take the # away if "
    "they belong to the day before",
    "draft.unit_told": "the header says '{header}'",
    "draft.unit_small": "the header says '{header}', and the numbers are small",
    "draft.in_minutes": "numbers up to {high:g} are minutes, not hours",
    "draft.marks": lambda marks: (
        ", ".join(f"'{m}' stands there {n} times" for m, n in marks) + ", apart from the other values"
    ),
    "draft.weekdays": "weekdays need a column with the date of their week, in place of its number",
    "draft.after": lambda days: (
        f"{abs(days)} day{'s' * (abs(days) != 1)} {'later' if days > 0 else 'before'}"
        if days
        else "the same day"
    ),
}
