"""Checking again on saving, and text to copy that no terminal breaks."""

from lagwise.cli.watching import saved
from lagwise.document.html import render_html
from lagwise.document.terminal import print_blocks
from lagwise.document.tree import Document
from lagwise.pages.check_needs import lines


def test_a_folder_is_looked_at_at_once_and_again_when_a_file_is_saved_added_or_removed(tmp_path):
    plan = tmp_path / "study.toml"
    plan.write_text("one")
    looks = saved(tmp_path, pause=0.001)
    assert next(looks) is False
    for change in (
        lambda: plan.write_text("other"),
        lambda: (tmp_path / "a.csv").write_text("x"),
        plan.unlink,
    ):
        change()
        assert next(looks) is True


def test_edits_are_never_broken(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    text = f'[tables.checkins.columns]\npain = "{"How strong was your pain " * 8}"'
    print_blocks(lines(text))
    assert [line.strip() for line in capsys.readouterr().out.strip().split("\n")] == text.split("\n")
    escaped = text.replace('"', "&#34;")
    assert f'<pre tabindex="0">{escaped}\n\n[load]' in render_html(
        Document("x", (lines(f"{text}\n\n[load]"),)), {}
    )
    assert f'<pre tabindex="0">{escaped}' in render_html(Document("x", (lines(text),)), {})
