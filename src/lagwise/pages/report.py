"""The whole way from a caseload folder to a written case series."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from lagwise.core.aside import begin
from lagwise.core.engine import named
from lagwise.core.errors import ModelError, PanelError, WriteUpError
from lagwise.core.results import Caseload, Fit, Panel
from lagwise.core.words import Spelling
from lagwise.say.commands import CLUSTER, STAGES, left_out

if TYPE_CHECKING:
    from lagwise.document.tree import Paper
    from lagwise.findings import Findings

Progress = Callable[[float, str], None]
"""Called with the share done (0 to 1) and what is being done."""

# Shares of the bar at which each part begins, from timings of the worked example.
QUICK = {"read": 0.0, "panel": 0.1, "mixed": 0.15, "challenges": 0.45, "write": 0.8}
FULL = {"read": 0.0, "panel": 0.03, "mixed": 0.05, "challenges": 0.7, "write": 0.9}

QUICK_SIMULATIONS = 25
"""Simulated caseloads behind the bias of the flare model in a quick report."""
LONG = ("other_reasonable_choices", "missing_steps", "known_truth_at_your_size", "prior")
"""Challenges that take long or need the Bayesian model; --quick leaves them out and the write-up says so."""


@dataclass(frozen=True)
class Report:
    """What a report run left: where it is, the findings, how long it took, and the record of shared versions
    it stands in.
    """

    out: Path
    findings: Findings
    seconds: float
    shared_in: Path | None = None


def not_fitted(engine: str, outcome: str, reason: str, mend: str = "") -> Fit:
    """A Fit that stands for a model that could not be fitted, with the reason in words; what would mend it is
    a note.
    """
    from lagwise.core.effects import effects_frame

    gates = pd.DataFrame(columns=["gate", "value", "limit", "passed", "meaning"])
    notes = (mend,) if mend else ()
    return Fit(engine, outcome, effects_frame([]), gates, False, "not fitted", why_not=reason, notes=notes)


def report(
    folder: str | Path,
    out: str | Path,
    *,
    quick: bool = False,
    seed: int = 1,
    draws: int = 1000,
    chains: int = 4,
    share: bool = False,
    paper: Paper = "a4",
    workers: int | None = None,
    cluster: str | None = None,
    spelling: Spelling = "british",
    for_person: Sequence[str] = (),
    template: str | Path | None = None,
    since: str | Path | None = None,
    progress: Progress | None = None,
    helper: Executor | None = None,
) -> Report:
    """Read, check, model, challenge and write up a caseload.

    Parameters
    ----------
    folder : path of the caseload folder; it is only read
    out : folder for the report; written atomically, a failed run leaves nothing
    quick : leave out the Bayesian model and the long challenges, with fewer simulated caseloads elsewhere
    seed : seed of everything random
    draws, chains : draws kept per chain, and chains, of the Bayesian model
    share : leave out single people and small cells, so that the report can be passed on; recorded, and
        refused where an earlier version
        is 1 to 4 people apart (`lagwise.writeup.share_record`)
    paper : page of the PDF and the Word document, 'a4' or 'letter'
    workers : local processes for the challenges; None or 1 means this process. Results do not depend on it
    cluster : address of a running Dask scheduler, in place of local processes; the panel leaves this machine
        for its workers
    spelling : British or American, of everything that is written
    for_person : codes of people who get a page of their own; not together with `share`
    template : folder of the author's own sections (docs/own-sections.md)
    since : folder of an earlier report of the same study, or its findings.json: what changed since then is
        told, and how often the question has been asked
    progress : called as the work goes on
    helper : another process, as an executor, that does part of the work meanwhile; the report does not depend
        on it

    Raises
    ------
    LagwiseError
        When nothing can be written; the message says what, where and how to mend it.
    """
    began = time.perf_counter()
    from lagwise.caseload import read
    from lagwise.challenges import REGISTRY
    from lagwise.challenges.work import open_executor
    from lagwise.findings.codes import check_codes, with_pages
    from lagwise.findings.look_back import findings_at
    from lagwise.models.design import load_known
    from lagwise.panel import build_panel, rebuild
    from lagwise.say.challenge import challenge
    from lagwise.say.changes.follow import followed
    from lagwise.writeup.collect import collect
    from lagwise.writeup.own_sections import check_own_sections
    from lagwise.writeup.share import require_enough
    from lagwise.writeup.share_record import checked, record
    from lagwise.writeup.write import check_target, write_up

    shares = QUICK if quick else FULL
    tell = progress or (lambda share, text: None)
    check_target(out, reading=folder)
    if template is not None:
        check_own_sections(template)
    before = findings_at(since) if since is not None else None
    with open_executor(cluster=cluster):
        pass  # a cluster that does not answer is said before the long work, not after
    if share and for_person:
        raise WriteUpError(
            "a page for one person is private and cannot go into a report to share",
            where="--for-person together with --share",
            mend="Run the report once for each.",
        )

    tell(shares["read"], STAGES["read"])
    begin(helper, _ready)
    caseload = read(folder)
    tell(shares["panel"], STAGES["panel"])
    panel = build_panel(caseload)
    asked = can_ask(panel, caseload)
    check_codes(for_person, map(str, panel.frame["person"].unique()))
    if share:
        require_enough(panel.frame["person"].nunique(), panel.study.consent_single_person_plots)
    release = checked(caseload, panel) if share else None
    if before is not None:
        collect(
            caseload, panel, [], None, since=before
        )  # what cannot be compared is said before the long work

    start, width = shares["mixed"], shares["challenges"] - shares["mixed"]
    first, room = shares["challenges"], shares["write"] - shares["challenges"]
    fits: list[Fit] = []
    also: list[tuple[Panel, list[Fit]]] = []
    checks, events = None, []
    if asked:
        questions = [panel, *(rebuild(panel, study) for study in panel.study.further)]
        joint = [begin(helper, _joint, one) if load_known(one) else None for one in questions]
        few = {"simulations": QUICK_SIMULATIONS} if quick else {}
        # Where the helper has a joint model and nothing is sampled here, flare-ups are for this process.
        here = helper is None or (quick and joint[0] is not None)
        flares = cache(begin(None if here else helper, _flares, panel, few))
        after = followed(panel, seed, quick, helper)
        fits, also = _fit_all(
            questions,
            joint,
            lambda share, text: tell(start + width * share, text),
            ordinal={} if quick else {"draws": draws, "chains": chains, "seed": seed},
            helper=helper,
            meanwhile=flares if here else lambda: None,
        )
        tell(shares["challenges"], STAGES["challenges"])
        checks = challenge(
            panel,
            fits[0],
            seed=seed,
            only=[entry.NAME for entry in REGISTRY if not (quick and entry.NAME in LONG)],
            quick=quick,
            workers=workers,
            cluster=cluster,
            bayes=next((f for f in fits if named(f.engine).interval == "credible"), None),
            joint=next((f for f in fits if f.made is not None), None),
            people=caseload.people,
            helper=helper,
            progress=lambda name, i, n: tell(
                first + room * i / n, f"{STAGES['challenges']}: {name.replace('_', ' ')}"
            ),
        )
        curves = next((i for i, f in enumerate(fits) if named(f.engine).answers == "curve"), len(fits))
        fits.insert(curves, flares())
        events = after()
    tell(shares["write"], STAGES["write"])
    how = left_out(LONG) if quick else {"draws": draws, "chains": chains}
    settings: dict[str, Any] = {"quick": quick, "seed": seed, **how} if asked else {}
    if cluster and asked:
        settings |= CLUSTER
    findings = collect(
        caseload, panel, fits, checks, settings=settings, also=also, events=events, since=before
    )
    findings = with_pages(findings.model_copy(update={"spelling": spelling}), for_person)
    posterior = next((f.posterior for f in fits if f.posterior is not None), None)
    path = write_up(
        findings,
        out,
        panel=panel,
        quarantine=caseload.quarantine,
        posterior=posterior,
        private=not share,
        paper=paper,
        template=template,
        helper=helper,
    )
    shared_in = None
    if release is not None:
        made_on = findings.provenance.made_on
        shared_in = record(release, title=findings.study.title, made_on=made_on, out=Path(path))
    tell(1.0, "done")
    return Report(Path(path), findings, time.perf_counter() - began, shared_in)


def can_ask(panel: Panel, caseload: Caseload) -> bool:
    """Whether the record can be asked anything, by the main question or a further one; else it is described.

    Raises
    ------
    PanelError
        When no step has a rating, a load or a training state: there is nothing to describe.
    """
    from lagwise.models.askable import askable
    from lagwise.panel import rebuild

    found = askable(panel, caseload)
    if found.level == "nothing":
        asked = panel.study.outcome.name
        raise PanelError(
            "no step has a rating, a load or a training state that can be used",
            where=caseload.folder or "caseload",
            mend="Name the columns that hold them under [tables.checkins.columns] and "
            f'[tables.sessions.columns] in study.toml, as {asked} = "your column".',
        )
    every = (found, *(askable(rebuild(panel, study)) for study in panel.study.further))
    return any(one.level in ("main", "psychosocial") for one in every)


def _guarded(engine: str, panel: Panel, run: Callable[[], Fit], outcome: str = "") -> Fit:
    try:
        return run()
    except ModelError as error:
        refused = not_fitted(engine, outcome or panel.study.outcome.column, error.what, error.mend)
        return replace(refused, step=panel.study.step, asked=panel.study.asked)


def _fit_question(
    panel: Panel,
    joint: Callable[[], Fit] | None,
    tell: Progress,
    *,
    ordinal: Mapping[str, int],
    helper: Executor | None,
    meanwhile: Callable[[], object],
) -> list[Fit]:
    """The models of what a panel's plan asks about: ratings as they are, with error (`joint`, which may have
    begun elsewhere), and as ordered categories where `ordinal` gives its settings.
    """
    from lagwise.models import fit_mixed

    tell(0.0, STAGES["mixed"])
    fits = [_guarded("mixed", panel, lambda: fit_mixed(panel, helper=helper))]
    meanwhile()
    if ordinal:
        from lagwise.models import fit_ordinal  # here, since it loads a compiler that --quick does without

        tell(0.1, STAGES["ordinal"])

        def said(share: float, text: str) -> None:
            tell(0.1 + 0.9 * share, text)

        fits.append(_guarded("ordinal", panel, lambda: fit_ordinal(panel, progress=said, **ordinal)))
    if joint is not None:
        fits.insert(1, joint())
    return fits


def _fit_all(
    questions: Sequence[Panel],
    joint: Sequence[Callable[[], Fit] | None],
    tell: Progress,
    *,
    ordinal: Mapping[str, int],
    helper: Executor | None,
    meanwhile: Callable[[], object],
) -> tuple[list[Fit], list[tuple[Panel, list[Fit]]]]:
    """The fits of the main question, curves among them, and those of each further question; `meanwhile` is
    called while joint models are fitted elsewhere.
    """
    from lagwise.models import fit_dose, fit_lags

    every = []
    for at, (one, with_error) in enumerate(zip(questions, joint, strict=True)):
        every.append(
            _fit_question(
                one,
                with_error,
                lambda share, text, at=at: tell(0.9 * (at + share) / len(questions), text),  # type: ignore[misc]
                ordinal=ordinal,
                helper=helper,
                meanwhile=meanwhile,
            )
        )
    fits, also = every[0], list(zip(questions[1:], every[1:], strict=True))
    tell(0.9, STAGES["flares"])
    panel = questions[0]
    loads = {v.name for v in panel.study.variables.values() if v.whole}
    if fits[0].usable and loads & {*fits[0].columns} and fits[0].n_people >= named("lags").people:
        fits.append(_guarded("lags", panel, lambda: fit_lags(panel)))
        fits.append(_guarded("dose", panel, lambda: fit_dose(panel)))
    return fits, also


def _ready() -> None:
    """Loads what the helper is going to need, while this process reads."""
    for name in ("models.rated", "models.flare", "challenges", "say.challenge"):
        import_module(f"lagwise.{name}")


def _joint(panel: Panel) -> Fit:
    """The joint model of ratings and load, or what stands for it; a function that can travel."""
    from lagwise.models import fit_rated

    return _guarded("rated", panel, lambda: fit_rated(panel))


def _flares(panel: Panel, few: Mapping[str, int]) -> Fit:
    """The fit of flare-ups, or what stands for it; a function that can travel."""
    from lagwise.models import fit_flares

    return _guarded("flare", panel, lambda: fit_flares(panel, **few), "flare_next")
