"""A page of HTML read for tests: fails on tags that do not nest."""

from html.parser import HTMLParser

VOID = {"br", "hr", "img", "meta", "link", "input"}


class Page(HTMLParser):
    """Tags with their attributes, and the words that are neither style nor script."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open.pop() == tag

    def handle_data(self, data):
        if self.open[-1:] not in (["style"], ["script"]):
            self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split()).replace("\u00a0", " ")
