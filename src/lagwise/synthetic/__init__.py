"""Caseloads with a known truth: drawn from a documented process, so that what an analysis finds can be
checked.
"""

from lagwise.synthetic.caseloads import KINDS, Kind, clinic, make, no_effect, simulate
from lagwise.synthetic.changes import CHANGES, UNCHANGED, Change
from lagwise.synthetic.fast import simulate_panel
from lagwise.synthetic.folder import files, own_clinic, write, zipped
from lagwise.synthetic.spec import CHANGES_HALL, CLINIC, NO_EFFECT, Spec
from lagwise.synthetic.truth import changes_beside, true_values, truth_beside

__all__ = [
    "CHANGES",
    "CHANGES_HALL",
    "CLINIC",
    "KINDS",
    "NO_EFFECT",
    "UNCHANGED",
    "Change",
    "Kind",
    "Spec",
    "changes_beside",
    "clinic",
    "files",
    "make",
    "no_effect",
    "own_clinic",
    "simulate",
    "simulate_panel",
    "true_values",
    "truth_beside",
    "write",
    "zipped",
]
