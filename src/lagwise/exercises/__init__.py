"""Exercises for students: what a task gives, a check of the answers, and hints.

>>> from lagwise.exercises import check, given, hint
>>> print(check(1, "data_synthetic/clinic", usual=..., percent=...))

Expected answers are worked out from the caseload whenever an answer is checked; none is stored.
"""

from lagwise.exercises.ask import check, given, hint
from lagwise.exercises.registry import TASKS
from lagwise.exercises.task import Checked, Key, Part, Result, Slip, Task
from lagwise.exercises.what_followed import made, put_in

__all__ = [
    "TASKS",
    "Checked",
    "Key",
    "Part",
    "Result",
    "Slip",
    "Task",
    "check",
    "given",
    "hint",
    "made",
    "put_in",
]
