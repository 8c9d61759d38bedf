"""Exercises for students: what a task gives, a check of the answers, and hints.

>>> from lagwise.exercises import check, given, hint, world
>>> print(check(1, "data_synthetic/clinic", usual=..., percent=...))

Expected answers are worked out from the caseload whenever an answer is checked; none is stored.
"""

from lagwise.exercises.calls import check, given, hint, hints, words, world
from lagwise.exercises.questions import QUESTIONS, ask
from lagwise.exercises.registry import TASKS
from lagwise.exercises.result_line import collected, result
from lagwise.exercises.task import Checked, Key, Part, Result, Slip, Task
from lagwise.exercises.what_followed import made, put_in

__all__ = [
    "QUESTIONS",
    "TASKS",
    "Checked",
    "Key",
    "Part",
    "Result",
    "Slip",
    "Task",
    "ask",
    "check",
    "collected",
    "given",
    "hint",
    "hints",
    "made",
    "put_in",
    "result",
    "words",
    "world",
]
