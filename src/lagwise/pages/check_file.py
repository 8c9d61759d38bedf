"""Where check.html goes: never into a caseload folder, never over a file that is not a check page as it was
written.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from lagwise.core.errors import WriteUpError
from lagwise.output import free_name, refuse_caseload, whole_file
from lagwise.pages.check_page import MARK
from lagwise.say.check_page import TEXTS

NAME = "check.html"
_HEAD = 4000
_SEAL = re.compile(rb'<meta name="lagwise-sha256" content="([0-9a-f]{64})">\n')


def write_page(text: str, wanted: Path | None, folder: Path) -> str:
    """Write the page and say in one line where it is, or why it was not written.

    Parameters
    ----------
    text : str
        The page.
    wanted : path or None
        Where the user wants it; None is check.html in the current folder.
    folder : path
        The caseload folder.

    Raises
    ------
    WriteUpError
        When a path was asked for and the page cannot go there. The default place is only skipped, with a
        line.
    """
    place = wanted or Path(NAME)
    try:
        check_page_place(place, folder)
        with whole_file(place.resolve(), "the page", replace=True) as file:
            file.write_bytes(sealed(text))
    except WriteUpError as error:
        if wanted is None:
            return f"{NAME} was not written: {error.what}. {error.mend}"
        raise
    return TEXTS["written"].format(place=place.resolve())


def check_page_place(place: Path, folder: Path) -> None:
    """Stop when a check page may not be written here.

    Raises
    ------
    WriteUpError
        In a caseload folder, where there is no folder, and over a file that is not a check page, or one that
        was changed.
    """
    refuse_caseload(place, what="check.html", reading=folder)
    target = place.resolve()
    problem, free = _problem(target), free_name(target).name
    if problem:
        mend = f"Name another place with --html, for example --html {place.with_name(free)}."
        raise WriteUpError(f"the page was not written: {problem}", where=str(place), mend=mend)


def sealed(text: str) -> bytes:
    """The page with the SHA-256 of its other bytes in its head, by which the next run knows whether it was
    changed.
    """
    page = text.encode("utf-8")
    seal = f'<meta name="lagwise-sha256" content="{hashlib.sha256(page).hexdigest()}">\n'.encode()
    before, mark, after = page.partition(f"{MARK}\n".encode())
    return before + mark + seal + after


def _problem(target: Path) -> str:
    if target.is_dir():
        return TEXTS["folder"]
    if not target.parent.is_dir():
        return TEXTS["no_folder"]
    if not target.exists():
        return ""
    try:
        with target.open("rb") as file:
            page = file.read(_HEAD)
            if MARK.encode() not in page:
                return TEXTS["another"].format(name=target.name)
            page += file.read()
    except OSError as error:
        return TEXTS["refused"].format(why=error.strerror)
    seal = _SEAL.search(page)
    if seal is None:
        return TEXTS["older"].format(name=target.name)
    if hashlib.sha256(_SEAL.sub(b"", page, count=1)).hexdigest() != seal[1].decode():
        return TEXTS["changed"].format(name=target.name)
    return ""
