"""The notebooks, run as a whole on somebody's own folder: executed copies, pages to read, and what each came
to.
"""

from lagwise.suite.run import Suite, run
from lagwise.suite.sources import Source, sources

__all__ = ["Source", "Suite", "run", "sources"]
