"""Texts kept beside the tests: prose is pinned there once, and read in the difference when it changes."""

import os
from pathlib import Path


def kept(path: Path, text: str) -> None:
    """Hold a text against the one kept; `LAGWISE_KEEP=1 python -m pytest ...` keeps it anew."""
    if os.environ.get("LAGWISE_KEEP"):
        path.write_text(text, encoding="utf-8")
    assert text == path.read_text(encoding="utf-8"), (
        f"{path.name} differs: keep it anew and read what changed"
    )
