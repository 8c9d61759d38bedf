"""What is odd in a caseload that was read: one finding per kind of oddness,
each with what it does to the result."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from lagwise.caseload import (
    check_exchange,
    check_names,
    check_people,
    check_ratings,
    check_sequence,
    check_values,
)
from lagwise.caseload.remarks import Finding, findings_frame
from lagwise.core.results import Caseload

CHECKS: tuple[Callable[[Caseload], list[Finding]], ...] = (
    check_people.alike_codes,
    check_names.initials,
    check_people.shared_records,
    check_people.lone_people,
    check_sequence.far_dates,
    check_sequence.after_last_checkin,
    check_sequence.in_a_break,
    check_sequence.resumed_without_stop,
    check_sequence.out_of_order,
    check_exchange.exchanged_people,
    check_exchange.exchanged_days,
    check_ratings.second_ratings,
    check_ratings.sent_twice,
    check_values.repeated_rows,
    check_values.pound_jumps,
    check_ratings.frozen_ratings,
    check_ratings.straight_lines,
    check_ratings.heaped_ratings,
    check_ratings.narrow_scales,
    check_values.effort_contradictions,
    check_values.ended_first,
    check_values.unlikely_sleep,
    check_ratings.ratings_per_step,
    check_values.missing_codes,
    check_names.spellings,
)
"""Every check: takes a Caseload, returns its findings. A further check is a function added here."""


def check(caseload: Caseload) -> pd.DataFrame:
    """What is odd in the rows that were read and used.

    Nothing is changed by it; quarantine, repairs and other remarks of the reading are in the Caseload itself.

    Parameters
    ----------
    caseload : Caseload

    Returns
    -------
    DataFrame
        One row per finding: code, table, what (in words), where (up to five examples), count,
        why (what it does to the result), mend. Empty when nothing is odd.
    """
    return findings_frame(finding for one in CHECKS for finding in one(caseload))
