"""The command line: parse, call, show. Everything heavy is imported inside the command that needs it."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from lagwise.cli import options as opt
from lagwise.cli.app import app, finish
from lagwise.cli.terminal import plain_errors, progress_bar, say, second_process
from lagwise.core.aside import cores
from lagwise.core.words import Spelling
from lagwise.say.commands import ARGUMENTS, LINES, STAGES


@app.command()
def demo(
    out: Annotated[Path, opt.option("out", of="demo")] = Path("lagwise-demo"),
    quick: opt.Quick = False,
    seed: opt.Seed = 1,
    debug: opt.Debug = False,
) -> None:
    """Analyse the synthetic clinic and write its case series to ./lagwise-demo."""
    with plain_errors(debug):
        from lagwise.output import temporary
        from lagwise.pages.report import report as run
        from lagwise.synthetic import write
        from lagwise.writeup.write import check_target

        check_target(out)
        with second_process(quick) as helper, temporary() as scratch, progress_bar() as tell:
            folder = write("clinic", scratch / "clinic", seed=1)
            result = run(folder, out, quick=quick, seed=seed, progress=tell, helper=helper)
        finish(result)


@app.command()
def check(
    folder: opt.Folder,
    html: Annotated[Path | None, opt.option("html")] = None,
    watch: Annotated[bool, opt.option("watch")] = False,
    debug: opt.Debug = False,
) -> None:
    """Read and check only: whether a report is possible, everything to mend with the edit, and what was read;
    also as check.html.
    """
    with plain_errors(debug):
        from lagwise.cli.watching import saved
        from lagwise.pages.check_file import check_page_place

        if html is not None:
            check_page_place(html, folder)
        if not watch:
            raise typer.Exit(0 if _checked(folder, html) else 1)
        for again in saved(folder):
            with plain_errors(debug, ends=False):
                if again and sys.stdout.isatty():
                    typer.echo("\033[2J\033[H", nl=False)
                _checked(folder, html)
            say(LINES["watching"])


def _checked(folder: Path, html: Path | None) -> bool:
    """Check once, print it and write the page; whether all is clean."""
    from lagwise.cli.show_check import print_check
    from lagwise.pages.check_file import write_page
    from lagwise.pages.check_page import check_page, checked

    found = checked(folder)
    print_check(found)
    say(write_page(check_page(found), html, folder))
    return found.clean


@app.command()
def report(
    folder: opt.Folder,
    out: Annotated[Path, opt.option("out", of="report")],
    quick: opt.Quick = False,
    seed: opt.Seed = 1,
    share: Annotated[bool, opt.option("share")] = False,
    paper: opt.PaperSize = opt.Paper.a4,
    workers: opt.Workers = None,
    cluster: opt.Cluster = None,
    spelling: Annotated[Spelling, opt.option("spelling")] = "british",
    for_person: opt.ForPerson = None,
    template: opt.Template = None,
    since: Annotated[Path | None, opt.option("since", metavar="OLD")] = None,
    debug: opt.Debug = False,
) -> None:
    """The whole way to the write-up."""
    with plain_errors(debug), second_process(quick) as helper:
        from lagwise.pages.report import report as run

        if cluster:
            say(LINES["report_cluster"].format(cluster=cluster), err=True)
        processes = workers or (1 if quick else cores())
        with progress_bar() as tell:
            result = run(
                folder,
                out,
                quick=quick,
                seed=seed,
                share=share,
                spelling=spelling,
                for_person=for_person or (),
                template=template,
                since=since,
                paper=paper.value,
                workers=processes,
                cluster=cluster,
                progress=tell,
                helper=helper,
            )
        finish(result)


@app.command()
def compare(
    new: Annotated[Path, typer.Argument(help=ARGUMENTS["new report"])],
    old: Annotated[Path, typer.Argument(help=ARGUMENTS["old report"])],
    out: Annotated[Path | None, opt.option("out", "-o", of="compare")] = None,
    debug: opt.Debug = False,
) -> None:
    """What came in, what changed and how the estimates moved between two reports of one study."""
    with plain_errors(debug):
        from lagwise.cli.show import print_since
        from lagwise.pages.since import place_beside, since

        target = place_beside(new, old, out)
        found = since(new, old)
        print_since(found)
        say(f"\nWritten: {found.write(target) / 'compare.html'}")


@app.command(cls=opt.Several)
def plan(
    people: Annotated[list[int], opt.option("people", metavar="N ...")],
    weeks: Annotated[list[int], opt.option("weeks", metavar="N ...")],
    effect: Annotated[list[float] | None, opt.option("effect", metavar="X ...")] = None,
    out: Annotated[Path | None, opt.option("out", of="plan")] = None,
    study: Annotated[Path | None, opt.option("study")] = None,
    caseloads: Annotated[int, opt.option("caseloads")] = 500,
    missing_weeks: Annotated[float, opt.option("missing-weeks")] = 0.15,
    feedback: Annotated[float, opt.option("feedback")] = 0.1,
    ratings: Annotated[str, opt.option("ratings")] = "mixed",
    leaving: Annotated[float, opt.option("leaving")] = 0.01,
    pain_level: Annotated[float, opt.option("pain-level")] = 3.4,
    pain_sd: Annotated[float, opt.option("pain-sd")] = 0.75,
    load_sd: Annotated[float, opt.option("load-sd")] = 0.25,
    effect_sd: Annotated[float, opt.option("effect-sd")] = 0.12,
    weekly_rating_sd: Annotated[float, opt.option("weekly-rating-sd")] = 0.3,
    daily_rating_sd: Annotated[float, opt.option("daily-rating-sd")] = 0.6,
    rating_caseloads: Annotated[int | None, opt.option("rating-caseloads")] = None,
    seed: opt.Seed = 1,
    workers: opt.Workers = None,
    cluster: opt.Cluster = None,
    debug: opt.Debug = False,
) -> None:
    """What a record of so many people and weeks would be able to tell, simulated before it is begun."""
    with plain_errors(debug):
        from lagwise.caseload import study_at
        from lagwise.cli.show import print_plan
        from lagwise.pages.plan_file import check_plan_target, write_plan
        from lagwise.planning import Assumptions
        from lagwise.say.plan import plan as run

        assumptions = Assumptions(
            missing_weeks=missing_weeks, feedback=feedback, ratings=ratings, leaving=leaving,
            pain_level=pain_level, pain_sd=pain_sd, load_sd=load_sd, effect_sd=effect_sd,
            weekly_rating_sd=weekly_rating_sd, daily_rating_sd=daily_rating_sd,
        )  # fmt: skip
        own = study_at(study) if study else None
        if out:
            check_plan_target(out)
        if cluster:
            say(LINES["plan_cluster"].format(cluster=cluster), err=True)
        with progress_bar() as tell:
            found = run(
                people, weeks, effect or (0.0, 0.5), study=own, assumptions=assumptions, caseloads=caseloads,
                rating_caseloads=rating_caseloads, seed=seed, workers=workers or cores(), cluster=cluster,
                progress=lambda i, n: tell(i / n, STAGES["records"]),
            )  # fmt: skip
        print_plan(found)
        if out:
            say(f"Written in {found.seconds:.0f} s: {write_plan(found, out) / 'plan.html'}")


@app.command()
def notebooks(
    folder: opt.Folder,
    out: Annotated[Path, opt.option("out", of="notebooks")],
    only: Annotated[list[str] | None, opt.option("only", metavar="NAME ...")] = None,
    show_code: Annotated[bool, opt.option("show-code")] = False,
    debug: opt.Debug = False,
) -> None:
    """Run the notebooks on a folder, as notebooks and as pages; exit code 1 when one stops where the data do
    not allow it.
    """
    with plain_errors(debug):
        from lagwise.cli.show import print_suite
        from lagwise.suite import run

        with progress_bar() as tell:
            suite = run(folder, out, only=only or (), show_code=show_code, debug=debug, progress=tell)
        print_suite(suite)
        say(f"Written in {suite.seconds:.0f} s: {suite.out / 'index.html'}")
    raise typer.Exit(0 if suite.whole else 1)


@app.command()
def synthesise(
    kind: Annotated[str, typer.Argument(help=ARGUMENTS["kind"])],
    out: Annotated[Path, opt.option("out", of="synthesise")],
    seed: opt.Seed = 1,
    debug: opt.Debug = False,
) -> None:
    """Write an invented caseload whose truth is known (truth.json)."""
    with plain_errors(debug):
        from lagwise.synthetic import write

        path = write(kind, out, seed=seed)
        say(f"Written: {path}")


@app.command(cls=opt.Several)
def start(
    folder: Annotated[Path, typer.Argument(help=ARGUMENTS["new"])],
    files: Annotated[list[Path] | None, opt.option("from", metavar="FILE ...")] = None,
    debug: opt.Debug = False,
) -> None:
    """An empty caseload folder with templates; with --from a draft plan of your own spreadsheets."""
    with plain_errors(debug):
        from lagwise.caseload.start import start as make
        from lagwise.document.terminal import print_blocks
        from lagwise.drafts import draft
        from lagwise.say.draft import command, said

        if files:
            print_blocks(*said(draft(files, folder), folder))
            return
        for path in make(folder):
            say(f"Written: {path}")
        say(LINES["fill"].format(command=command("check", str(folder))))


@app.command()
def deidentify(
    folder: opt.Folder,
    out: Annotated[Path, opt.option("out", of="deidentify")],
    mapping: Annotated[Path | None, opt.option("mapping")] = None,
    relative: Annotated[bool, opt.option("relative")] = False,
    coarser_loads: Annotated[bool, opt.option("coarser-loads")] = False,
    rounded_ratings: Annotated[bool, opt.option("rounded-ratings")] = False,
    drop: Annotated[list[str] | None, opt.option("drop", metavar="COLUMN ...")] = None,
    weekly_sums: Annotated[bool, opt.option("weekly-sums")] = False,
    debug: opt.Debug = False,
) -> None:
    """A copy with new random codes, moved dates and coarse people, and a page on what could still be
    recognised.
    """
    with plain_errors(debug):
        from lagwise.caseload import deidentify as make
        from lagwise.caseload import read
        from lagwise.cli.show import print_risk
        from lagwise.pages.weekly import weekly

        caseload = read(folder)
        whole_weeks = weekly_sums or (caseload.study.clock.step_days == 7 and not len(caseload.weeks))
        make(
            caseload, out, mapping=mapping, dates="relative" if relative else "shift",
            coarser_loads=coarser_loads, rounded_ratings=rounded_ratings, drop=drop or (),
            weekly=weekly(caseload) if whole_weeks else None, weekly_sums=weekly_sums, tell=print_risk,
        )  # fmt: skip
        say(LINES["deidentified"].format(out=out, page=out / "risk.html"))


@app.command()
def write(
    findings: Annotated[Path, typer.Argument(help=ARGUMENTS["findings"])],
    out: Annotated[Path, opt.option("out", of="write")],
    paper: opt.PaperSize = opt.Paper.a4,
    spelling: Annotated[Spelling | None, opt.option("spelling", of="write")] = None,
    for_person: opt.ForPerson = None,
    template: opt.Template = None,
    debug: opt.Debug = False,
) -> None:
    """Render the documents again from findings.json, without the data."""
    with plain_errors(debug):
        from lagwise.cli.show import pages_said
        from lagwise.findings import Findings
        from lagwise.findings.codes import with_pages
        from lagwise.findings.value import rendered_from
        from lagwise.writeup.write import write_up

        found = Findings.read(findings)
        with rendered_from(findings):
            found = found if spelling is None else found.model_copy(update={"spelling": spelling})
            found = with_pages(found, for_person) if for_person else found
            say(f"Written: {write_up(found, out, paper=paper.value, template=template)}")
            for line in pages_said(found):
                say(line)


@app.command()
def wording(
    file: Annotated[Path, typer.Argument(help=ARGUMENTS["draft"])],
    debug: opt.Debug = False,
) -> None:
    """Check a draft for causal, frightening or over-certain wording; exit code 1 when something is found."""
    with plain_errors(debug):
        from lagwise.cli.show import print_wording
        from lagwise.writeup.checker import check_file

        counted = "paragraph" if file.suffix.lower() == ".docx" else "line"
        clean = print_wording(check_file(file), counted)
    raise typer.Exit(0 if clean else 1)
