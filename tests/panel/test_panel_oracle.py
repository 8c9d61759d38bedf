"""Every panel column against slow loops written from the definitions alone, on random caseloads."""

import math
from datetime import timedelta

import pandas as pd
import pytest
from panel_caseloads import STUDIES, random_caseload

from lagwise.core.results import Caseload
from lagwise.core.terms import SPLIT, panel_columns
from lagwise.panel import build_panel

NAN = math.nan
EMPTY = {"sessions": ["sets", "reps", "load_kg", "effort", "reps_in_reserve", "minutes"],
         "checkins": ["pain", "stress", "sleep_hours", "sleep_quality", "worry", "confidence", "flare"]}  # fmt: skip
WEEKDAYS = ["monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"]


def oracle(caseload: Caseload) -> pd.DataFrame:
    study, rows = caseload.study, []
    sessions = list(caseload.sessions.to_dict("records"))
    checkins = list(caseload.checkins.to_dict("records"))
    lost = list(caseload.lost.to_dict("records"))
    cells = {(r["table"], r["row"]): r["column"] for r in lost if r["column"]}
    for table, records in (("sessions", sessions), ("checkins", checkins)):
        for r in records:
            r["lost"] = cells.get((table, r["row"]), "")
    known_people = {r["person"] for r in sessions + checkins}
    for r in lost:
        if r["column"] == "" and r["person"] in known_people and not pd.isna(r["date"]):
            gone = dict.fromkeys(EMPTY[r["table"]], NAN)
            (sessions if r["table"] == "sessions" else checkins).append(
                {**gone, **r, "time": None, "lost": "row"}
            )
    for person in sorted(known_people):
        mine = [dict(r, day=r["date"].date()) for r in sessions if r["person"] == person]
        said = [dict(r, day=r["date"].date()) for r in checkins if r["person"] == person]
        said.sort(key=lambda r: (r["day"], r["time"] if isinstance(r["time"], str) else "", r["row"]))
        everything = [r["day"] for r in mine + said]
        anchor, length = min(everything), study.clock.step_days
        if length % 7 == 0:
            while WEEKDAYS[anchor.weekday()] != study.clock.week_starts:
                anchor -= timedelta(1)
        n = (max(everything) - anchor).days // length + 1
        steps = []
        for t in range(n):
            begin = anchor + timedelta(t * length)
            end = begin + timedelta(length)
            steps.append(
                one_step(study, person, t, begin, [r for r in mine if begin <= r["day"] < end],
                         [r for r in said if begin <= r["day"] < end], said, bool(sessions))
            )  # fmt: skip
        rows.extend(over_time(study, steps))
    return split(pd.DataFrame(rows))


def known(values):
    return [v for v in values if not math.isnan(v)]


def mean(values):
    values = known(values)
    return sum(values) / len(values) if values else NAN


def effort_of(r):
    return (
        r["effort"]
        if not math.isnan(r["effort"])
        else max(10 - r["reps_in_reserve"], 0) + 0 * r["reps_in_reserve"]
    )


def is_trained(r):
    if r["sets"] > 0 or r["minutes"] > 0 or r["load_kg"] > 0 or r["lost"]:
        return True
    if r["sets"] == 0:
        return False
    return r["effort"] > 0 or r["reps"] > 0 or not math.isnan(r["reps_in_reserve"])


def is_rest(r):
    return not is_trained(r) and (r["sets"] == 0 or r["minutes"] == 0 or r["effort"] == 0)


def row_load(r, study):
    m, effort = study.load.measure, effort_of(r)
    if is_rest(r):
        return 0.0
    if m == "session_rpe":
        return effort * r["minutes"]
    if r["sets"] == 0:
        return 0.0
    if m == "sets":
        return r["sets"]
    if m == "reps":
        return r["sets"] * r["reps"]
    if m == "tonnage":
        return r["sets"] * r["reps"] * r["load_kg"]
    limit = study.load.hard_effort if m == "hard_sets" else study.load.near_failure_effort
    if math.isnan(effort):
        return NAN
    return r["sets"] if effort >= limit else 0.0 * r["sets"]


def one_step(study, person, t, begin, mine, said, ever, has_sessions):
    s = {"person": person, "step": t, "step_start": pd.Timestamp(begin)}
    used = [r for r in said if r["lost"] != "row"]
    if any(is_trained(r) for r in mine):
        s["state"], s["load"] = "trained", sum(row_load(r, study) for r in mine)
    elif any(is_rest(r) for r in mine) or (
        not mine and used and has_sessions and study.load.no_sessions_means == "rest"
    ):
        s["state"], s["load"] = "rest", 0.0
    else:
        s["state"], s["load"] = "unknown", NAN
    top = bottom = near = sets = 0.0
    for r in mine:
        effort = effort_of(r)
        if r["sets"] != 0 and not math.isnan(effort):
            weight = 1.0 if math.isnan(r["sets"]) else r["sets"]
            top, bottom = top + weight * effort, bottom + weight
            if r["sets"] > 0:
                sets += r["sets"]
                near += r["sets"] if effort >= study.load.near_failure_effort else 0
    s["effort"] = top / bottom if bottom else NAN
    s["near_failure_share"] = near / sets if sets else NAN
    for name in ("stress", "sleep_hours", "sleep_quality", "worry", "confidence"):
        s[name] = mean([r[name] for r in said])
    pains = known([r["pain"] for r in said])
    s["partly_recorded"] = int(s["state"] == "trained" and math.isnan(s["load"]))
    s["n_checkins"], s["n_ratings"], s["n_sessions"] = len(used), len(pains), len({r["day"] for r in mine})
    s["pain"] = (mean(pains) if study.pain.summary == "mean" else max(pains) if study.pain.summary == "worst" else pains[-1]) if pains else NAN  # fmt: skip
    unread = [r["day"] for r in said if r["lost"] in ("row", "pain")]
    if unread and pains:
        last = max(r["day"] for r in said if not math.isnan(r["pain"]))
        if (study.pain.summary == "worst" and max(pains) < 10) or (
            study.pain.summary == "last" and max(unread) >= last
        ):
            s["pain"] = NAN
    flares = known([r["flare"] for r in said])
    s["flare_reported"] = max(flares) if flares else NAN
    if s["flare_reported"] == 0 and any(r["lost"] in ("row", "flare") for r in said):
        s["flare_reported"] = NAN
    s["pain_before"] = before(study, begin, mine, ever)
    return s


def before(study, begin, mine, ever):
    out = NAN
    first = min((r["day"] for r in mine), default=None)
    times = sorted(r["time"] for r in mine if r["day"] == first and isinstance(r["time"], str))
    for r in ever:
        if math.isnan(r["pain"]):
            continue
        limit = begin if first is None else first
        if not 0 <= (limit - r["day"]).days <= study.clock.step_days:
            continue
        if r["day"] == limit:
            if first is None:
                continue
            earlier = isinstance(r["time"], str) and bool(times) and r["time"] < times[0]
            if not (study.clock.checkin_time == "morning" or earlier):
                continue
        out = r["pain"]
    return out


def over_time(study, steps):
    for t, s in enumerate(steps):
        past = known([p["load"] for p in steps[max(0, t - study.load.usual_steps) : t]])
        s["usual"] = sum(past) / len(past) if len(past) >= study.load.usual_needs else NAN
        pains = known([p["pain"] for p in steps[:t]])
        s["usual_pain"] = mean(pains) if len(pains) >= 3 else NAN
        later = steps[t + 1] if t + 1 < len(steps) else {"pain": NAN, "flare_reported": NAN}
        s["pain_next"], s["flare_reported_next"] = later["pain"], later["flare_reported"]
    usuals = [math.log(s["usual"]) for s in steps if s["usual"] > 0]
    for s in steps:
        load, usual = s["load"], s["usual"]
        s["rested"] = NAN if math.isnan(load) else float(load == 0)
        s["restarted"] = (
            NAN if math.isnan(load) or (load > 0 and math.isnan(usual)) else float(load > 0 and usual == 0)
        )
        if math.isnan(load):
            s["jump"] = NAN
        elif load == 0 or usual == 0:
            s["jump"] = 0.0
        else:
            s["jump"] = math.log(load / usual) if usual > 0 else NAN
        s["log_usual"] = NAN if math.isnan(usual) else (0.0 if usual == 0 else math.log(usual) - usuals[0])
        limit = s["usual_pain"] + study.pain.flare_rise - 1e-9
        s["at_risk"] = NAN if math.isnan(s["pain"]) or math.isnan(limit) else float(s["pain"] < limit)
        s["flare_next"] = (
            NAN if s["at_risk"] != 1 or math.isnan(s["pain_next"]) else float(s["pain_next"] >= limit)
        )
    return steps


def split(frame):
    for name in SPLIT:
        means = {p: mean(list(g[name])) for p, g in frame.groupby("person")}
        grand = mean(list(means.values()))
        frame[f"{name}_within"] = [v - means[p] for v, p in zip(frame[name], frame["person"], strict=True)]
        frame[f"{name}_between"] = [means[p] - grand for p in frame["person"]]
    return frame[list(panel_columns())]


@pytest.mark.parametrize("study", STUDIES, ids=lambda s: s.title)
@pytest.mark.parametrize("seed", range(4))
def test_every_column_equals_the_loop(study, seed):
    caseload = random_caseload(seed, study, people=10, lost=seed % 2 == 1)
    expected = oracle(caseload)
    got = build_panel(caseload).frame
    pd.testing.assert_frame_equal(got, expected, check_dtype=False, atol=1e-9, rtol=1e-9)
