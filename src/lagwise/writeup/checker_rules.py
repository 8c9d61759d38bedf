"""The rules of the wording checker: what is looked for, why it is a problem, and how it could be said."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

_I = re.IGNORECASE
_FELT = r"(?:pain|flare(?:-ups?|s)?|symptoms?|risk|chance|discomfort|ache|(?:the )?(?:knee|shoulder|elbow|hip|joint|tendon)s?)"
_OWNER = r"(?:(?:the|their|his|her|this|that|people's|next-week|shoulder|knee|elbow|hip|tendon|more|less|number of|rate of) )*"
_BODY = r"(?:shoulder|elbow|knee|hip|back|core|wrist|ankle|neck|joint|tendon|muscle|tissue|cartilage|kneecap|body)s?"


@dataclass(frozen=True)
class Rule:
    """One rule: `finds` matches a slip, `unless` a sentence in which it is none; `says` swaps the match for other words.

    `negatable` rules are lifted when the sentence denies or leaves open what is claimed ('does not show that ...').
    """

    name: str
    finds: re.Pattern[str]
    why: str
    advice: str
    unless: re.Pattern[str] | None = None
    negatable: bool = False
    says: Callable[[re.Match[str]], str] | None = None


def _any(*patterns: str) -> re.Pattern[str]:
    return re.compile("|".join(patterns), _I)


_SWAPS = (
    (r"^because of|^as a result of|^thanks to|due to", "after"),
    (r"effects?|impact|influence", "association with"),
    (r"help|protect|prevent|lower|reduc|reliev|improv|decreas|brought", "{be} followed by less"),
    (r"worsen|aggravat|increas|rais|mak", "{be} followed by more"),
)


def _sequence(match: re.Match[str]) -> str:
    """Words of sequence in the place of words of cause."""
    text = match.group(0)
    be = "was" if re.match(r"\w+(?:s|ed)\b|led\b|gave\b", text, _I) else "were"
    word = next((word for pattern, word in _SWAPS if re.search(pattern, text, _I)), "{be} followed by")
    word = word.format(be=be)
    felt = re.search(rf"{_FELT}$", text, _I) if word.startswith(be) else None
    return f"{word} {felt.group(0)}" if felt else word


CAUSE = Rule(
    "cause",
    _any(
        r"\bcaus(?:e|es|ed|ing)\b",
        r"\bcausal(?:ly)? (?:effect|link|role|relation\w*)\b",
        r"\b(?:is|was|are|were|be) due to\b",
        r"\bbecause of\b",
        r"\bas a result of\b",
        r"\bthanks to\b",
        r"\b(?:lead|leads|led|leading) to\b",
        r"\bresult(?:s|ed|ing)? (?:in|from)\b",
        r"\btrigger(?:s|ed|ing)?\b",
        r"\bprovok(?:e|es|ed|ing)\b",
        r"\b(?:prevent|prevents|prevented|preventing)\b",
        r"\bprotect(?:s|ed|ing|ive)?\b",
        r"\bproduc(?:e|es|ed|ing)\b (?:more|less|worse)",
        r"\binduc(?:e|es|ed|ing)\b",
        r"\b(?:give|gives|gave|giving) rise to\b",
        r"\b(?:set|sets|bring|brings|brought) (?:off|on|down)\b",
        r"\bbrought (?:the |their )?(?:pain|symptoms?) (?:down|on|up)\b",
        r"\b(?:effects?|impact|influence) (?:of\b.{0,60}? )?(?:on|upon)\b",
        r"\b(?:influences?|influenced|affects?|affected)\b",
        r"\bresponsible for\b",
        r"\bcontribut(?:e|es|ed|ing) to\b",
        r"\bdriv(?:e|es|ing)\b|\bdrove\b",
        rf"\bmak(?:e|es|ing) {_OWNER}{_FELT}\b.{{0,20}}\b(?:worse|better|hurt|settle)",
        rf"\b(?:reduc|increas|decreas|rais|worsen|improv|aggravat|reliev|eas|eliminat)(?:e|es|ed|s|ing)? {_OWNER}(?:\w+ )?{_FELT}\b",
        rf"\b(?:lowers|lowered|lowering|to lower) {_OWNER}(?:\w+ )?{_FELT}\b",
        rf"\bhelp(?:s|ed)? {_OWNER}(?:\w+ )?{_FELT}\b",
        r"\bwould have (?:avoided|prevented|stopped)\b",
        r"\bexplains? why\b",
        r"\b(?:played|plays) a role\b",
    ),
    "A log shows what came after what; it does not show that one brought the other about.",
    "Say the sequence: 'weeks like this were followed by ...'.",
    negatable=True,
    says=_sequence,
)

RECOMMEND = Rule(
    "recommend",
    _any(
        r"\b(?:should|must|ought to)\b(?! (?:be|been)? ?(?:read|interpreted|taken as|treated as|understood|confirmed|replicated|noted|added|known))",
        r"\b(?:recommend|recommends|recommended|advise|advised|advises)\b",
        r"\b(?:our|the|my) advice is\b",
        r"\bneeds? to (?!be (?:confirmed|replicated|read|known|shown))",
        r"^(?:avoid|keep|do not|don't|never|always|make sure|ensure|limit|reduce|stop|start|try)\b",
        r"\bit is (?:best|better|wise|important|advisable) to\b",
        r"\bwe suggest that\b",
        r"\bsupports? (?:lowering|reducing|limiting|cutting|raising|keeping|avoiding)\b",
        r"\bwould benefit\b",
    ),
    "A recommendation claims that doing something would change what follows; a case series cannot carry that.",
    "Describe what was seen and leave the decision to the person and their clinician.",
    unless=_any(
        r"\bauthors? (?:should|must)\b",
        r"\b(?:what|which).{0,30}ought to do\b",
        r"\bshould (?:not )?be read\b",
        r"\bwhat (?:one|a|any) person should\b",
        r"\badvises nobody\b",
    ),
    negatable=True,
)

CERTAIN = Rule(
    "certain",
    _any(
        r"\bprov(?:e|es|ed|en|ing)\b|\bproof\b",
        r"\bclearly (?:show|indicat|demonstrat)\w*",
        r"\b(?:no|beyond|without)(?: a| any)? (?:doubt|question)\b",
        r"\bdemonstrat(?:e|es|ed|ing)\b",
        r"\bconfirm(?:s|ed)? (?:the|that|our)\b",
        r"\balways\b|\binvariably\b",
        r"\b(?:now |well |firmly )?established that\b|\bestablish(?:es|ed)? that\b",
        r"\bundeniabl[ey]\b|\bundoubtedly\b|(?<!positive )\bdefinite(?:ly)?\b|\bdefinitive\b|\bconclusive(?:ly)?\b|\bobvious(?:ly)?\b|\bunquestionabl[ey]\b",
        r"\bguarantee[sd]?\b",
        r"\b(?:evidence|it|finding|result)s? (?:is|are) certain\b",
        r"\bwill (?:get|have|suffer|develop|snap|flare)\b",
    ),
    "One log with wide intervals settles nothing for certain.",
    "Give the interval, what it rules out and what it leaves open.",
    negatable=True,
)

NO_EFFECT = Rule(
    "no_effect",
    _any(
        r"\bno (?:\w+ )?(?:effect|association|relationship|relation|link|difference|impact|correlation)\b",
        r"\bnot (?:\w+ )?(?:associated|related|linked|correlated)\b",
        r"\bunrelated to\b|\bare unrelated\b|\bis unrelated\b",
        r"\b(?:do|does|did)(?: not|n't) (?:matter|affect|influence|change pain)\b",
        r"\bno different\b",
        r"\bpain was the same\b",
        r"\b(?:association|relationship|link|effect|difference)\b.{0,40}\b(?:is|was) absent\b",
        r"\bplay(?:s|ed)? no role\b",
        r"\bmade no\b",
    ),
    "'Not seen' is not 'absent': without the interval nobody can tell what was ruled out.",
    "Give the estimate with its interval, and say which differences it rules out.",
    unless=_any(
        r"\binterval", r"\brul(?:e|es|ed) out\b", r"\bno different \(", r"\bline is no difference\b", r"\bpractically\b",
        r"[-\u22120-9.]+ (?:\w+ )?to [-+\u22120-9.]+",
    ),
)  # fmt: skip

FRIGHTEN = Rule(
    "frighten",
    _any(
        r"\bdamag\w*",
        r"\bworn\b|\bwear and tear\b|\bwore out\b",
        r"\bdegenerat\w+",
        rf"\bweak (?:\w+ )?{_BODY}\b|\b{_BODY} (?:is|are|was|were) weak\b",
        r"\bvulnerable\b|\bfragile\b|\bcrumbl\w+|\bfrayed\b|\btorn\b|\bruined\b",
        r"\bout of (?:place|alignment|line)\b|\bslipped\b|\bmisalign\w+",
        r"\b(?:un)?safe (?:load|level|dose|range|zone|weight)s?\b|\bdangerous\b|\bdanger zone\b|\bharmful\b",
        r"\boverload injur\w+|\boveruse injur\w+",
        r"\brisk scores?\b|\breadiness scores?\b",
        r"\b(?:red|amber|green)\b[,/ ]+(?:\w+ )?(?:amber|green|red)\b|\btraffic[- ]lights?\b",
        rf"\bunstable {_BODY}\b",
        r"\btime bomb\b|\bsnap\b",
    ),
    "Words about bodies work for years on those who hear them; pain changes for many reasons and hurt is not the same as harm.",
    "Name what was recorded: pain in points, weeks, flare-ups in the person's own word.",
    unless=_any(r"\bthe words?\b.{0,30}\bnot used\b"),
    negatable=False,
)

_ABSOLUTE = r"\b(?:of|in|per) (?:100|1000|1 000|\d[\d\u00a0 ]*)\b|\bpercentage points?\b"

RELATIVE = Rule(
    "relative",
    _any(
        r"\b\d+(?:\.\d+)? ?(?:%|percent|per cent) (?:higher|lower|more|less|fewer|greater) ?(?:likely|risk|odds|often|common|chance)?",
        r"\b(?:twice|three times|four times|half|\d+(?:\.\d+)? times) (?:as|more) (?:\w+)",
        r"\b(?:odds|risk|hazard|rate) ratios?\b|\brelative risks?\b",
        r"\b(?:doubled|tripled|halved|doubles|halves)\b (?:the |their )?(?:\w+ )?(?:risk|chance|odds|probability|rate)",
        r"\b\d+(?:\.\d+)?-fold\b",
        r"\b(?:risk|hazard|odds|chance|probability)\b.{0,25}\b(?:raised|rose|fell|cut|increased|lowered) by\b",
    ),
    "A relative figure alone hides how common the thing is.",
    "Say the absolute first: 'about 12 of 100 such weeks, against 10 of 100'.",
    unless=_any(_ABSOLUTE),
)

DENOMINATOR = Rule(
    "denominator",
    _any(r"\b\d+(?:\.\d+)? ?(?:%|percent\b|per cent\b)"),
    "A share without its denominator cannot be weighed.",
    "Write the count first: '612 of 1 040 weeks (59 %)'.",
    unless=_any(
        r"\b\d[\d\u00a0 ]* of (?:the )?\d", r"\bn ?= ?\d", r"\b\d+ ?% (?:\w+ )?interval", r"\b\d+ ?% (?:above|below|over|more than|under|of) (?:\w+ )?usual",
        r"\bof \d[\d\u00a0 ]*\b(?! ?%)", r"\b\d+ ?% (?:higher|lower|more|less|fewer|greater)", r"[+\u2212-]\d+ ?%", r"\bby more than \d+ ?%",
    ),
)  # fmt: skip

RULES: tuple[Rule, ...] = (CAUSE, RECOMMEND, CERTAIN, NO_EFFECT, FRIGHTEN, RELATIVE, DENOMINATOR)
"""All rules in the order they are reported."""
