"""The items of the reporting checklist and how each is met: filled, left to the author, or not applicable.

Items follow the numbering of STROBE for cohort studies (von Elm et al. 2007,
doi:10.1016/S0140-6736(07)61602-X), in our own words; then what its extension for sport injury and illness
adds (Bahr et al. 2020, doi:10.1136/bjsports-2019-101969), what Bayesian analyses are asked to report
(Kruschke 2021, doi:10.1038/s41562-021-01177-7), what is asked of single cases and of every study, these four
numbered here for themselves. Of changes and their dates: the item on phases of SCRIBE (Tate et al. 2016,
PMC5214372), and what TARGET 2025 (doi:10.1136/bmj-2025-087179) asks beyond STROBE, under its own numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from lagwise.core.words import listed
from lagwise.findings import Findings
from lagwise.say.changes.followed import BECAUSE
from lagwise.say.report.described import opening
from lagwise.say.report.words import Words

Status = Literal["filled", "author", "not_applicable"]
Decide = Callable[[Findings], tuple[Status, str]]


@dataclass(frozen=True)
class Item:
    """One item of a checklist: its list, number, what is asked, and how that is met here."""

    source: str
    number: str
    asks: str
    decide: Decide


def _filled(where: str) -> Decide:
    return lambda findings: ("filled", where)


def _author(prompt: str) -> Decide:
    return lambda findings: ("author", prompt)


def _none(why: str) -> Decide:
    return lambda findings: ("not_applicable", why)


NO_RESULT = "no usable fit answers the main question"


def _no_result(findings: Findings) -> tuple[Status, str]:
    return "not_applicable", "nothing is estimated" if findings.described else NO_RESULT


def _result(where: str) -> Decide:
    return lambda f: ("filled", where) if f.primary is not None else _no_result(f)


def _opening(findings: Findings) -> tuple[Status, str]:
    return "filled", opening(findings)


def _size(findings: Findings) -> tuple[Status, str]:
    width = "" if findings.described else "; precision is reported as interval width"
    return "author", f"why these people and this period{width}"


def _limits(findings: Findings) -> tuple[Status, str]:
    if findings.described:
        return "author", "direction and size of bias; the record's own limits are in What this cannot tell"
    return "filled", "What this cannot tell"


def _stages(findings: Findings) -> tuple[Status, str]:
    main = "" if findings.described else "; people and steps in the main question"
    return "filled", f"Who and what was recorded (rows read, used and set aside{main})"


def _not_rated(findings: Findings) -> tuple[Status, str]:
    return "not_applicable", f"no rating of {Words(findings).asked} was recorded"


def _if_rated(decide: Decide) -> Decide:
    """As decided, where what is asked about was rated at all."""
    return lambda f: decide(f) if Words(f).rated else _not_rated(f)


def _setting(findings: Findings) -> tuple[Status, str]:
    if findings.study.setting.strip():
        return "author", "the plan gives a setting in a line; add places, dates, how people were followed"
    return "author", "places, dates, how people were followed"


def _ethics(findings: Findings) -> tuple[Status, str]:
    return (
        ("filled", "For the author to fill in")
        if findings.study.ethics.strip()
        else ("author", "body, reference and date of approval or exemption")
    )


def _bayes(where: str) -> Decide:
    def decide(findings: Findings) -> tuple[Status, str]:
        if any(findings.usable(interval="credible")):
            return "filled", where
        return "not_applicable", "no Bayesian fit is reported as a result"

    return decide


def _prior(findings: Findings) -> tuple[Status, str]:
    if not any(findings.usable(interval="credible")):
        return "not_applicable", "no Bayesian fit is reported as a result"
    tried = any(c.name.startswith("prior") and not c.problem for c in findings.challenges)
    return (
        ("filled", "What we tried to break it with")
        if tried
        else ("author", "how far the answer depends on the priors; no challenge of them was run")
    )


def _other(findings: Findings) -> str:
    return (
        "The same question "
        f"{'under the other adjustment' if findings.study.outcome.lag else 'crude and adjusted'}"
    )


def _bias(findings: Findings) -> tuple[Status, str]:
    if findings.described:
        return _no_result(findings)
    tried = f"What we tried to break it with; {_other(findings)}; " if findings.primary is not None else ""
    return "filled", f"{tried}What this cannot tell"


def _absolute(findings: Findings) -> tuple[Status, str]:
    if findings.primary is None:
        return _no_result(findings)
    risks = any(f.usable and {"absolute_risk", "risk"} & set(f.tables) for f in findings.fits)
    told = "risks of 100 and in {points}" if risks else "{points}; no relative measure is given alone"
    return _said("{{results}} (in " + told + ")")(findings)


def _single(where: str) -> Decide:
    def decide(findings: Findings) -> tuple[Status, str]:
        return ("filled", where) if findings.people else ("not_applicable", "no single person is shown")

    return decide


def _single_author(prompt: str) -> Decide:
    def decide(findings: Findings) -> tuple[Status, str]:
        return ("author", prompt) if findings.people else ("not_applicable", "no single person is shown")

    return decide


def _consent(findings: Findings) -> tuple[Status, str]:
    if not findings.people:
        return "not_applicable", "no single person is shown"
    said = (
        "the plan attests consent; say how it was asked"
        if findings.study.consent_single_person_plots
        else "consent to show single people is not attested"
    )
    return "author", said


def _said(where: str) -> Decide:
    """Filled, in a section whose words depend on what is asked about."""

    def decide(findings: Findings) -> tuple[Status, str]:
        words = Words(findings)
        own = " and the person's own word" if words.own_word else ""
        named = {
            "asked": words.asked,
            "points": words.unit,
            "turn": words.turn,
            "before": words.before,
            "step": words.step,
            "own_word": own,
        }
        return "filled", where.format(**named)

    return decide


def _flares(findings: Findings) -> tuple[Status, str]:
    if any(f.by.answers == "onset" for f in findings.fits):
        return "filled", f"{{happened}}; What came before {Words(findings).turns}"
    return "filled", "{happened}"


def _repeated(findings: Findings) -> tuple[Status, str]:
    if any(findings.usable(answers="onset")):
        return "filled", "Models, in Methods (person intercepts; each person against themselves)"
    words = Words(findings)
    return "not_applicable", f"{words.turns} are counted and not {words.spelled('modelled')}"


def _flow(findings: Findings) -> tuple[Status, str]:
    if "flow" in findings.tables:
        return "filled", "Who and what was recorded (figure)"
    figure = " and as a figure of who was recorded when" if findings.people else ""
    return "not_applicable", f"given as a table of rows{figure}"


def _loss(findings: Findings) -> tuple[Status, str]:
    return "filled", "Who was recorded when (figure)" if findings.people else "Who and what was recorded"


def _load(findings: Findings) -> tuple[Status, str]:
    return (
        ("filled", "Methods")
        if findings.count("load_steps")
        else ("not_applicable", "no training load was recorded")
    )


FOLLOWED = "What changed, and what followed"


def _changes(where: str, status: Status = "filled") -> Decide:
    """As given, where what followed a kind of event was compared."""

    def decide(findings: Findings) -> tuple[Status, str]:
        if not findings.followed:
            return "not_applicable", "no event is followed"
        if not any("risk_set" in one.claim["numbers"] for one in findings.followed):
            return "not_applicable", "too few people have any one kind of event for a comparison"
        return status, where

    return decide


def _phases(findings: Findings) -> tuple[Status, str]:
    """Whether it is known of every event why it was made: chosen beforehand, or by what was seen."""
    if not findings.followed:
        return "not_applicable", "no event is followed"
    claims = {one.kind: one.claim["numbers"] for one in findings.followed}.values()
    n = {k: sum(int(c.get(f"because_{k}", {}).get("value", 0)) for c in claims) for k in BECAUSE}
    if findings.shared or not any(n.values()):
        return "author", "whether each change was planned beforehand or set off by what was seen, and by what"
    told = listed([f"{count} {BECAUSE[k]}" for k, count in n.items() if count])
    return "filled" if not n["unsaid"] else "author", f"of the events followed, {told}; by which criterion"


def _sharing(findings: Findings) -> tuple[Status, str]:
    kind = (
        "this version shows single people under codes"
        if findings.people
        else "this version shows no single people"
    )
    return "author", f"{kind}; say who may see it, where the data lie and what was agreed"


_ITEMS = {
    "STROBE": (
        ("1a", "Design named in title or abstract",
         _author("add 'case series' and the design to your title or abstract")),
        ("1b", "Abstract that says what was done and found", _opening),
        ("2", "Background and reasons", _author("what was known, and why ask")),
        ("3", "Aims, with what was expected beforehand",
         _filled("Methods, Question; the plan's hash in How this was made")),
        ("4", "Design, early in the text",
         _author("whether the logs were kept in routine practice or for a study, and whether the plan "
                 "came before the data")),
        ("5", "Setting, places and dates", _setting),
        ("6a", "Who could take part, how they were found and followed",
         _author("eligibility, sources, ways of following up")),
        ("6b", "Matching criteria", _none("nobody was matched")),
        ("7", "Outcomes, exposures and other variables defined", _filled("Methods")),
        ("8", "Where each variable came from and how it was measured",
         _author("wording of questions, devices, who entered what")),
        ("9", "What was done about sources of bias", _bias),
        ("10", "How the size came about", _size),
        ("11", "How quantities were handled", _filled("Methods")),
        ("12a", "Statistical methods, with control for confounding", _result("Methods, Models")),
        ("12b", "Subgroups and interactions", _none("none was planned or looked at")),
        ("12c", "Missing data", _filled("Who and what was recorded; What this cannot tell")),
        ("12d", "Loss to follow-up", _loss),
        ("12e", "Sensitivity analyses", _result("What we tried to break it with")),
        ("13a", "Numbers at each stage", _stages),
        ("13b", "Reasons for not taking part",
         _author("who was asked and declined, and why, as far as known")),
        ("13c", "Flow diagram", _flow),
        ("14a", "Who the people are", _filled("The people in this caseload (table)")),
        ("14b", "Missing values per variable", _filled("What is known (table)")),
        ("14c", "Follow-up time", _filled("Who and what was recorded")),
        ("15", "Outcome events over time", _if_rated(_flares)),
        ("16a", "Crude and adjusted estimates with intervals and what was adjusted for",
         _result("{results} (tables)")),
        ("16b", "Category boundaries", _none("exposures were not cut into categories")),
        ("16c", "Relative turned into absolute", _absolute),
        ("17", "Other analyses", _result("{results}; What we tried to break it with")),
        ("18", "Key results against the aims", _opening),
        ("19", "Limits, with direction and size of bias", _limits),
        ("20", "Cautious interpretation in the light of other evidence",
         _author("how this sits beside other studies")),
        ("21", "Whom it may apply to", _author("who is like these people, and who is not")),
        ("22", "Funding and interests", _author("who paid, and what the authors stand to gain")),
    ),
    "Journals": (
        ("1", "Ethics approval or exemption", _ethics),
    ),
    "Sport extension": (
        ("1", "What counts as a health problem: complaint, medical attention or time lost",
         _if_rated(_said("Methods ({asked} ratings{own_word}; neither attention nor time lost is "
                         "recorded)"))),
        ("2", "When a problem starts and ends, and how new and returning ones are told apart",
         _if_rated(_said("Methods (a {turn} needs a {step} {before} the mark before it; one person can "
                         "have several)"))),
        ("3", "Region, diagnosis and manner of onset",
         _author("diagnoses, who made them, sudden or gradual onset; the region is shown where the data "
                 "name it")),
        ("4", "Severity", _if_rated(_said("The people in this caseload (table), in {points} of {asked}"))),
        ("5", "Exposure to training, its unit and how it was recorded", _load),
        ("6", "Occurrence against time at risk", _if_rated(_filled("{happened}"))),
        ("7", "Several problems of one person in the analysis", _if_rated(_repeated)),
        ("8", "Sport, level and season",
         _author("what people train for, at what level, and when in the year")),
        ("9", "Privacy of the people who trained", _sharing),
        ("10", "Who reported problems, how often, and how far back they looked",
         _author("who was asked, how often and about which span; whether anybody else entered ratings")),
    ),
    "Bayesian": (
        ("1", "Model, likelihood and priors stated", _bayes("Methods, Models")),
        ("2", "Computation and its checks (R-hat, effective sample size, divergences)",
         _bayes("Checks on each model (table)")),
        ("3", "Predictive checks, of the priors alone and of the fitted model",
         _bayes("Predictive checks (tables)")),
        ("4", "Posterior summaries with intervals and decision margins", _bayes("{results}")),
        ("5", "Sensitivity to the priors", _prior),
        ("6", "Seeds, versions and data fingerprints for repeating it", _bayes("How this was made")),
    ),
    "SCRIBE": (
        ("5", "Phases: chosen beforehand or by the data, and by which criterion", _phases),
    ),
    "TARGET": (
        ("7a", "Who could be compared", _changes(FOLLOWED)),
        ("7b", "What was compared: the change, and going on without it",
         _changes("what each kind of change was, in whose hands, and how well it was kept up", "author")),
        ("7c", "How it came about who had the change", _changes(f"{FOLLOWED} (why they were made)")),
        ("7d", "From when and for how long people were followed", _changes(FOLLOWED)),
        ("7e", "Outcomes, how and when measured", _changes(f"{FOLLOWED}; Methods")),
        ("7f", "Which difference is asked about", _changes(f"{FOLLOWED} (table of differences)")),
        ("7g", "What the comparison takes to be so, and what was held equal",
         _changes(f"{FOLLOWED} (how it was compared; what was never rated)")),
        ("14", "Other choices and attempts to break it, and what they gave",
         _changes(f"{FOLLOWED} (what was tried); attempts.csv")),
        ("8", "How many could be compared, with the change and without",
         _changes(f"{FOLLOWED} (each kind; table of events)")),
        ("13", "Differences with their intervals", _changes(f"{FOLLOWED} (table of differences)")),
        ("16", "Where it falls short of a trial", _changes(f"{FOLLOWED}; What this cannot tell")),
    ),
    "Single cases": (
        ("1", "Timeline of each person", _single("{happened} (figure)")),
        ("2", "What was done for each person and when",
         _single_author("treatment, advice and changes for the people shown")),
        ("3", "The person's own view", _single_author("what the people shown make of it")),
        ("4", "Consent of the people shown", _consent),
        ("5", "Findings on examination and diagnosis",
         _single_author("what was found, by whom and when, for the people shown")),
        ("6", "Course and outcome of each person", _single("{happened} (table of each person's record)")),
    ),
}  # fmt: skip
ITEMS = tuple(Item(source, *one) for source, items in _ITEMS.items() for one in items)


@dataclass(frozen=True)
class Answer:
    """An item as met by these findings: `where` names the section, what the author is to write, or why it
    does not apply.
    """

    source: str
    number: str
    asks: str
    status: Status
    where: str


def checklist(findings: Findings) -> tuple[Answer, ...]:
    """Every item with its answer; sections whose titles depend on what is asked about by those titles."""
    words = Words(findings)

    def answered(item: Item) -> Answer:
        status, where = item.decide(findings)
        named = where.replace("{results}", words.came_before).replace("{happened}", words.courses)
        return Answer(item.source, item.number, item.asks, status, named)

    return tuple(map(answered, ITEMS))


def counts(findings: Findings) -> dict[Status, int]:
    """How many items are filled, left to the author or not applicable."""
    statuses = [a.status for a in checklist(findings)]
    names: tuple[Status, ...] = ("filled", "author", "not_applicable")
    return {name: statuses.count(name) for name in names}
