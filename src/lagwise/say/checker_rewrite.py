"""Other words for a claim: a verb gives way to a verb that takes the same object, a preposition to a
preposition, a noun to a noun, so that what was a sentence stays one. Nothing else of it is touched.
"""

from __future__ import annotations

import re

from lagwise.say.checker_words import QUOTED, after_none_of, words

LEFT_ALONE = re.compile(
    r"\b(?:not|no|never|none|neither|nor|cannot|can|could|may|might|must|shall|should|will|would|if|whether|"
    r"how|why|what|the way|and of|do|does|did|helps?|helped|lets?|makes?|made|making|saw)\b|n't|[?:]",
    re.IGNORECASE,
)
"""Denied, possible, open or compared: other words could change what such a sentence means."""

_VERB = after_none_of(
    "to be is are was were been being has have had get gets got and or of with in on after before by for "
    "from about a an the this these our its their his her no more less he she they "
    "we i you it people lifters patients athletes"
)
"""Before a finite verb: a word, and none after which the form is a noun, a participle or an infinitive."""
_THING = (
    r"(?= (?!(?:of|in|to|by|on|for|from|with|at|and|or|that|off|up|out|about|after|during|when|before|is|are|"
    r"was|were|has|have|had|it|them|him|her|me|us|people|lifters|patients|athletes)\b)\w)"
    r"(?!.*\b(?:to [a-z]+|\w+ly|up|down|off|sometimes|often|most|further)\b)"
)
"""After a verb that takes a thing as its object; what somebody was caused to do, or how, is none."""
_STATE = (
    r"(?= <state>(?:$|[.!]| \(| (?:in|after|over|during|for|by|within|on|at|of|that|among|"
    r"the (?:next|following|same))\b))"
)
"""What is felt, and then the end of the thing: nothing that would hang in the air after another verb."""
_FOR = r"(?:because of|as an? (?:result|consequence) of|thanks to|owing to|due to)"


def _acts(stems: str) -> str:
    """Finite verbs of these stems that act on what is felt."""
    return rf"{_VERB}(?:{'|'.join(stems.split())})(?:e|es|ed|s|y|ies|ied)?{_STATE}"


_SWAPS = (
    (
        rf"<be> ((?:\w+ly )?)(?:{_FOR}|(?:attributed|attributable|down) to|"
        "(?:the|an?) (?:result|consequence|product) of)",
        r"\1came after",
    ),
    (rf"(?<!\bbe )(?<!\bbeen ){_FOR}", "after"),
    (r"<be> ((?:\w+ly )?)(?:caused|triggered|provoked|induced|driven|brought about) by", r"\1came after"),
    (rf"{_VERB}(?:stems|stemmed|arises|arose|results|resulted) from", "came after"),
    (
        r"<be> (?:(?:an?|the|one) )?(?:(?:causes?|triggers?) of|risk factors? for|responsible for)",
        "came before",
    ),
    (rf"{_VERB}(?:(?:leads?|led|contribute[sd]?) to|resulted in|g[ia]ves? rise to)", "came before"),
    (rf"{_VERB}(?:brings?|brought) (?:about|on)", "came before"),
    (rf"{_VERB}(?:caus|trigger|provok|induc|precipitat|elicit|evok|spark)ed{_THING}", "came before"),
    (_acts("caus trigger provok induc precipitat elicit evok spark"), "came before"),
    (_acts("drives? drove fuels? fuelled feeds? fed"), "came before"),
    (
        _acts("reduc decreas lowers lowered eas reliev alleviat mitigat lessen dampen curb"),
        "came before a fall in",
    ),
    (_acts("increas rais heighten amplif boost elevat"), "came before a rise in"),
    (_acts("improv"), "came before a change for the better in"),
    (_acts("worsen aggravat exacerbat irritat"), "came before a change for the worse in"),
    (_acts("affect influenc impact alter chang modif"), "came before a change in"),
    (
        r"(the|an?|this)( \w+)? (?:effect|impact|influence)(s?)( of [^,.;()]{1,60}?)? (?:on|upon)",
        r"\1\2 association\3\4 with",
    ),
    (
        r"(came before a (?:\w+|change for the \w+) in(?: (?!(?:in|over|during|after|on|at)\b)[\w'-]+)+?) by"
        r"(?= (?:about |nearly )?\d)",
        r"\1 of",
    ),
)
SWAPS = tuple((words(finds), says) for finds, says in _SWAPS)

_RANGE = r"(?P<low>[-\u2212]?[\d.]+(?: \w+)?) to (?P<high>[-+\u2212]?[\d.]+(?: [^;()]+)?)"
ABSENT = re.compile(
    r"There (?:was|were|is|are) no (?:(?:effect|impact|influence) of (?P<of>[^()]+?)(?: on (?P<on>[^()]+?))?"
    r"|(?P<link>association|relationship|relation|link|difference|correlation|connection) (?P<ends>[^()]+?))"
    rf" \((?P<kind>(?:\d+ ?% )?(?:confidence |credible )?)(?:interval )?{_RANGE}"
    r"(?:; (?P<who>[^()]+))?\)(?P<stop>\.?)"
)
"""A claim of absence with the interval that says otherwise."""


def rewrite(sentence: str) -> str:
    """The sentence in words of sequence, or of its interval; '' where it might not be the same."""
    absent = ABSENT.fullmatch(sentence)
    if absent is not None:
        return _interval(**absent.groupdict())
    if LEFT_ALONE.search(sentence) or QUOTED.search(sentence):
        return ""
    said = sentence
    for finds, says in SWAPS:
        said = finds.sub(says, said)
    return "" if said == sentence else sentence[0].isupper() * said[0].upper() + said[sentence[0].isupper() :]


def _interval(
    of: str | None, on: str | None, link: str | None, ends: str | None, kind: str, low: str, high: str,
    who: str | None, stop: str,
) -> str:  # fmt: skip
    what = f"{link} {ends}" if link else f"association of {of} with {on}" if on else f"association with {of}"
    if LEFT_ALONE.search(what):
        return ""
    return f"The {kind}interval for the {what} ran from {low} to {high}{f' ({who})' if who else ''}{stop}"
