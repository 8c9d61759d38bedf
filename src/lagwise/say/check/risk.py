"""What is said of what is left in a de-identified caseload by which somebody could be recognised, by code."""

from __future__ import annotations

from collections.abc import Mapping

from lagwise.say.check.mends import texts_of

NOT_ANONYMOUS = (
    "These data are coded, not anonymous. A course of ratings and loads can single a person out for anybody "
    "who knows part of it, so the tables remain personal data. Local law and the data-protection officer "
    "decide what may be done with them."
)
KNOWN: Mapping[str, tuple[str, str, str]] = {
    "dated_weights": (
        "weights lifted, each with its date",
        "three weights and the dates they were lifted on",
        "3 dated weights",
    ),
    "weights": ("weights lifted, without dates", "", ""),
    "lifts": ("exercises with a weight, without dates", "", ""),
    "training_days": ("days of training, only that there was some", "", ""),
    "day_weights": (
        "a day of training: every weight, without the date",
        "all weights of one day of training, but not its date",
        "weights of 1 day",
    ),
    "whole_days": (
        "a day of training: exercises, sets, repetitions, weights and minutes, without the date",
        "",
        "",
    ),
    "trained": ("{steps} in a row: trained or not", "", ""),
    "ratings": (
        "{outcome} ratings, each with its date",
        "four {outcome} ratings and their dates",
        "4 dated ratings",
    ),
    "weekly_pain": (
        "{steps} in a row: mean {outcome}",
        "the mean {outcome} of four {steps} in a row",
        "{outcome} of 4 {steps}",
    ),
    "whole_checkins": ("check-ins: every rating, without the date", "", ""),
    "week_loads": (
        "single {steps}: sum of sets (or load), each with its date",
        "the sets (or load) of three single {steps} and their dates",
        "sets of 3 {steps}",
    ),
    "events": ("events, each with its date", "", ""),
    "cells": ("cells of the people table", "", ""),
}
"""What may be known: in words, in a sentence, and at the head of a column."""
COPIES: Mapping[str, tuple[str, str]] = {
    "--coarser-loads": ("weights to the nearest 10 kg", "--coarser-loads"),
    "--rounded-ratings": ("ratings in steps of 2 points", "--rounded-ratings"),
    "--drop load_kg": ("no weights at all", "--drop load_kg"),
    "--weekly-sums": ("sums and means of weeks", "--weekly-sums"),
    "all": ("all of these", "all these options together"),
}
"""What lowers it, and how it is asked for."""
FACTS: Mapping[str, tuple[str, str]] = {
    "people": ("people", "The fewer people, the easier one is recognised"),
    "smallest": ("smallest cell of the people table", "At least {k} is aimed at; 0 without the table"),
    "emptied": (
        "cells of the people table merged or emptied",
        "Rare values went into 'other' or were left out",
    ),
    "left_out": ("events left out", "Kinds of event noted for fewer than {k} people"),
    "course": (
        "people with a {outcome} course of their own",
        "Somebody who knows all of a person's ratings could find that person",
    ),
    "counts": (
        "people with a count of records of their own",
        "Numbers of sessions and check-ins and the length of the record, taken together",
    ),
    "heaviest": ("people alone with their heaviest load", "An unusual load is known in a gym"),
    "times": ("times of day", "They order sessions and ratings; habits can be recognised by them"),
    "intervals": ("intervals between dates and weekdays", "Holidays and gaps can still be recognised"),
}
TEXTS = {
    **texts_of(KNOWN, ("words", "spoken", "short"), "risk"),
    **texts_of(COPIES, ("words", "option"), "risk"),
    **texts_of(FACTS, ("what", "meaning"), "risk"),
    "risk.singled_out.what": "singled out by {counts} of: {words}",
    "risk.singled_out.meaning": "On average over what may be known",
}
