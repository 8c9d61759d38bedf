"""A plan as files: all of them or nothing."""

from __future__ import annotations

import json
from pathlib import Path

from lagwise import __version__
from lagwise.findings.plain import plain
from lagwise.output import check_folder, whole_folder
from lagwise.pages.display import figure
from lagwise.pages.plan_page import plan_page
from lagwise.say.plan import Plan
from lagwise.writeup.csvs import frame_csv

SCHEMA, KIND = "lagwise-plan", "plan"


def check_plan_target(out: str | Path) -> Path:
    """The folder to write, resolved, when a plan may go there: new, empty, or an earlier plan as it was
    written; else WriteUpError.
    """
    return check_folder(out, kind=KIND, what="plan")


def write_plan(plan: Plan, out: str | Path) -> Path:
    """Write plan.html, plan.csv, plan.json, ratings.csv where rating rhythms were compared, and the grid
    figure (figures/plan.png, .svg, .csv).

    Parameters
    ----------
    plan : Plan
    out : path
        Folder to write: new, empty, or an earlier plan as it was written, which is then replaced as a whole.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    WriteUpError
        When `out` holds something else or cannot be written; what was there stays as it was.
    """
    target = check_plan_target(out)
    with whole_folder(target, "the plan", kind=KIND) as work:
        for name, content in plan_files(plan).items():
            path = work / name
            path.parent.mkdir(exist_ok=True)
            path.write_bytes(content)
    return target


def plan_files(plan: Plan) -> dict[str, bytes]:
    """Every file of a plan by its path; the same plan gives the same bytes."""
    drawn = figure(plan)
    return {
        "plan.html": plan_page(plan).encode("utf-8"),
        "plan.csv": frame_csv(plan.table).encode("utf-8"),
        **({"ratings.csv": frame_csv(plan.ratings).encode("utf-8")} if len(plan.ratings) else {}),
        "plan.json": plan_json(plan).encode("utf-8"),
        "figures/plan.png": drawn.png,
        "figures/plan.svg": drawn.svg,
        "figures/plan.csv": frame_csv(plan.picture.data).encode("utf-8"),
    }


def plan_json(plan: Plan) -> str:
    """The plan as JSON: the table's rows, what they were made under and with, and the sentences."""
    values = {
        "schema_name": SCHEMA,
        "lagwise": __version__,
        "seed": plan.seed,
        "caseloads": plan.caseloads,
        "study": plan.study.plan(),
        "assumptions": plan.assumptions.plain(),
        "cells": [plain(r) for r in plan.table.to_dict("records")],
        "ratings": [plain(r) for r in plan.ratings.to_dict("records")],
        "rhythm": list(plan.rhythm),
        "assumed": list(plan.assumed),
        "notes": list(plan.notes),
    }
    return json.dumps(values, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
