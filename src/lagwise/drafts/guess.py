"""What a draft is: guesses, each with how sure it is and why, in the sections of a study.toml."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

Certainty = Literal["sure", "look at this", "not used"]


@dataclass(frozen=True)
class Guess:
    """One line of a draft: a key with its value, how sure it is, and why.

    A guess that is not `on` stands behind a # and does nothing. One without a key is a remark.
    """

    key: str
    value: Any
    certainty: Certainty
    why: str
    on: bool = True


def sure(key: str, value: Any, why: str) -> Guess:
    """A guess that the file leaves little doubt about."""
    return Guess(key, value, "sure", why)


def look(key: str, value: Any, why: str, *, on: bool = True) -> Guess:
    """A guess for the owner to look at."""
    return Guess(key, value, "look at this", why, on)


def unused(why: str, key: str = "", value: Any = None) -> Guess:
    """What was seen and is not used."""
    return Guess(key, value, "not used", why, on=False)


@dataclass(frozen=True)
class Section:
    """Guesses under one heading of study.toml; name '' for what stands above all headings."""

    name: str
    guesses: tuple[Guess, ...]


@dataclass(frozen=True)
class LeftOut:
    """A column that is not mapped: where, its header, why; `identifying` says what it looks like."""

    where: str
    header: str
    why: str
    identifying: str = ""


@dataclass(frozen=True)
class Draft:
    """A draft plan: its sections in order, columns left out, and files and sheets that hold no log.

    `copies` maps the name of a file in the caseload folder to the bytes of the owner's file.
    """

    sections: tuple[Section, ...]
    left_out: tuple[LeftOut, ...]
    not_read: tuple[str, ...]
    copies: Mapping[str, bytes]

    def section(self, name: str) -> tuple[Guess, ...]:
        """The guesses of a section; none where there is no such section."""
        return next((one.guesses for one in self.sections if one.name == name), ())

    @property
    def tables(self) -> tuple[str, ...]:
        """The tables for which a file was found."""
        parts = (one.name.split(".") for one in self.sections)
        return tuple(dict.fromkeys(p[1] for p in parts if p[0] == "tables"))

    @property
    def open(self) -> tuple[tuple[str, Guess], ...]:
        """Section and guess of what is to be looked at."""
        return tuple((s.name, g) for s in self.sections for g in s.guesses if g.certainty == "look at this")
