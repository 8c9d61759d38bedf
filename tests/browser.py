"""The system's own Chromium, found on the PATH and driven by Playwright.

Tests that need a real browser share this. Where there is none they fail with the command that installs it: a test that
is passed over in silence would look like one that holds.
"""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

ROOT = Path(__file__).resolve().parents[1]
ARTEFACTS = ROOT / "artefacts"
"""Ignored by git; a CI run keeps what is in it."""
NAMES = ("chromium", "chromium-browser", "google-chrome")
MISSING = (
    "No Chromium on the PATH, which this test drives. On Debian or Ubuntu: apt-get install --no-install-recommends chromium "
    "(.ci/run does this where it may); elsewhere install Chromium or Chrome."
)
QUIET = (
    "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--disable-dev-shm-usage",
)  # fmt: skip
"""No graphics card, no shared memory to speak of, and no word to anybody outside."""


def chromium() -> str:
    """Path of the browser; the test fails where there is none."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    if found is None:
        pytest.fail(MISSING, pytrace=False)
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """A headless browser with a profile of its own, closed at the end."""
    path = chromium()
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(
            executable_path=path, headless=True, chromium_sandbox=False, args=QUIET
        )
        try:
            yield started
        finally:
            started.close()


@contextmanager
def page_or_picture(opened: Browser, name: str, width: int = 1280, height: int = 900) -> Iterator[Page]:
    """A page; when the test fails inside, its screenshot is kept as artefacts/NAME.png."""
    page = opened.new_page(viewport={"width": width, "height": height})
    try:
        yield page
    except BaseException:
        ARTEFACTS.mkdir(exist_ok=True)
        page.screenshot(path=ARTEFACTS / f"{name}.png", full_page=True)
        raise
    finally:
        page.close()
