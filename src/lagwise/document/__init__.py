"""One tree of what is shown, and what renders it: a page, a notebook card, Markdown, the terminal."""
