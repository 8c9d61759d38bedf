"""Findings, and the case series written from them: wording, figures, HTML, DOCX, PDF and Markdown.

Everything here is a pure function of the findings; no statistics are computed in this room.
"""

from __future__ import annotations

from lagwise.writeup.collect import collect
from lagwise.writeup.findings import Findings
from lagwise.writeup.write import check_target, write_up

__all__ = ["Findings", "check_target", "collect", "write_up"]
