"""The browser that other tests drive is a real one; without it they fail and say what to install."""

import browser
import pytest


def test_it_opens_a_page_and_runs_its_script(opened, tmp_path):
    page_file = tmp_path / "page.html"
    page_file.write_text(
        "<title>before</title><script>document.title = 'after ' + (6 * 7)</script>", encoding="utf-8"
    )
    with browser.page_or_picture(opened, "browser") as page:
        page.goto(page_file.as_uri())
        assert page.title() == "after 42"


def test_a_failure_leaves_a_picture(opened, tmp_path, monkeypatch):
    monkeypatch.setattr(browser, "ARTEFACTS", tmp_path / "artefacts")
    with (
        pytest.raises(ValueError, match="of the test"),
        browser.page_or_picture(opened, "failed"),
    ):
        raise ValueError("of the test")
    assert (tmp_path / "artefacts" / "failed.png").read_bytes().startswith(b"\x89PNG")


def test_where_there_is_none_the_test_fails_with_the_mend(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(pytest.fail.Exception, match="apt-get install --no-install-recommends chromium"):
        browser.chromium()
