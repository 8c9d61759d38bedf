"""Nothing leaves the machine, and what is made for sharing shows no single person."""

from __future__ import annotations

import io
import json
import socket
import subprocess
import sys
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from lagwise import synthetic
from lagwise.writeup.share import FEWEST_SHOWN

WITHOUT_SOCKETS = """
import socket, sys

class Closed(socket.socket):
    def __init__(self, *args, **kwargs):
        raise AssertionError("a socket was asked for")

def closed(*args, **kwargs):
    raise AssertionError("the network was asked for")

socket.socket = socket.SocketType = Closed
for name in ("create_connection", "create_server", "getaddrinfo", "gethostbyname", "gethostbyaddr", "socketpair"):
    setattr(socket, name, closed)

from lagwise.cli import app

for command in sys.argv[1:]:
    try:
        app(command.split("|"))
    except SystemExit as end:
        if end.code:
            raise
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The synthetic clinic with a level of sex, and one of region, that fewer people have than may be shown."""
    root = synthetic.write("clinic", tmp_path_factory.mktemp("caseload") / "clinic", seed=1)
    people = pd.read_csv(root / "people.csv", dtype=str)
    people.loc[:1, "sex"] = "not said"
    people.loc[:2, "region"] = "wrist"
    people.to_csv(root / "people.csv", index=False)
    return root


@pytest.fixture(scope="module")
def offline(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Everything the command line makes of the caseload, made in a process whose sockets are closed."""
    out = tmp_path_factory.mktemp("out")
    commands = [
        f"check|{folder}|--html|{out / 'check.html'}",
        f"deidentify|{folder}|--out|{out / 'coded'}",
        f"report|{folder}|--out|{out / 'shared'}|--quick|--share",
        f"write|{out / 'shared' / 'findings.json'}|--out|{out / 'again'}",
    ]
    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_SOCKETS, *commands], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    return out


def texts(path: Path) -> str:
    """Everything readable in a file: its bytes as text, a document's parts unpacked."""
    data = path.read_bytes()
    if path.suffix != ".docx":
        return data.decode("utf-8", errors="replace")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return "\n".join(archive.read(name).decode("utf-8", errors="replace") for name in archive.namelist())


def test_sockets_are_closed_in_that_process() -> None:
    asks = WITHOUT_SOCKETS.split("from lagwise")[0] + "socket.create_connection(('127.0.0.1', 9))"
    done = subprocess.run([sys.executable, "-c", asks], capture_output=True, text=True, check=False)
    assert "the network was asked for" in done.stderr
    assert socket.socket.__module__ == "socket"


def test_check_deidentify_report_and_write_need_no_network(offline: Path) -> None:
    for name in ("check.html", "coded/study.toml", "shared/case-series.html", "again/case-series.html"):
        assert (offline / name).stat().st_size > 0


@pytest.mark.parametrize("name", ["check.html", "shared/case-series.html"])
def test_pages_fetch_nothing(offline: Path, name: str) -> None:
    page = (offline / name).read_text("utf-8")
    assert "<script" not in page
    assert not [mark for mark in ('src="http', "src='http", "url(http", "@import", "<link") if mark in page]


def test_a_shared_report_holds_no_code_of_a_person(folder: Path, offline: Path) -> None:
    codes = set(pd.read_csv(folder / "people.csv", dtype=str)["person"])
    assert len(codes) == 40
    assert all(code in (offline / "check.html").read_text("utf-8") for code in codes)
    files = [path for path in (offline / "shared").rglob("*") if path.is_file()]
    assert {"case-series.html", "case-series.docx", "case-series.pdf", "case-series.md", "findings.json"} <= {
        p.name for p in files
    }
    assert not {"panel.csv", "quarantine.csv", "posterior.nc"} & {p.name for p in files}
    for path in files:
        text = texts(path)
        assert not [code for code in codes if code in text], path.name


def counted(offline: Path, name: str) -> pd.DataFrame:
    held = json.loads((offline / "shared" / "findings.json").read_text("utf-8"))["tables"][name]
    return pd.DataFrame(held["rows"], columns=held["columns"])


def test_a_shared_report_shows_no_small_cell(offline: Path) -> None:
    groups = counted(offline, "groups")
    assert not groups["value"].isin(["not said", "wrist"]).any()
    assert groups["share"].isna().all()
    assert groups["n_people"].ge(FEWEST_SHOWN).all()
    used = counted(offline, "ratings")
    assert used["n_people"].ge(FEWEST_SHOWN).all()
    assert used["n_people_only"].isna().all()
    assert len(used) > 20
    assert counted(offline, "events")["n_people"].ge(FEWEST_SHOWN).all()


def test_a_hidden_cell_cannot_be_worked_out_from_the_others(folder: Path, offline: Path) -> None:
    groups = counted(offline, "groups")
    people = pd.read_csv(folder / "people.csv", dtype=str)
    hidden = {}
    for variable, shown in groups.groupby("variable"):
        counts = people[variable].value_counts()
        hidden[variable] = counts[~counts.index.isin(shown["value"])]
    assert sorted(k for k, v in hidden.items() if len(v)) == ["age_band", "region", "sex"]
    assert all(len(v) >= 2 and v.sum() >= FEWEST_SHOWN for v in hidden.values() if len(v))
    assert groups["n_people"].mod(5).eq(0).all()


def test_a_coded_copy_holds_no_former_code(folder: Path, offline: Path) -> None:
    codes = set(pd.read_csv(folder / "people.csv", dtype=str)["person"])
    for path in (offline / "coded").rglob("*"):
        if path.is_file():
            assert not [code for code in codes if code in texts(path)], path.name


def test_a_shared_report_shows_no_range_of_single_people(offline: Path) -> None:
    findings = json.loads((offline / "shared" / "findings.json").read_text("utf-8"))
    table = findings["tables"]["cohort"]
    ends = [table["columns"].index(name) for name in ("low", "high")]
    assert table["rows"]
    assert all(row[i] is None for row in table["rows"] for i in ends)
