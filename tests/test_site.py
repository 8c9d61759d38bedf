"""The site of the docs: built once, read as files, and opened from its folder in a browser."""

import re
import subprocess
import sys
import tomllib
from html.parser import HTMLParser
from importlib.metadata import packages_distributions
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from typer.main import get_command

import lagwise as lw
from lagwise.cli import app

ROOT = Path(__file__).parents[1]
PAGES = """index start gallery commands python DEVELOPERS docs/spreadsheets docs/data-format docs/reading-the-results
    docs/glossary docs/methods docs/what-followed docs/challenges docs/planning docs/privacy docs/what-changed"""
LOADS = {"script": "src", "link": "href", "img": "src", "iframe": "src", "source": "src", "object": "data"}


class Read(HTMLParser):
    """What a page loads, where it leads, what can be led to, and the formulas it shows."""

    def __init__(self, page: Path) -> None:
        super().__init__()
        self.loads, self.leads, self.ids, self.formulas = [], [], {"", "top"}, 0
        self.feed(page.read_text("utf-8"))

    def handle_starttag(self, tag, attrs):
        given = dict(attrs)
        self.ids.add(given.get("id"))
        self.loads += [given[LOADS[tag]]] if LOADS.get(tag) in given else []
        self.leads += [given["href"]] if tag == "a" and given.get("href") else []
        self.formulas += tag == "math"


@pytest.fixture(scope="module")
def site(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("docs") / "site"
    done = subprocess.run(
        [sys.executable, ROOT / "docs" / "site" / "build.py", out],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return out


@pytest.fixture(scope="module")
def read(site) -> dict[Path, Read]:
    return {page: Read(page) for page in site.rglob("*.html")}


def test_what_the_site_needs_is_declared():
    extra = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    declared, core = (
        {re.match(r"[\w-]+", line)[0] for line in lines}
        for lines in (extra["optional-dependencies"]["docs"], extra["dependencies"])
    )
    files = list((ROOT / "docs" / "site").glob("*.py"))
    code = "\n".join(file.read_text("utf-8") for file in files)
    own = {file.stem for file in files} | {"lagwise"} | sys.stdlib_module_names
    homes = packages_distributions()
    imported = set(re.findall(r"^(?:from|import) (\w+)", code, re.MULTILINE)) - own
    named = {*imported, *re.findall(r'"(furo|myst_nb)"', code)}
    assert {homes[name][0].lower() for name in named} - core == declared


def test_every_page_and_every_notebook_is_there(site):
    notebooks = [p.relative_to(ROOT).with_suffix("") for p in (ROOT / "notebooks").rglob("*.ipynb")]
    docs = [p.relative_to(ROOT).with_suffix("") for p in (ROOT / "docs").glob("*.md")]
    missing = [str(p) for p in [*PAGES.split(), *notebooks, *docs] if not (site / f"{p}.html").exists()]
    assert not missing and len(notebooks) > 20


def test_nothing_is_asked_of_the_network(site, read):
    outside = [(page.name, at) for page, told in read.items() for at in told.loads if "//" in at]
    asks = re.compile(
        r"(?:url\(|@import|fetch\(|import\(|importScripts\(|open\(|\bsrc\s*=)\s*['\"`]?((?:https?:)?//[^'\"`)]*)"
    )
    for file in [*site.rglob("*.css"), *site.rglob("*.js"), *read]:
        text = file.read_text("utf-8")
        inside = re.findall(r"<(style|script)\b[^>]*>(.*?)</\1>", text, re.DOTALL)
        texts = [part for _, part in inside] if file in read else [text]
        outside += [(file.name, at) for part in texts for at in asks.findall(part)]
    assert not outside


def test_links_and_anchors_lead_somewhere(read):
    lost, followed = [], 0
    for page, told in read.items():
        for link in told.leads + told.loads:
            to = urlsplit(link)
            if to.scheme in ("http", "https", "data"):
                continue
            target = (page.parent / unquote(to.path)).resolve() if to.path else page
            known = read[target].ids if target in read else {""}
            followed += 1
            if not target.is_file() or (target in read and unquote(to.fragment) not in known):
                lost.append(f"{page.name}: {link}")
    assert not lost and followed > 1000


def test_all_calls_and_commands_are_described(site, read):
    commands = (site / "commands.html").read_text("utf-8")
    names = {f"lagwise.{name}" for name in lw.__all__ if not name.startswith("_")}
    anchors = read[site / "python.html"].ids | {f"lagwise.{m}" for m in ("synthetic", "exercises")}
    assert not names - anchors
    for name, command in get_command(app).commands.items():
        assert f"<h2>lagwise {name}<" in commands
        options = [option for p in command.params for option in p.opts if option.startswith("-")]
        assert not [option for option in options if option not in commands]


def test_pictures_lead_to_the_notebook_that_makes_them(site, read):
    shown = [link for link in read[site / "gallery.html"].leads if "#figure-" in link]
    assert len(shown) >= 20
    assert len(set(shown)) == len(shown)
    assert len(list((site / "_images").glob("figure-*.png"))) == len(shown)


def test_formulas_are_drawn_by_the_browser_itself(site, read):
    for name in ("methods", "what-followed"):
        written = (ROOT / "docs" / f"{name}.md").read_text("utf-8").count("$$") / 2
        assert written > 0 and read[site / "docs" / f"{name}.html"].formulas == written


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_works_from_its_folder_on_a_phone(opened, site, scheme):
    context = opened.new_context(viewport={"width": 390, "height": 800}, color_scheme=scheme)
    page, asked = context.new_page(), []
    page.on("request", lambda request: asked.append(request.url))
    page.on("pageerror", lambda error: asked.append(str(error)))
    wide = {}
    notebooks = ("notebooks/03_describe_the_caseload", "notebooks/04_mixed_models")
    for name in (*PAGES.split(), *notebooks) if scheme == "light" else ("gallery",):
        page.goto((site / f"{name}.html").as_uri())
        wide[name] = page.evaluate("document.documentElement.scrollWidth")
    dark = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.goto((site / "search.html").as_uri() + "?q=quarantine")
    page.wait_for_selector("ul.search li a")
    assert max(wide.values()) <= 390, wide
    assert (dark != "rgb(255, 255, 255)") == (scheme == "dark")
    assert not [at for at in asked if not at.startswith(("file:", "data:"))]
    context.close()
