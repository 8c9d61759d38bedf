"""A shared folder read as somebody would who looks for single people in it: every file, every cell, every sentence."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
import zipfile
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from pypdf import PdfReader

from lagwise.caseload import read
from lagwise.core.errors import WriteUpError
from lagwise.findings import Findings
from lagwise.models import fit_dose, fit_flares, fit_lags, fit_mixed
from lagwise.pages.report import not_fitted, report
from lagwise.panel import build_panel, rebuild
from lagwise.say.challenge import challenge
from lagwise.say.changes.follow import followed
from lagwise.writeup.collect import collect
from lagwise.writeup.write import write_up

CLINIC = Path(__file__).parents[2] / "data_synthetic" / "clinic"
CHALLENGES = [
    "leave_one_person_out", "regression_to_the_mean", "same_week_answer", "shuffled_load", "unrelated_load",
]  # fmt: skip
CONSENT = "\n[privacy]\nconsent_single_person_plots = true\n"


@dataclass(frozen=True)
class Case:
    """A caseload, what its private findings say and the folder shared from them."""

    codes: list[str]
    private: Findings
    tables: dict[str, pd.DataFrame]
    out: Path
    sheets: bool
    """Whether its PDF is read as well, whose words are those of the page."""


def folder(at: Path, codes: list[str], *, consent: bool = False) -> dict[str, pd.DataFrame]:
    """The first people of the synthetic clinic under other codes."""
    at.mkdir()
    tables = {p.stem: pd.read_csv(p, dtype=str, keep_default_na=False) for p in sorted(CLINIC.glob("*.csv"))}
    names = dict(zip(tables["people"]["person"], codes, strict=False))
    for name, table in tables.items():
        kept = table[table["person"].isin(list(names))].reset_index(drop=True)
        tables[name] = kept.assign(person=kept["person"].map(names))
    plan = (CLINIC / "study.toml").read_text("utf-8")
    assert "[privacy]" not in plan
    (at / "study.toml").write_text(plan + (CONSENT if consent else ""), "utf-8")
    return tables


def saved(at: Path, tables: dict[str, pd.DataFrame]) -> None:
    for name, table in tables.items():
        table.to_csv(at / f"{name}.csv", index=False)


def run(
    at: Path, codes: list[str], tables: dict[str, pd.DataFrame], *, fitted: bool, mixed: bool = False
) -> Case:
    """The folder shared of these tables: with a mixed model alone, or fitted with all that may be asked beside it."""
    saved(at, tables)
    caseload = read(at)
    panel = build_panel(caseload)
    mixed = fit_mixed(panel) if fitted or mixed else not_fitted("mixed", "pain_next", "left out")
    fits = [mixed, fit_flares(panel, simulations=2)]
    checks = (
        challenge(panel, mixed, seed=1, only=CHALLENGES, quick=True, people=caseload.people)
        if fitted
        else None
    )
    worry = rebuild(panel, panel.study.with_(outcome="worry"))
    curves = [fit_lags(panel), fit_dose(panel)] if fitted else []
    also = [(worry, [fit_mixed(worry)])] if fitted else []
    events = followed(panel, 1, True)() if fitted else []
    found = collect(caseload, panel, [*fits, *curves], checks, also=also, events=events)
    out = write_up(
        found, at.parent / f"{at.name}-shared", panel=panel, quarantine=caseload.quarantine, private=False
    )
    return Case(codes, found, tables, out, sheets=fitted)


@pytest.fixture(scope="module")
def numeric(tmp_path_factory) -> Case:
    """Twelve people under codes without letters, small groups among them."""
    at = tmp_path_factory.mktemp("numeric") / "case"
    codes = ["007", "90417", "12", "0815", *(str(70411 + 13 * i) for i in range(8))]
    return run(at, codes, folder(at, codes), fitted=True)


@pytest.fixture(scope="module")
def few(tmp_path_factory) -> Case:
    """Thirteen people: one with flare-ups, by pain and by word; two alone rate worry, eleven stress; one has another sex."""
    at = tmp_path_factory.mktemp("few") / "case"
    codes = [f"Qz{i:02d}x" for i in range(13)]
    tables = folder(at, codes)
    checkins = tables["checkins"]
    checkins.loc[checkins["person"] != codes[4], "pain"] = "3"
    checkins.loc[checkins["person"] != codes[4], "flare"] = "no"
    own = checkins.index[checkins["person"] == codes[4]]
    checkins.loc[own, "pain"] = ["8" if 30 <= i < 36 else "2" for i in range(len(own))]
    checkins.loc[~checkins["person"].isin(codes[:2]), "worry"] = ""
    checkins.loc[checkins["person"].isin(codes[2:4]), "stress"] = ""
    tables["people"].loc[3, "sex"] = "other"
    return run(at, codes, tables, fitted=False)


@pytest.fixture(scope="module")
def consented(tmp_path_factory) -> Case:
    """Twelve people whose consent to show single people is attested."""
    at = tmp_path_factory.mktemp("consented") / "case"
    codes = [f"Qz{i:02d}x" for i in range(12)]
    return run(at, codes, folder(at, codes, consent=True), fitted=False, mixed=True)


@pytest.fixture(params=["numeric", "few"])
def case(request) -> Case:
    return request.getfixturevalue(request.param)


def texts(path: Path) -> str:
    """What is readable in a file; a document's parts and a PDF's and a picture's compressed streams unpacked."""
    data = path.read_bytes()
    if path.suffix == ".docx":
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return "\n".join(archive.read(n).decode("utf-8", "replace") for n in archive.namelist())
    if path.suffix == ".pdf":
        return _pdf(path)
    return data.decode("utf-8", "replace")


def _pdf(path: Path) -> str:
    """Text, alternative texts and metadata of a PDF."""
    reader = PdfReader(path)
    parts = [page.extract_text() for page in reader.pages] + [
        str(v) for v in (reader.metadata or {}).values()
    ]
    for number in range(1, int(reader.trailer["/Size"])):
        part = reader.get_object(number)
        if isinstance(part, dict):
            parts += [
                str(part[k])
                for k in ("/Alt", "/ActualText", "/Contents", "/Title")
                if isinstance(part.get(k), str)
            ]
    return re.sub(r"\s+", " ", "\n".join(parts))


@cache
def _read_aloud(folder: Path) -> dict[str, str]:
    """Every file that holds words, without drawings and markup; the PDF has those of the page."""
    out = {}
    for path in sorted(p for p in folder.rglob("*") if p.is_file() and p.suffix not in (".png", ".pdf")):
        text = re.sub(r"data:image/[^\"')]+", "", texts(path))
        if path.suffix in (".html", ".docx", ".svg"):
            text = re.sub(r"<style.*?</style>", " ", text, flags=re.S)
            named = " ".join(re.findall(r'(?:aria-label|alt|descr|title)="([^"]*)"', text))
            text = re.sub(r"<[^>]+>", "", re.sub(r"</(?:td|th|p|li|text|w:p)>", "\n", text)) + "\n" + named
        out[str(path.relative_to(folder))] = text
    return out


def read_aloud(case: Case) -> dict[str, str]:
    return _read_aloud(case.out)


def findings(case: Case) -> dict[str, Any]:
    return json.loads((case.out / "findings.json").read_text("utf-8"))


def values(part: Any) -> list[Any]:
    """Every single value of a JSON part, and its keys."""
    if isinstance(part, dict):
        return [*part, *(v for one in part.values() for v in values(one))]
    if isinstance(part, list):
        return [v for one in part for v in values(one)]
    return [part]


def cells(case: Case) -> list[Any]:
    out = values(findings(case))
    for path in sorted(case.out.rglob("*.csv")):
        out += [v for row in csv.reader(io.StringIO(path.read_text("utf-8"))) for v in row]
    return out


def tables(part: Any) -> list[tuple[list[str], list[list[Any]]]]:
    if isinstance(part, dict):
        if {"columns", "rows"} <= set(part):
            return [(part["columns"], part["rows"])]
        return [t for one in part.values() for t in tables(one)]
    return [t for one in part for t in tables(one)] if isinstance(part, list) else []


def count_cells(case: Case) -> list[tuple[str, float]]:
    """Every count of people in findings.json and the CSV files, with where it stands."""
    held = findings(case)
    out: list[tuple[str, Any]] = [
        (k, n["value"]) for k, n in held["numbers"].items() if n["unit"] == "people"
    ]
    out += [(f"{k} of", n["n"]) for k, n in held["numbers"].items() if n["of"] == "people"]
    out += [("gate", held["gate"]["n_people"]), *((f["engine"], f["n_people"]) for f in held["fits"])]
    out += [("effect", e["n_people"]) for f in held["fits"] for e in f["effects"]]
    found = tables(held)
    for path in sorted(case.out.rglob("*.csv")):
        head, *rows = csv.reader(io.StringIO(path.read_text("utf-8")))
        found.append((head, [[float(v) if re.fullmatch(r"-?[\d.]+", v) else v for v in r] for r in rows]))
    for columns, rows in found:
        at = [i for i, c in enumerate(columns) if "people" in c or c == "n_compared"]
        out += [(columns[i], r[i]) for r in rows for i in at]
        for r in rows:
            if isinstance(r[0], str) and re.match(r"(informative_)?people\b", r[0]) and "value" in columns:
                out.append((r[0], r[columns.index("value")]))
    return [(where, v) for where, v in out if isinstance(v, int | float)]


@pytest.mark.parametrize("name", ["numeric", "few", "consented"])
def test_no_code_of_a_person_is_in_any_file(name, request):
    case = request.getfixturevalue(name)
    assert not {v for v in cells(case) if isinstance(v, str)} & set(case.codes)
    codes = re.compile("|".join(rf"(?<![\w.]){re.escape(c)}(?![\w.])" for c in case.codes if c != "12"))
    pdf = {"pdf": _pdf(case.out / "case-series.pdf")} if case.sheets else {}
    for name, text in (read_aloud(case) | pdf).items():
        assert not codes.search(text), name
        assert not re.search(r"without 12\b|\b12 lies\b", text), name


def test_no_count_is_of_one_to_four_people_and_no_difference_of_two_counts_is(case):
    counts = count_cells(case)
    assert len(counts) > 40
    assert [(where, v) for where, v in counts if v % 5] == []
    assert {v for _, v in counts} >= {10}


def test_no_sentence_table_or_alt_text_counts_few_people(case):
    said = 0
    for name, text in read_aloud(case).items():
        plain = text.replace("\u00a0", "")
        for found in re.finditer(
            r"(?<![\d.])(\d+)(?: of (\d+))? (?:informative )?(?:people|persons?)(?![-\w])", plain
        ):
            counted = [int(v) for v in found.groups() if v]
            assert not [v for v in counted if v % 5], (name, plain[found.start() - 60 : found.end() + 20])
            said += 1
    assert said > 10
    columns: list[int] = []
    checked = 0
    for line in read_aloud(case)["case-series.md"].splitlines():
        row = [c.strip() for c in line.strip("|").split("|")] if line.startswith("| ") else []
        if any(c.startswith("People") for c in row):
            columns = [i for i, c in enumerate(row) if c.startswith("People")]
        elif not line.startswith("|"):
            columns = []
        elif row:
            for i in columns:
                start = re.match(r"(\d+)(?: of (\d+))?", row[i])
                assert start is None or not [v for v in start.groups() if v and int(v) % 5], line
                checked += start is not None
    assert checked > 10


TELLING = (
    re.compile(
        r"(?<![\d.,\u2212-])(\d+) (?!(?:points?|hours?|weeks?|steps?|days?|ratings?|rows?|sessions?|sets?) )(?:[a-z'’]+ ){0,3}"
        r"(?:people|persons?|participants?|individuals?)\b(?![-'’&])"
    ),
    re.compile(r"\b(?:people|persons|participants|n_people)\b(?:[:=] ?|\"?: | \()(\d+)\b(?![.,]\d)"),
    re.compile(r"\b(?:all|of the|the other|the remaining) (\d+) (?:people|persons|who|of them)\b"),
    re.compile(
        r"\b(two|three|four|six|seven|eight|nine|eleven|twelve|thirteen) (?:[a-z]+ )?(?:people|persons)\b(?! alike)"
    ),
)
LEAKS = (
    "17 people", "17 recorded people", "17 of the other people", "people: 17", "people (17)", "n_people=17", '"n_people": 17', "all 17 of them",
    "seven people", "seven other people", "17 individuals",
)  # fmt: skip


def leaks(text: str) -> list[str]:
    """Places where a text counts people exactly."""
    plain = re.sub(r"(?<=\d) (?=\d{3}\b)", "", text.replace("\u00a0", " ")).lower()
    found = [m for pattern in TELLING for m in pattern.finditer(plain)]
    return [
        plain[max(0, m.start() - 60) : m.end() + 20] for m in found if not m[1].isdigit() or int(m[1]) % 5
    ]


def test_people_are_counted_exactly_in_no_other_words_either(case):
    assert [text for text in LEAKS if not leaks(text)] == []
    for name, text in read_aloud(case).items():
        assert leaks(text) == [], name
    for text in (v for v in values(findings(case)) if isinstance(v, str)):
        assert leaks(text) == []


def test_nothing_that_is_one_persons_own_value_is_in_any_cell(case):
    def exact(v: Any) -> bool:
        """A number that only one record gives: no ratio of small counts, which others share by chance."""
        return isinstance(v, float) and all(abs(v * m - round(v * m)) > 1e-9 for m in range(1, 400))

    private = case.private
    own = {v for p in private.people for v in (*p.pain, *p.load, *p.jump) if exact(v)}
    for table in [
        private.tables["people"],
        *(t for f in private.fits for k, t in f.tables.items() if k == "people"),
    ]:
        own |= {v for row in table.rows for v in row if exact(v)}
    assert len(own) > 100
    told = {v for v in cells(case) if exact(v)} | {
        float(v) for v in cells(case) if isinstance(v, str) and re.fullmatch(r"-?\d+\.\d{9,}", v)
    }
    both = sorted(own & told)
    assert both == []
    for name, ends in (("missing", ("lowest_share", "highest_share")), ("cohort", ("low", "high"))):
        held = findings(case)["tables"][name]
        assert {r[held["columns"].index(k)] for r in held["rows"] for k in ends} == {None}


def test_no_file_has_a_row_or_a_curve_per_person(case):
    names = {p.relative_to(case.out).as_posix() for p in case.out.rglob("*")}
    assert not [
        n for n in names if re.search(r"trajector|coverage|slopes|leave-one|panel|quarantine|posterior", n)
    ]
    held = findings(case)
    assert held["people"] == []
    assert not [c for c, _ in tables(held) if "person" in c]
    assert "remarks" not in held["tables"]
    assert held["numbers"]["longest"]["value"] is None


def test_the_picture_of_the_answer_shows_bands_of_enough_people_and_no_single_step(numeric):
    private, told = numeric.private, Findings.read(numeric.out / "findings.json")
    assert len(private.tables["answer_steps"]) > 50 and "answer_steps" not in told.tables
    drawn = pd.read_csv(numeric.out / "figures" / "answer.csv")
    bands, line = (drawn[drawn["what"] == what] for what in ("band", "line"))
    assert len(bands) >= 3 and set(drawn["what"]) == {"band", "line"}
    assert bands["n_people"].ge(5).all() and bands["n_people"].mod(5).eq(0).all()
    exact = {round(v, 9) for t in ("bands", "curve") for r in private.tables[f"answer_{t}"].records() for v in
             (r["x"], r["outcome"])}  # fmt: skip
    assert not exact & {round(v, 9) for v in [*drawn["x"], *drawn["outcome"]]} - {0.0, 100.0}
    dose = next(f for f in told.fits if f.engine == "dose").tables["dose"].records()
    level = next(r["level"] for r in told.tables["answer_levels"].records() if r["term"] == "jump")
    away = {100 + r["percent"]: round(level + r["estimate"], 6) for r in dose}
    assert dict(zip(line["x"], line["outcome"], strict=True)) == away | {100: level}


def test_months_and_losses_are_of_enough_people(case):
    for name in {"calendar", "flow"} & set(case.private.tables):
        held = findings(case)["tables"][name]
        rows = [dict(zip(held["columns"], r, strict=True)) for r in held["rows"]]
        people = [r.get(k) for r in rows for k in ("n_people", "n_people_rated", "left_people")]
        assert rows and all(n is None or n % 5 == 0 for n in people)
    dates = {d for p in case.private.people for d in [p.began]}
    told = json.dumps(findings(case))
    assert dates and not [d for d in dates if d in told]


def test_totals_do_not_give_a_group_or_a_kind_of_event_back(case):
    held = findings(case)["tables"]
    truth = pd.DataFrame(case.private.tables["groups"].records())
    assert truth["n_people"].between(1, 4).any()
    named = {(r[0], r[1]) for r in held["groups"]["rows"]}
    hidden = truth[[(r.variable, r.value) not in named for r in truth.itertuples()]]
    by = hidden.groupby("variable")["n_people"]
    assert by.size().ge(2).all()
    assert by.sum().ge(5).all()
    assert {r[held["groups"]["columns"].index("share")] for r in held["groups"]["rows"]} == {None}
    kinds = pd.DataFrame(case.private.tables["events"].records())
    gone = kinds[~kinds["kind"].isin([r[0] for r in held.get("events", {"rows": []})["rows"]])]
    assert kinds["n_people"].between(1, 4).any()
    assert len(gone) >= 2
    assert gone["n_people"].sum() >= 5


def test_ratings_by_few_people_cannot_be_worked_out(case):
    held = findings(case)["tables"]["ratings"]
    shown = pd.DataFrame(held["rows"], columns=held["columns"])
    truth = pd.DataFrame(case.private.tables["ratings"].records())
    left = truth.merge(shown[["variable", "value"]], how="left", indicator=True).query(
        "_merge == 'left_only'"
    )
    used = left[left["n_people"] > 0].groupby("variable")["n_people"]
    kept = used.size().reindex(shown["variable"].unique()).dropna()
    assert (truth["n_people"].between(1, 4)).any()
    assert kept.ge(2).all()
    assert used.sum().reindex(kept.index).ge(5).all()
    dropped = set(zip(left["variable"], left["value"], strict=True))
    rated = truth.set_index(["variable", "value"])["n_people"]
    for row in shown.to_dict("records"):
        beside = {(row["variable"], row["value"] + 1), (row["variable"], row["value"] - 1)} & {
            k for k in dropped if rated[k] > 0
        }
        assert not beside or pd.isna(row["neighbours_share"])


def test_missing_values_are_not_told_of_few_people(few):
    truth = {r["variable"]: r for r in few.private.tables["missing"].records()}
    assert truth["worry"]["n_people_any"] == 2
    assert truth["stress"]["n_people_any"] == 11
    held = findings(few)["tables"]["missing"]
    shown = {r[0]: dict(zip(held["columns"], r, strict=True)) for r in held["rows"]}
    assert "worry" not in shown
    assert (shown["stress"]["n_people"], shown["stress"]["n_people_any"]) == (10, 10)
    compared = [v for v, r in truth.items() if 0 < r["n_compared"] < 5 and v in shown]
    assert compared
    for variable in compared:
        assert [shown[variable][k] for k in ("after_missing", "low", "high", "n_compared")] == [None] * 4


def test_one_persons_flare_ups_are_not_counted(few):
    assert few.private.count("flare_people") == 1
    onsets = few.private.count("flare_onsets")
    assert onsets >= 1
    held = findings(few)
    assert [held["numbers"][k]["value"] for k in ("flare_onsets", "flare_people", "flares_reported")] == [
        None
    ] * 3
    assert [f["tables"] for f in held["fits"] if f["engine"] == "flare"] == [{}]
    for name, text in read_aloud(few).items():
        assert not re.search(r"(?<![\d.])(?!0 |10 )\d+ (?:flare onsets?|flare-ups?)\b", text), name
    assert "flare-ups, not counted here, began in fewer than 5 people" in read_aloud(few)["case-series.md"]


def test_rows_of_the_people_table_do_not_count_the_people(case):
    held = findings(case)
    assert "people" not in [r[0] for r in held["tables"]["counts"]["rows"]]
    at = held["tables"]["counts"]["columns"].index("read")
    assert held["numbers"]["rows_read"]["value"] == sum(r[at] for r in held["tables"]["counts"]["rows"])


def test_consent_shows_courses_under_new_names_and_nothing_else_of_few_people(consented, numeric):
    held = findings(consented)
    assert (consented.out / "figures" / "trajectories.csv").exists()
    assert not (numeric.out / "figures" / "trajectories.csv").exists()
    assert [p["person"] for p in held["people"]] == [f"person {i:02d}" for i in range(1, 13)]
    assert "people" not in held["tables"]
    assert all(r[2] is None or r[2] % 5 == 0 for r in held["tables"]["groups"]["rows"])
    rates = [(where, v) for where, v in count_cells(consented) if 0 < v < 5]
    assert rates == []
    order = {tuple(p.pain): p.person for p in consented.private.people}
    shown = [order[tuple(p["pain"])] for p in held["people"]]
    assert shown != sorted(shown)


def test_fewer_than_five_people_are_not_shared_without_their_consent(tmp_path):
    codes = ["007", "12", "0815", "4"]
    saved(tmp_path / "case", folder(tmp_path / "case", codes))
    with pytest.raises(WriteUpError, match="fewer than 5 people"):
        report(tmp_path / "case", tmp_path / "out", quick=True, share=True)
    assert not (tmp_path / "out").exists()
    shutil.rmtree(tmp_path / "case")
    case = run(tmp_path / "case", codes, folder(tmp_path / "case", codes, consent=True), fitted=False)
    assert len(findings(case)["people"]) == 4


def test_every_number_in_a_table_of_the_folder_stands_in_the_findings(numeric):
    """Figures are drawn from these tables alone, so that no coordinate tells more than the findings do."""
    held = {float(v) for v in values(findings(numeric)) if isinstance(v, int | float)}
    seen = 0
    for path in sorted(numeric.out.rglob("*.csv")):
        for row in csv.reader(io.StringIO(path.read_text("utf-8"))):
            told = [float(v) for v in row if re.fullmatch(r"-?\d+(\.\d+)?(e-?\d+)?", v)]
            assert not [v for v in told if v not in held], path.name
            seen += len(told)
    assert seen > 100
    assert {p.stem for p in numeric.out.rglob("*.svg")} == {
        p.stem for p in (numeric.out / "figures").glob("*.csv")
    }
