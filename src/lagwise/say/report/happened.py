"""What happened: turns for the worse, everybody's course and the events that were entered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from lagwise.core.numbers import fixed, people_said, plural, whole
from lagwise.core.words import capital
from lagwise.document.tree import Block, Figure, Grid, Heading, Para, Span, folded, grids, link, para
from lagwise.findings import Findings, PictureFacts, rows_of
from lagwise.say.report.figures_people import panelled
from lagwise.say.report.varying import varying
from lagwise.say.report.wording import begun, count_of
from lagwise.say.report.words import Words


def _people_grid(findings: Findings, words: Words) -> list[Grid]:
    """Each person's record in one row, with what of it there is."""
    load, word, name = words.has_load, words.own_word, words.outcome.name
    columns: list[tuple[str, Callable[[Mapping[str, Any]], str], bool]] = [
        (words.steps.capitalize(), lambda r: whole(r["steps"]), True),
        ("In the main question", lambda r: whole(r["complete"]), not findings.described),
        ("Trained", lambda r: whole(r["trained"]), findings.described and load),
        ("Rest", lambda r: whole(r["rest"]), findings.described and load),
        (f"With {words.asked} rated", lambda r: whole(r.get(f"{name}_steps")), words.rated),
        (
            f"Mean {words.asked} (SD)",
            lambda r: f"{_fine(r, 'mean', words)} ({_fine(r, 'sd', words)})",
            words.rated,
        ),
        (
            f"Range of {words.asked}",
            lambda r: f"{_fine(r, 'lowest', words)} to {_fine(r, 'highest', words)}",
            words.rated,
        ),
        ("Mean load", lambda r: fixed(r["mean_load"], 1), load),
        (f"{capital(words.turns)} {words.by}", lambda r: whole(r["flare_onsets"]), words.rated),
        (f"{words.steps.capitalize()} called a flare-up", lambda r: whole(r["flares_reported"]), word),
    ]
    shown = [(head, cell) for head, cell, there in columns if there]
    rows = [(str(r["person"]), *(cell(r) for _, cell in shown)) for r in rows_of(findings, "people")]
    units = f"{capital(words.asked)} in {words.unit}, {words.question.span}. " if words.rated else ""
    return grids(
        "each-person",
        "Each person's record in one row",
        ("Person", *(head for head, _ in shown)),
        rows,
        numeric=tuple(range(1, 1 + len(shown))),
        note=f"{units}These rows are personal data, whatever the code, and rank nobody.",
    )


def _fine(record: Mapping[str, Any], what: str, words: Words) -> str:
    return fixed(record.get(f"{what}_{words.outcome.name}"), words.outcome.places - 1)


def happened(findings: Findings, words: Words, pictures: Mapping[str, PictureFacts]) -> tuple[Block, ...]:
    """Turns for the worse, counted; in a private version everybody's course, each record in a row and how far
    people differ.
    """
    pages = [n for n in pictures if n.startswith("trajectories")]
    blocks: list[Block] = [Heading(2, words.courses)]
    if words.rated:
        blocks.append(para(f"{capital(words.by)}, {begun(findings)}.", role="finding"))
    if "pain-map" in pictures:
        blocks += _everybody(pictures, pages, words)
    more: list[Block] = []
    if pages and "pain-map" not in pictures:
        several = "Each panel is one person under their code, on the same scales."
        caption = several if len(findings.people) > 1 else "One person, under their code."
        if len(findings.people) > 1:
            blocks.append(_go_to(pictures, pages))
        more += [Heading(3, "Each person's panel", "panels")]
        more += [Figure(n, caption, pictures[n].alt) for n in pages]
    if "pain-map" not in pictures and (rows := _people_grid(findings, words)):
        more += [Heading(3, "Each person's record in one row", "each-person-record"), *rows]
    counted = [] if not words.rated else [_turned(findings, words)]
    own = _own_word(findings, words) if words.rated or words.own_word else ""
    told = [*counted, *([own] if own else [])]
    if told:
        more += [Heading(3, f"How {words.turns} were counted", "counted"), *map(para, told)]
    blocks += folded([*more, *varying(findings, words, pictures)])
    if not pages:
        blocks.append(para("Pictures of single people are left out of this version.", role="note"))
    return tuple(blocks)


def _go_to(pictures: Mapping[str, PictureFacts], pages: Sequence[str]) -> Para:
    """A link to each person's panel."""
    links: list[str | Span] = []
    for name in pages:
        for at, person in enumerate(dict.fromkeys(map(str, pictures[name].data.column("person")))):
            links += [link(person, f"{name}-panel-{at}"), " "]
    return para("Go to one person: ", *links[:-1], role="screen")


def _turned(findings: Findings, words: Words) -> str:
    """What counts as one, and in how many steps one could be seen to begin."""
    return (
        f"{capital(words.by)}, a {words.turn} is {words.turned} after a {words.step} {words.before} that "
        f"mark. {capital(_at_risk(findings, words))}."
    )


def _everybody(pictures: Mapping[str, PictureFacts], pages: list[str], words: Words) -> list[Block]:
    """The ratings of more people than panels can be read of, and where the panels are."""
    shown, people = len(panelled(words.findings)), len(words.findings.people)
    what = f"each person's {words.asked} and load"
    if shown < people:
        what = f"{words.asked} and load of {shown} of the {people} people, taken evenly through the codes,"
    return [
        Figure(
            "pain-map",
            f"Every person's {words.asked}, one row each; white is no rating.",
            pictures["pain-map"].alt,
        ),
        para(
            f"A panel of {what} is in the folder figures, files "
            f"{pages[0]} to {pages[-1]}. Each person's record in one row is in each-person.csv. "
            "They are personal data as this document is."
        ),
    ]


def _at_risk(findings: Findings, words: Words) -> str:
    """How many steps could show an onset: at risk, and rated in the next step; those without the rating are
    counted apart.
    """
    told, untold = findings.number("at_risk_steps"), findings.number("at_risk_untold")
    said = (
        f"{plural(told, f'person-{words.step} was', f'person-{words.steps} were')} at risk and rated "
        f"{words.on} the next {words.step}"
    )
    if not untold:
        return said
    return f"{said}. After {plural(untold, 'more', 'more')} at risk no rating tells whether one began"


def _own_word(findings: Findings, words: Words) -> str:
    if not words.of_pain:
        return ""
    told = findings.numbers["flares_reported"]
    if not told.n:
        return "Whether people themselves spoke of a flare-up was not recorded."
    if told.value is None:
        return (
            f"By their own word, {people_said(None)} called a {words.step} a flare-up; how many "
            f"{words.steps} is not told here."
        )
    return (
        f"By their own word, people called {count_of(told, f'person-{words.steps}')} with an answer a "
        "flare-up. The two are kept apart; "
        f"they are not the same thing."
    )
