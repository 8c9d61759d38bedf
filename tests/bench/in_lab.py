"""Every notebook in JupyterLab as `make lab` starts it, in a real browser: run to its end, light or dark.

Prints a line for each: how long it took, whether a dialog opened, what was asked of anybody outside, and outputs
that are wider than their page; a picture of its end lies in artefacts/. `python tests/bench/in_lab.py [beginnings of names]`.
"""

import shutil
import sys
import time
from pathlib import Path
from tempfile import TemporaryDirectory

import nbformat

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[1] / "notebooks")]

import browser  # noqa: E402
from notebook_files import EVERY, PATHS, ROOT, SOLUTIONS, code, read  # noqa: E402
from test_lab import lab, run_to_the_end  # noqa: E402


def main(beginnings: list[str]) -> None:
    wanted = [p for p in (*PATHS, *SOLUTIONS) if not beginnings or p.stem.startswith(tuple(beginnings))]
    with TemporaryDirectory() as place:
        root, home = Path(place) / "repository", Path(place) / "home"
        themes = home / "jupyterlab_settings_dir" / "@jupyterlab" / "apputils-extension"
        themes.mkdir(parents=True)
        (themes / "themes.jupyterlab-settings").write_text('{"adaptive-theme": true}', "utf-8")
        shutil.copytree(ROOT / "data_synthetic", root / "data_synthetic")
        shutil.copytree(ROOT / "docs", root / "docs", ignore=shutil.ignore_patterns("_site"))
        for path in EVERY:
            (root / path.parent.relative_to(ROOT)).mkdir(parents=True, exist_ok=True)
        with lab(root, home) as address, browser.browser() as opened:
            for at, path in enumerate(wanted):
                print(path.stem, *one(opened, address, root, path, dark=at % 2 == 1), sep="; ", flush=True)


def one(opened, address: str, root: Path, path: Path, *, dark: bool) -> list[str]:
    """What a notebook came to, in a few words."""
    file, notebook, outside = root / path.relative_to(ROOT), read(path), []
    for cell in code(notebook):
        cell.outputs, cell.execution_count = [], None
    nbformat.write(notebook, file)
    page = opened.new_page(viewport={"width": 1400, "height": 900}, color_scheme="dark" if dark else "light")
    page.on(
        "request",
        lambda r: (
            outside.append(r.url) if r.url.startswith("http") and not r.url.startswith(address) else None
        ),
    )
    began = time.perf_counter()
    run_to_the_end(page, address, file, place=path.relative_to(ROOT).as_posix())
    took = time.perf_counter() - began
    wide = page.evaluate(
        "() => [...document.querySelectorAll('.jp-OutputArea-output')].filter(e => e.scrollWidth > e.clientWidth + 1).length"
    )
    browser.ARTEFACTS.mkdir(exist_ok=True)
    page.screenshot(path=browser.ARTEFACTS / f"in-lab-{path.stem}.png")
    dialogs = page.locator(".jp-Dialog").count()
    page.close()
    return [
        f"{took:.0f} s",
        "dark" if dark else "light",
        f"{dialogs} dialogs",
        f"{len(outside)} outside",
        f"{wide} wider than the page",
    ]


if __name__ == "__main__":
    main(sys.argv[1:])
