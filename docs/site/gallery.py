"""The notebooks as pages, and the gallery of the figures that they hold."""

from __future__ import annotations

import base64
import io
import json
import shutil
from pathlib import Path
from typing import Any

from PIL import Image

WIDTH = 420
"""Pixels of a thumbnail across, for screens with two to a point."""


def lay_out(notebooks: Path, place: Path) -> str:
    """Write the notebooks with their figures named, and thumbnails; the gallery's page."""
    (place / "thumbnails").mkdir()
    shutil.copytree(notebooks, place / "notebooks", ignore=shutil.ignore_patterns(".*"))
    files = sorted((place / "notebooks").rglob("*.ipynb"))
    index = place / "notebooks" / "README.md"
    index.write_text(index.read_text("utf-8") + contents(files, index.parent), "utf-8")
    parts = [
        "# Gallery\n\nEach picture leads to the place in the notebook that makes it. All are of invented people."
    ]
    for file in files:
        shown = figures(file, place / "thumbnails")
        if shown and "exercises" not in file.parts:
            link = file.relative_to(place).as_posix()
            parts += [
                f"## [{title(file)}]({link})",
                "```{container} gallery\n" + "\n\n".join(shown) + "\n```",
            ]
    return "\n\n".join(parts) + "\n"


def contents(files: list[Path], folder: Path) -> str:
    """The notebooks as a list for the menu at the side."""
    lines = (file.relative_to(folder).with_suffix("").as_posix() for file in files)
    return "\n```{toctree}\n:hidden:\n\n" + "\n".join(lines) + "\n```\n"


def title(file: Path) -> str:
    """First heading of a notebook."""
    first = json.loads(file.read_text("utf-8"))["cells"][0]["source"]
    return "".join(first).splitlines()[0].removeprefix("# ")


def figures(file: Path, thumbnails: Path) -> list[str]:
    """Name the figures of a notebook and give each its alternative text; a card for each."""
    book: dict[str, Any] = json.loads(file.read_text("utf-8"))
    book["metadata"]["language_info"] = {"name": "python"}
    cards = []
    for cell in book["cells"]:
        for output in cell.get("outputs", ()):
            data = output.get("data", {})
            if "image/png" not in data:
                continue
            name = f"figure-{file.parent.name}-{file.stem.split('_')[0]}-{len(cards) + 1}"
            heading, *said = "".join(data["text/plain"]).splitlines()
            alt = output["metadata"].get("image/png", {}).get("alt", " ".join(said))
            cell["metadata"]["mystnb"] = {"image": {"alt": alt}, "figure": {"name": name}}
            picture = base64.b64decode("".join(data["image/png"]))
            with Image.open(io.BytesIO(picture)) as shown:
                shown.resize((WIDTH, round(shown.height * WIDTH / shown.width))).save(thumbnails / f"{name}.png")
            cards.append(f"[![](/thumbnails/{name}.png) {heading}](#{name})")
    file.write_text(json.dumps(book), "utf-8")
    return cards
