"""Assemble the findings from what the other rooms computed."""

from __future__ import annotations

import datetime as dt
import platform
import sys
from collections.abc import Iterable, Mapping
from dataclasses import asdict, replace
from functools import cache
from importlib import metadata
from pathlib import Path
from typing import Any

import pandas as pd

from lagwise import describe
from lagwise.core.errors import WriteUpError
from lagwise.core.followed import Followed
from lagwise.core.gate import gate_for
from lagwise.core.results import Caseload, Challenges, Fit, Panel, Picture, whole_rows
from lagwise.core.study import Study
from lagwise.events.stretches import compared
from lagwise.findings import (
    ChallengeFacts,
    EffectRow,
    Findings,
    FitFacts,
    FollowedFacts,
    GateFacts,
    PictureFacts,
    Provenance,
    QuestionFacts,
    StudyFacts,
    Table,
)
from lagwise.findings.look_back import findings_at, look_back
from lagwise.findings.plain import claim_facts, plain, scalar, table
from lagwise.findings.series import person_series
from lagwise.models.answer import answer_tables
from lagwise.models.askable import askable
from lagwise.models.comparison import with_headline
from lagwise.models.flow import flow_table
from lagwise.say.fit import why_left_out
from lagwise.writeup.collect_numbers import (
    asked,
    at_zero,
    checklist_numbers,
    counted,
    drawn,
    kinds_left,
    told,
    tried,
    with_usual,
)

PACKAGES = (
    "numpy", "scipy", "pandas", "pyarrow", "statsmodels", "pymc", "nutpie", "arviz", "matplotlib", "jinja2",
    "pydantic",
)  # fmt: skip
_version = cache(metadata.version)


def collect(
    caseload: Caseload,
    panel: Panel,
    fits: Iterable[Fit],
    checks: Challenges | None,
    *,
    settings: Mapping[str, Any] | None = None,
    also: Iterable[tuple[Panel, Iterable[Fit]]] = (),
    events: Iterable[Followed] = (),
    since: Findings | str | Path | None = None,
) -> Findings:
    """Everything a write-up needs as one JSON-able value.

    Parameters
    ----------
    caseload : Caseload
        What was read; its study is the recorded plan.
    panel : Panel
        What was analysed; where its study differs from the caseload's, the differences are recorded as
        'changed after the plan'.
    fits : iterable of Fit
        Usable or not; an unusable fit is kept with its failed gates and never written up as a result.
    checks : Challenges or None
    settings : mapping, optional
        What the caller chose (seed, draws ...), kept in the provenance.
    also : iterable of (Panel, iterable of Fit), optional
        Further questions: a panel under the plan of each (`study.further`) and its fits. One that the plan
        does not name is told as such, one that it names and that is not here as not fitted.
    events : iterable of Followed, optional
        From `follow`, in the order in which they are told; each kind and rating once.
    since : Findings or path, optional
        An earlier report of the same study, or its folder: what changed since then is told, and how often the
        question has been asked.

    Raises
    ------
    WriteUpError
        When a further question's plan differs in more than what it asks, or it is there twice; when the
        earlier report cannot be read or compared.

    Examples
    --------
    >>> asked = panel.study.with_(also=[{"outcome": "worry", "primary": "jump"}])
    >>> own = lw.build_panel(caseload, asked)
    >>> worry = lw.build_panel(caseload, asked.further[0])
    >>> fits, also = [lw.fit_mixed(own)], [(worry, [lw.fit_mixed(worry)])]
    >>> findings = lw.collect(caseload, own, fits, None, also=also)
    >>> [(row.outcome, row.term, row.contrast) for row in findings.effects if row.contrast == "+50 %"][-1]
    ('worry_next', 'jump', '+50 %')
    >>> findings.number("questions")
    2
    """
    fits, after = with_headline(fits, panel.study), _followed(events)
    questions = _questions(panel.study, also)
    known = counted(caseload, panel)
    gate = gate_for(int(known["main_people"].value or 0))
    estimates = any(len(f.effects) for f in fits) or any(f.effects for q in questions for f in q.fits)
    estimates = estimates or (checks is not None and any(c.tried for c in checks))
    tables = _tables(caseload, panel) | ({} if estimates else _described(caseload, panel))
    tables |= {n: table(frame, made_by="models.answer") for n, frame in answer_tables(panel, fits).items()}
    if "lacking" not in tables:
        tables["flow"] = table(flow_table(panel, fits), made_by="models.flow")
    spread = {
        r["term"]: r["within_sd"]
        for r in (tables["usual_range"].records() if "usual_range" in tables else ())
        if r["within_sd"] and not panel.study.variables[r["term"]].whole
    }
    found = Findings(
        study=_study(caseload, panel),
        provenance=_provenance(caseload, fits, checks, settings or {}),
        gate=GateFacts.like(gate),
        numbers={
            **known,
            **at_zero(tables, panel.study.outcome),
            **tried(checks),
            **asked(len(questions)),
            **drawn(panel.frame["person"].nunique()),
            **kinds_left(panel, {one.kind for one in after}),
        },
        tables=tables,
        people=person_series(panel),
        fits=tuple(_fit(fit, panel.study, spread) for fit in fits),
        also=questions,
        challenges=tuple(_challenge(c) for c in checks) if checks is not None else (),
        followed=after,
    )
    found = found.model_copy(update={"numbers": {**found.numbers, **checklist_numbers(found)}})
    if since is None:
        return found
    before = since if isinstance(since, Findings) else findings_at(since)
    return found.model_copy(update={"since": look_back(found, before)})


def _questions(study: Study, also: Iterable[tuple[Panel, Iterable[Fit]]]) -> tuple[QuestionFacts, ...]:
    """The plan's further questions in its order, fitted or not, then those that it does not name."""
    main = replace(study, also=(), changed=())
    found: list[tuple[Study, tuple[Fit, ...]]] = []
    for own, fits in also:
        asked = replace(own.study, also=(), changed=())
        if replace(asked, analysis=main.analysis) != main or asked in (main, *(there for there, _ in found)):
            raise WriteUpError(
                "a further question is the main one, is there twice, or has another plan in more than what "
                "it asks",
                where="collect(also=...)",
                mend="Build its panel under one of study.further, or study.with_(outcome=..., primary=...).",
            )
        found.append((asked, with_headline(fits, asked)))
    named = [replace(one, changed=()) for one in study.further]
    fitted = [next((fits for there, fits in found if there == one), ()) for one in named]
    every = [*zip(named, fitted, strict=True), *(one for one in found if one[0] not in named)]
    return tuple(
        QuestionFacts(
            analysis=plain(asked.plan()["analysis"]),
            planned=asked in named,
            fits=tuple(_fit(fit, asked) for fit in fits),
        )
        for asked, fits in every
    )


def _followed(events: Iterable[Followed]) -> tuple[FollowedFacts, ...]:
    """What followed events, each kind and rating once."""
    found = {(one.kind, one.outcome.name): one for one in events}
    return tuple(
        FollowedFacts(
            kind=kind,
            outcome=outcome,
            claim=claim_facts(one.claim),
            effects=tuple(effect_rows(one.effects)),
            attempts=tuple(_challenge(c) for c in one.tests),
            picture=_picture(one.figure, "follow"),
        )
        for (kind, outcome), one in found.items()
    )


def effect_rows(frame: pd.DataFrame) -> list[EffectRow]:
    """A tidy effect table as typed rows, in order."""
    return [
        EffectRow(**{str(k): scalar(v) for k, v in row.items() if k in EffectRow.model_fields})
        for row in frame.to_dict("records")
    ]


def _study(caseload: Caseload, panel: Panel) -> StudyFacts:
    study = panel.study
    return StudyFacts.like(
        study,
        plan=plain(study.plan()),
        plan_hash=study.plan_hash(),
        recorded_plan_hash=caseload.study.plan_hash(),
        changes=study.changes_from(caseload.study),
    )


def _provenance(
    caseload: Caseload, fits: tuple[Fit, ...], checks: Challenges | None, settings: Mapping[str, Any]
) -> Provenance:
    from lagwise import __version__

    seconds = {f"{fit.engine} ({fit.outcome})": round(fit.seconds, 2) for fit in fits}
    if checks is not None:
        seconds |= {f"challenge {c.name}": round(c.seconds, 2) for c in checks}
        settings = {**settings, "challenge_seed": checks.seed}
    return Provenance(
        lagwise=__version__,
        python=platform.python_version(),
        platform=f"{platform.system()} {platform.machine()}, {sys.implementation.name}",
        packages={name: _version(name) for name in PACKAGES},
        data_hash=caseload.data_hash,
        made_on=dt.datetime.now(dt.UTC).date().isoformat(),
        settings=plain(settings),
        seconds=seconds,
    )


def _tables(caseload: Caseload, panel: Panel) -> dict[str, Table]:
    tables = {
        "counts": table(caseload.counts, made_by="read"),
        "cohort": table(describe.cohort_table(panel, caseload), made_by="describe.cohort_table"),
        "groups": table(describe.groups_table(caseload, panel), made_by="describe.groups_table"),
        "events": table(describe.events_table(caseload), made_by="describe.events_table"),
        "calendar": table(describe.calendar_table(panel), made_by="describe.calendar_table"),
        "missing": table(describe.missingness_table(panel), made_by="describe.missingness_table"),
        "ratings": table(describe.floor_and_heaping(panel, caseload), made_by="describe.floor_and_heaping"),
        "spread": table(describe.variance_split(panel), made_by="describe.variance_split"),
        "usual_range": table(describe.usual_range(panel), made_by="describe.usual_range"),
        "people": table(describe.people_table(caseload, panel), made_by="describe.people_table"),
        "remarks": table(caseload.remarks, made_by="read"),
    }
    if len(panel.study.blocks) > 1:
        found, _ = compared(panel, panel.study.outcome.name)
        tables["stretches"] = table(found, made_by="stretches")
    if len(caseload.quarantine):
        listed = caseload.quarantine.assign(rows=whole_rows, cells=lambda q: ~whole_rows(q))
        by_code = (
            listed.groupby(["table", "column", "code"], sort=True)[["rows", "cells"]].sum().reset_index()
        )
        tables["quarantined"] = table(by_code, made_by="read")
    return {name: t for name, t in tables.items() if len(t)}


def _described(caseload: Caseload, panel: Panel) -> dict[str, Table]:
    """Of a record that nothing can be asked of: what it lacks, how its values are spread; else nothing."""
    found = askable(panel, caseload)
    if found.level in ("main", "psychosocial"):
        return {}
    lacking = pd.DataFrame([{**asdict(m), "columns": ", ".join(m.columns)} for m in found.missing])
    spread = table(describe.distribution_table(panel), made_by="describe.distribution_table")
    apart = table(describe.variance_split(panel, ["load"]), made_by="describe.variance_split")
    out = {"lacking": table(lacking, made_by="models.askable"), "distribution": spread, "spread": apart}
    return {name: t for name, t in out.items() if len(t)}


def _fit(fit: Fit, study: Study, spread: Mapping[str, float] | None = None) -> FitFacts:
    tables = {name: table(frame, made_by=f"fit {fit.engine}") for name, frame in fit.tables.items()}
    return FitFacts.like(
        fit,
        n_people=int(fit.n_people),
        n_steps=int(fit.n_steps),
        effects=with_usual(effect_rows(fit.effects), spread or {}),
        diagnostics=table(fit.diagnostics, made_by=f"fit {fit.engine}"),
        tables=tables | told(fit, study),
        settings=plain(fit.settings),
        seconds=round(float(fit.seconds), 2),
        dropped=tuple((name, why_left_out(why)) for name, why in fit.dropped),
    )


def _challenge(challenge: Any) -> ChallengeFacts:
    made_by = f"challenge {challenge.name}"
    return ChallengeFacts.like(
        challenge,
        numbers=table(challenge.numbers, made_by=made_by),
        picture=_picture(challenge.picture, made_by),
        seconds=round(float(challenge.seconds), 2),
        claim=None if challenge.claim is None else claim_facts(challenge.claim),
    )


def _picture(picture: Picture | None, made_by: str) -> PictureFacts | None:
    if picture is None:
        return None
    return PictureFacts.like(
        picture, data=table(picture.data, made_by=made_by), options=plain(picture.options)
    )
