"""A stored notebook against a run of it: every output, and every number in its text.

nbval runs the cells; this adds two things to it. A number in an output may differ by the `tolerance` that its
cell declares, and then by nothing else; a verdict at its limit may end in `either` of the words it declares. After the last cell, the numbers in the text are read against the
kernel: a text cell's `claims` are pairs of words of it and an expression that gives their number, or True.
Words that compare, and whatever else a text says, were read against a run by a person: texts.json keeps a mark
of each text as it was read, and a text that was changed since fails until `python notebooks/conftest.py` is run
after reading it again.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from types import MappingProxyType
from typing import Any

import nbformat
import pytest

HERE = Path(__file__).resolve().parent
READ = HERE / "texts.json"

NOTHING: Mapping[str, Any] = MappingProxyType({})
NUMBER = re.compile(r"(?<![\w.])[-\u2212+]?\d+(?:\.\d+)?(?!\w|\.\d)")


OF_A_TABLE = re.compile(r"\blw[0-9a-f]{10}(?=-\d)")
"""The mark of a shown table, which changes with its numbers."""


def number(text: str) -> float:
    return float(text.replace("\u2212", "-"))


def room(written: str, tolerance: Any) -> float:
    """By how much a number may differ; of a pair the first is for decimals and the second for whole numbers."""
    return float(tolerance["." not in written] if isinstance(tolerance, list) else tolerance)


def agrees(one: Any, other: Any, tolerance: Any, either: Mapping[str, Sequence[str]] = NOTHING) -> bool:
    """Whether two texts are the same but for numbers that lie within the tolerance of each other, and for
    verdicts at their limit: `either` has the beginning of a row, and the words that it may end in.
    """
    if not (isinstance(one, str) and isinstance(other, str)):
        return bool(one == other)
    one, other = (OF_A_TABLE.sub("", text) for text in (one, other))
    if not (tolerance or either):
        return one == other
    for row, words in either.items():
        verdict = re.compile(rf"({re.escape(row)}.{{0,400}}?)\b({'|'.join(words)})\b", re.DOTALL)
        one, other = (verdict.sub(r"\1*", text, count=1) for text in (one, other))
    bare = [" ".join(NUMBER.sub("#", text).split()) for text in (one, other)]
    pairs = zip(NUMBER.findall(one), NUMBER.findall(other), strict=False)
    return bare[0] == bare[1] and all(
        abs(number(a) - number(b)) <= room(a, tolerance) + 1e-9 for a, b in pairs
    )


def within(
    run: list[Any], stored: list[Any], tolerance: Any, either: Mapping[str, Sequence[str]] = NOTHING
) -> list[Any]:
    """Outputs of a run, in which whatever agrees with the stored ones is taken from them."""
    out = []
    for new, old in zip(run, stored, strict=False):
        new = type(new)(new)
        for place in ("text", "data"):
            if place not in new or place not in old:
                continue
            if place == "text":
                new[place] = old[place] if agrees(new[place], old[place], tolerance, either) else new[place]
            else:
                new[place] = type(new[place])(
                    {k: old[place][k] if k in old[place] and agrees(v, old[place][k], tolerance, either) else v
                     for k, v in new[place].items()}
                )  # fmt: skip
        out.append(new)
    return out + run[len(stored) :]


class Claims(pytest.Item):
    """The numbers of a notebook's text, read against its kernel when the last cell has run."""

    def runtest(self) -> None:
        if unread := changed(self.path, self.parent.nb):
            raise AssertionError(f"a text was changed and not read again: {unread[0]!r}")
        for cell in self.parent.nb.cells:
            for words, gives in cell.metadata.get("claims", ()):
                if words not in cell.source:
                    raise AssertionError(f"the text no longer says {words!r}")
                found = self._asked(gives)
                if found not in ("True", *NUMBER.findall(words)):
                    raise AssertionError(f"{words!r} is not what the run gives: {gives} = {found}")

    def _asked(self, expression: str) -> str:
        kernel, said = self.parent.kernel, ""
        asked = kernel.execute_cell_input(f"print(({expression}))", allow_stdin=False)
        kernel.await_reply(asked, timeout=60)
        while True:
            message = kernel.get_message("iopub", timeout=60)
            if message["parent_header"].get("msg_id") != asked:
                continue
            kind, content = message["msg_type"], message["content"]
            if kind == "error":
                raise AssertionError(f"{expression}: {content['ename']}: {content['evalue']}")
            if kind == "stream" and content["name"] == "stdout":
                said += content["text"]
            if kind == "status" and content["execution_state"] == "idle":
                return said.strip()

    def repr_failure(self, excinfo: Any, style: Any = None) -> str:
        return str(excinfo.value)

    def reportinfo(self) -> Any:
        return self.path, 0, f"{self.path.name}::text"


def marks(notebook: Any) -> list[str]:
    """A mark of each text of a notebook, in order."""
    texts = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    return [hashlib.sha256(text.encode()).hexdigest()[:10] for text in texts]


def changed(path: Path, notebook: Any) -> list[str]:
    """The beginnings of texts that nobody has read against a run as they stand; a notebook that is not
    listed has none.
    """
    read = json.loads(READ.read_text("utf-8")).get(path.resolve().relative_to(HERE).as_posix())
    texts = [cell.source for cell in notebook.cells if cell.cell_type == "markdown"]
    if read is None:
        return []
    new = [text[:60] for text, mark in zip(texts, marks(notebook), strict=True) if mark not in read]
    return new or (["the order of texts"] if marks(notebook) != read else [])


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    by: dict[Any, list[Any]] = defaultdict(list)
    for item in items:
        if type(item).__name__ == "IPyNbCell":
            by[item.parent].append(item)
    items[:] = list(_with_texts(items, by))


def _with_texts(items: list[pytest.Item], by: dict[Any, list[Any]]) -> Iterator[pytest.Item]:
    last = {cells[-1]: parent for parent, cells in by.items()}
    for item in items:
        if item.parent in by:
            _tolerant(item)
        yield item
        if item in last:
            yield Claims.from_parent(last[item], name="text")


def _tolerant(item: Any) -> None:
    exact, declared = item.compare_outputs, item.cell.metadata
    room, either = declared.get("tolerance", 0), declared.get("either", NOTHING)
    item.compare_outputs = lambda run, stored, skip=None: exact(
        within(run, stored, room, either), stored, skip
    )


if __name__ == "__main__":
    paths = sorted(HERE.rglob("[0-9]*.ipynb"))
    read = {p.relative_to(HERE).as_posix(): marks(nbformat.read(p, as_version=4)) for p in paths}
    READ.write_text(json.dumps(read, indent=1) + "\n", "utf-8")
