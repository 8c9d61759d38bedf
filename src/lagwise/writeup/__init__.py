"""What makes findings, versions of them to share, and the case series as files: figures, HTML, DOCX, PDF and
Markdown.

Everything here is a pure function of the findings; no statistics are computed in this room.
"""

from __future__ import annotations

from lagwise.writeup.collect import collect
from lagwise.writeup.write import check_target, write_up

__all__ = ["check_target", "collect", "write_up"]
