"""The list of tasks, in the order a student meets them."""

from __future__ import annotations

from lagwise.exercises import (
    flare_onsets,
    judge_a_writeup,
    known_truth,
    primary_contrast,
    read_a_row,
    sign_flip,
    unknown_weeks,
    within_between,
)
from lagwise.exercises.task import Task

TASKS: tuple[Task, ...] = (
    read_a_row.TASK,
    unknown_weeks.TASK,
    sign_flip.TASK,
    within_between.TASK,
    primary_contrast.TASK,
    flare_onsets.TASK,
    known_truth.TASK,
    judge_a_writeup.TASK,
)
