"""What makes findings, versions of them to share, and the case series as files: figures, HTML, DOCX, PDF and
Markdown.

Everything here is a pure function of the findings; no statistics are computed in this room.
"""
