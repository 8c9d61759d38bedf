"""Panel -> tables that describe who was recorded, how completely, and how the ratings are spread."""

from lagwise.describe.calendar import calendar_table
from lagwise.describe.cohort import cohort_table, events_table, groups_table, people_table
from lagwise.describe.coverage import coverage_grid, missingness_table
from lagwise.describe.distribution import distribution_table
from lagwise.describe.scale_use import floor_and_heaping
from lagwise.describe.sequence import same_and_next, same_and_next_picture, turned_back
from lagwise.describe.variance import usual_range, variance_split

__all__ = [
    "calendar_table", "cohort_table", "coverage_grid", "distribution_table", "events_table",
    "floor_and_heaping", "groups_table", "missingness_table", "people_table", "same_and_next",
    "same_and_next_picture", "turned_back", "usual_range", "variance_split",
]  # fmt: skip
