"""Generated pages of the docs are up to date."""

import importlib.util
from pathlib import Path

DOCS = Path(__file__).parents[1] / "docs"


def build_script():
    spec = importlib.util.spec_from_file_location("docs_build", DOCS / "build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_of_the_effect_table_is_made_from_its_schema():
    assert (DOCS / "effects.md").read_text("utf-8") == build_script().effects_page()


def test_links_between_pages_lead_somewhere():
    import re

    pages = [DOCS.parent / "README.md", DOCS.parent / "DEVELOPERS.md", *DOCS.glob("*.md")]
    for page in pages:
        for target in re.findall(r"\]\(([^)#]+)\)", page.read_text("utf-8")):
            assert "://" in target or (page.parent / target).exists(), f"{page.name}: {target}"
