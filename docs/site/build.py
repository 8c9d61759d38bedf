"""Build the site: the pages of docs/, the notebooks as they are stored, a gallery of their figures, and what code says of itself.

Everything is laid into a temporary folder as it lies in the repository, so that links between pages hold in both.
"""

from __future__ import annotations

import re
import shutil
import sys
import tempfile
from pathlib import Path

from sphinx.cmd.build import main as sphinx

SITE = Path(__file__).resolve().parent
ROOT = SITE.parents[1]
FILE = re.compile(r"\[([\w/-]+\.md)\]\(\1\)")
"""A link that reads as the name of its file, which the site gives the title of its page."""
sys.path.insert(0, str(SITE))
from gallery import lay_out  # noqa: E402  the files beside this one, whoever runs it
from reference import commands, python  # noqa: E402


def sources(place: Path) -> None:
    """Lay out what Sphinx reads."""
    shutil.copytree(ROOT / "docs" / "figures", place / "docs" / "figures")
    for folder, to in ((ROOT, place), (ROOT / "docs", place / "docs"), (SITE, place)):
        for page in folder.glob("*.md"):
            (to / page.name).write_text(FILE.sub(r"[](\1)", page.read_text("utf-8")), "utf-8")
    (place / "commands.md").write_text(commands(), "utf-8")
    (place / "python.md").write_text(python(), "utf-8")
    (place / "gallery.md").write_text(lay_out(ROOT / "notebooks", place), "utf-8")


def build(out: Path) -> int:
    """Write the site in the place of the folder `out`; 0 when nothing was to be warned of."""
    with tempfile.TemporaryDirectory() as scratch:
        place, made = Path(scratch) / "pages", Path(scratch) / "made" / "site"
        place.mkdir()
        sources(place)
        told = ["--fail-on-warning", "--quiet", "--doctree-dir", f"{scratch}/trees", "--conf-dir", str(SITE)]
        failed = sphinx([*told, "--jobs", "2", str(place), str(made)])
        shutil.rmtree(out, ignore_errors=True)
        shutil.move(made, out)
    return failed


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "docs" / "_site"
    if failed := build(target):
        sys.exit(failed)
    print(f"The site: {target / 'index.html'}")
