"""One line that a student pastes into a form, and the table a teacher makes of many of them."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Mapping
from pathlib import Path

import pandas as pd

from lagwise.core.errors import LagwiseError
from lagwise.core.results import Caseload
from lagwise.exercises.calls import task_of
from lagwise.exercises.task import Checked
from lagwise.say.exercises import CARRIED, CHECK_WORDS, IMPOSSIBLE, RESULT, RESULT_LINE, RIGHT, TEXTS

COLUMNS = ("who", "task", "right", "own", "not_possible", "of", "data", "remark")


def result(*checked: Checked) -> str:
    """One line on a task: how many of its parts are right, on which data, and a word that goes with them.

    It is only returned, to be pasted where the teacher collects it; nothing is recorded or sent. The word is
    worked out from the rest of the line, so that a number changed by hand no longer goes with it.

    Parameters
    ----------
    *checked : Checked
        What `check` returned for the task, one or several; the first names the data. A part handed in twice
        counts twice, one that was not handed in as not answered.

    Raises
    ------
    LagwiseError
        When nothing was handed in, or checks of several tasks.
    """
    numbers = {one.number for one in checked}
    if len(numbers) != 1:
        raise LagwiseError(TEXTS["one_task"])
    task = task_of(numbers.pop())
    states = [one.state for each in checked for one in each.results]
    left = {part.name for part in task.parts} - {one.part for each in checked for one in each.results}
    own, cannot = states.count(CARRIED), states.count(IMPOSSIBLE)
    line = RESULT["line"].format(task=task.number, right=states.count(RIGHT), of=len(states) + len(left))
    line += RESULT["own"].format(n=own) if own else ""
    line += RESULT["not_possible"].format(n=cannot) if cannot else ""
    line += RESULT["data"].format(data=fingerprint(checked[0].data))
    return line + RESULT["word"].format(word=_word(line))


def collected(
    lines: str | Iterable[str] | Mapping[str, str],
    caseloads: Mapping[str, int | str | Path | Caseload] | None = None,
) -> pd.DataFrame:
    """A table of many result lines.

    Parameters
    ----------
    lines : text, or several, or mapping of a student's name to text
        Whatever else stands in the text is passed over; a name may also stand before a line, with a colon.
    caseloads : mapping, optional
        Student -> the folder or caseload that was theirs, or the seed of their own clinic.

    Returns
    -------
    DataFrame
        One row for each line: who, task, right, own (right from the student's own earlier number),
        not_possible, of, data (the fingerprint) and remark: whether the word goes with the line, and whether
        the data are the student's own, another's, or those of nobody.
    """
    texts = {"": lines} if isinstance(lines, str) else lines
    pairs = texts.items() if isinstance(texts, Mapping) else (("", text) for text in texts)
    theirs = {who: _data(caseload) for who, caseload in (caseloads or {}).items()}
    rows = []
    for name, text in pairs:
        for row in str(text).splitlines():
            found = RESULT_LINE.search(" ".join(row.split()))
            if found is None:
                continue
            who = name or row.partition("lagwise task")[0].strip().rstrip(":").strip()
            counts = {one: int(found[one] or 0) for one in ("task", "right", "own", "not_possible", "of")}
            remark = _remark(found, who, theirs)
            rows.append({"who": who, **counts, "data": found["data"], "remark": remark})
    return pd.DataFrame(rows, columns=list(COLUMNS))


def fingerprint(data_hash: str) -> str:
    """The eight characters by which a result line names a caseload."""
    return data_hash[:8]


def _data(caseload: int | str | Path | Caseload) -> str:
    from lagwise.caseload import read
    from lagwise.synthetic import clinic

    caseload = clinic(caseload)[0] if isinstance(caseload, int) else caseload
    return fingerprint((caseload if isinstance(caseload, Caseload) else read(caseload)).data_hash)


def _word(line: str) -> str:
    digest = hashlib.sha256(line.encode()).digest()
    lists = (words.split() for words in CHECK_WORDS)
    return "-".join(words[byte % len(words)] for words, byte in zip(lists, digest, strict=False))


def _remark(found: re.Match[str], who: str, theirs: Mapping[str, str]) -> str:
    if _word(found[0].rpartition("; word ")[0]) != found["word"]:
        return RESULT["changed"]
    if not theirs or theirs.get(who) == found["data"]:
        return ""
    if who not in theirs:
        return RESULT["nobody"].format(who=who or "?")
    other = next((name for name, data in theirs.items() if data == found["data"]), "")
    return RESULT["of_another"].format(other=other) if other else RESULT["unknown"]
