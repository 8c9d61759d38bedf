"""Run the suite on a caseload folder and write it, all of it or nothing."""

from __future__ import annotations

import importlib.util
import json
import time
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

from lagwise.core.errors import NotebookError
from lagwise.core.results import Caseload
from lagwise.core.study import Study
from lagwise.output import check_folder, whole_folder
from lagwise.say.commands import STAGES
from lagwise.say.notebooks import TEXTS, asked_note, retold
from lagwise.suite.index import Ran, index_page
from lagwise.suite.outcome import DONE, FAILED, Outcome, outcome
from lagwise.suite.page import GLOSSARY, glossary_page
from lagwise.suite.sources import Source, sources, values

MARKER = "notebooks.json"
SCHEMA_NAME = "lagwise-notebooks"
KIND = "notebooks"
NEEDS = ("papermill", "nbconvert", "ipykernel")

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Suite:
    """What a run left: where it is, each notebook's outcome, and how long it took."""

    out: Path
    ran: tuple[Ran, ...]
    seconds: float

    @property
    def whole(self) -> bool:
        """Whether every notebook ran to its end."""
        return all(r.outcome.status == DONE for r in self.ran)


def run(
    folder: str | Path,
    out: str | Path,
    *,
    only: Sequence[str] = (),
    show_code: bool = False,
    debug: bool = False,
    progress: Progress | None = None,
) -> Suite:
    """Execute the notebooks on a caseload, as notebooks and as pages, with an index.

    Parameters
    ----------
    folder : path of the caseload folder; it is only read
    out : folder to write, outside the caseload. It may be new, empty, or an earlier run as it was written,
        which is then replaced as a whole
    only : beginnings of names ('03'); all notebooks when empty
    show_code : the code of pages stands open; else it opens on a click
    debug : keep the traceback where a notebook failed
    progress : called with the share done and what is being done

    Returns
    -------
    Suite
        A notebook that stops, because the data do not allow it, does not keep the others from running.

    Raises
    ------
    LagwiseError
        When nothing can be done: the folder cannot be read, `out` cannot be written, or the notebooks' own
        libraries are missing.
    """
    from lagwise.caseload import read

    began = time.perf_counter()
    tell = progress or (lambda share, text: None)
    require_libraries()
    wanted = sources(only)
    folder = Path(folder).resolve()
    target = check_folder(out, kind=KIND, what=TEXTS["what"], error=NotebookError, reading=folder)
    tell(0.0, STAGES["read"])
    caseload = read(folder)
    wanted = [_retold(source, caseload.study) for source in wanted]
    with whole_folder(target, f"the {TEXTS['what']}", NotebookError, kind=KIND) as work:
        names = [source.name for source in wanted]
        ran = tuple(
            _one(
                source,
                folder,
                work,
                names,
                caseload,
                (show_code, debug),
                _part(tell, at, len(wanted), source.name),
            )
            for at, source in enumerate(wanted)
        )
        documents = sorted(p.relative_to(work).as_posix() for p in work.glob("*/case-series.html"))
        note = asked_note(caseload.study)
        index = index_page(caseload.study.title, ran, documents, note)
        (work / "index.html").write_text(index, encoding="utf-8")
        (work / GLOSSARY).write_text(glossary_page(), encoding="utf-8")
        (work / MARKER).write_text(_record(ran, caseload.data_hash), encoding="utf-8")
    tell(1.0, "done")
    return Suite(target, ran, time.perf_counter() - began)


def require_libraries() -> None:
    """Stop when what runs notebooks is not installed.

    Raises
    ------
    NotebookError
        Naming what is missing and the extra that brings it.
    """
    missing = [name for name in NEEDS if importlib.util.find_spec(name) is None]
    if missing:
        are = "is" if len(missing) == 1 else "are"
        raise NotebookError(
            f"{' and '.join(missing)} {are} not installed, and notebooks need it to run",
            mend='Install the extra: pip install "lagwise[notebooks]".',
        )


def _one(
    source: Source,
    folder: Path,
    work: Path,
    names: Sequence[str],
    caseload: Caseload,
    asked: tuple[bool, bool],
    tell: Callable[[float], None],
) -> Ran:
    import nbformat
    from nbclient.exceptions import DeadKernelError

    from lagwise.suite.execute import execute
    from lagwise.suite.page import in_words_of, page, relinked
    from lagwise.synthetic import write

    began = time.perf_counter()
    show_code, debug = asked
    tell(0.0)
    left = [work / f"{source.name}{ending}" for ending in (".ipynb", ".html")]
    try:
        given, invented = values(source, folder)
        for kind, name in invented.items():
            if not (work / name).exists():
                write(kind, work / name, seed=1)
        made, end = outcome(execute(source, given, work, tell), debug=debug)
        made = in_words_of(made, caseload)
        nbformat.write(relinked(made, names, ".ipynb"), left[0])
        linked = relinked(made, names, ".html")
        html = page(linked, source.title, caseload.study.title, show_code=show_code)
        left[1].write_text(html, encoding="utf-8")
    except OSError:  # A full disk or a folder that went away stops every notebook alike; `run` says so.
        raise
    except DeadKernelError:
        end = Outcome(FAILED, TEXTS["ended"])
    except Exception as error:
        if debug:
            raise
        end = Outcome(FAILED, " ".join(f"{type(error).__name__}: {error}".split()).rstrip(": "))
    shown = all(path.exists() for path in left)
    if not shown:
        for path in left:
            path.unlink(missing_ok=True)
    return Ran(source, end, time.perf_counter() - began, shown)


def _retold(source: Source, study: Study) -> Source:
    title, question = (retold(text, study) for text in (source.title, source.question))
    return replace(source, title=title, question=question)


def _part(tell: Progress, at: int, of: int, name: str) -> Callable[[float], None]:
    """The progress of one notebook among several."""
    return lambda share: tell((at + share) / of, f"{name}: {share:.0%}")


def _record(ran: Sequence[Ran], data_hash: str) -> str:
    from lagwise import __version__

    rows = [{"notebook": r.source.name, **asdict(r.outcome), "seconds": round(r.seconds, 1)} for r in ran]
    record = {"schema_name": SCHEMA_NAME, "lagwise": __version__, "data_hash": data_hash, "notebooks": rows}
    return json.dumps(record, indent=1, ensure_ascii=False) + "\n"
