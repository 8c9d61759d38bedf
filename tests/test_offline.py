"""Nothing leaves the machine, and what is made for sharing shows no single person."""

import io
import re
import socket
import subprocess
import sys
import zipfile
from pathlib import Path

import pandas as pd
import pytest

from lagwise import synthetic

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
    """Ten of the synthetic clinic in 12 weeks, a level of sex, and one of region, of fewer than may be shown."""
    root = synthetic.write("clinic", tmp_path_factory.mktemp("caseload") / "clinic", seed=1)
    people = pd.read_csv(root / "people.csv", dtype=str).head(10)
    for name in ("sessions", "checkins", "events"):
        rows = pd.read_csv(root / f"{name}.csv", dtype=str)
        kept = rows["person"].isin(people["person"]) & (rows["date"] < "2024-03-25")
        rows[kept].to_csv(root / f"{name}.csv", index=False)
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
    (script,) = re.findall(r"<script[^>]*>(.*?)</script>", page, re.DOTALL)  # the page's own
    assert not re.search(r"\b(fetch|import|XMLHttpRequest|WebSocket|sendBeacon|eval)\b", script)
    assert not [mark for mark in ('src="http', "src='http", "url(http", "@import", "<link") if mark in page]


def test_a_coded_copy_holds_no_former_code(folder: Path, offline: Path) -> None:
    codes = set(pd.read_csv(folder / "people.csv", dtype=str)["person"])
    for path in (offline / "coded").rglob("*"):
        if path.is_file():
            assert not [code for code in codes if code in texts(path)], path.name
