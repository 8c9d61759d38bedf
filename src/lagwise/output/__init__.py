"""What a run leaves on disk: whole or not at all, nothing of the owner's replaced, nothing left by a run that
was killed.
"""

from lagwise.output.place import check_folder, free_name, refuse_caseload
from lagwise.output.scratch import sweep, temporary
from lagwise.output.whole import whole_file, whole_folder

__all__ = [
    "check_folder", "free_name", "refuse_caseload", "sweep", "temporary", "whole_file", "whole_folder",
]  # fmt: skip
