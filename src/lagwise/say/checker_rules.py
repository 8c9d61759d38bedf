"""What the wording checker knows of language: where sentences end, what denies a claim, and the rules: what
is looked for, why it is a problem, and how it could be said.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

_I = re.IGNORECASE
ABBREVIATIONS = re.compile(r"\b(e\.g|i\.e|vs|cf|et al|Fig|Tab|No|Dr|approx|ca)\.(?=\s)")
END = re.compile(r"([.!?][\"'\u201d\u2019)]*)\s+(?=[\"'\u201c\u2018(\[]?[A-Z0-9\u2212+])")
QUOTED = re.compile(
    r"\"[^\"]{2,}\"|\u201c[^\u201d]{2,}\u201d|(?<!\w)'[^']{3,}'(?!\w)|\u2018[^\u2019]{3,}\u2019(?!\w)"
)
EXEMPT_HEADING = re.compile(r"causal", _I)
DENIED = re.compile(
    r"\b(?:not|cannot|n't|never|nothing|nobody|no one|none|neither|no)\b[^.;:]{0,60}?"
    r"\b(?:show|shows|shown|mean|means|meant|prove|proves|proved|imply|implies|tell|told|claim|claims|"
    r"conclude|concludes|concluded|"
    r"say|says|said|known|establish|establishes|demonstrate|demonstrates|demonstrated|read as|settle|"
    r"decide|evidence that|proof that|be taken)\b"
    r"|\b(?:whether|wrong to (?:conclude|say|think|claim)|if it were|to (?:ask|see) if)\b"
    r"|\bcausal(?:ly)? (?:reading|language|claim|inference|question|interpretation|assumptions?)\b"
    r"|\bread (?:this )?causally\b"
    r"|\bnot (?:a|the) cause\b|\bnot causal\b|\bsequence, not\b"
    r"|\bnothing\b[^.;:]{0,40}\b(?:drives|causes)\b|\bthat nothing\b",
    _I,
)
_FELT = (
    r"(?:pain|flare(?:-ups?|s)?|symptoms?|risk|chance|discomfort|ache|(?:the )?(?:knee|shoulder|elbow|hip|"
    r"joint|tendon)s?)"
)
_OWNER = (
    r"(?:(?:the|their|his|her|this|that|people's|next-week|shoulder|knee|elbow|hip|tendon|more|less|"
    r"number of|rate of) )*"
)
_BODY = (
    r"(?:shoulder|elbow|knee|hip|back|core|wrist|ankle|neck|joint|tendon|muscle|tissue|cartilage|kneecap|"
    r"body)s?"
)


@dataclass(frozen=True)
class Rule:
    """One rule: `finds` matches a slip, `unless` a sentence in which it is none; `says` swaps the match for
    other words.

    `negatable` rules are lifted when the sentence denies or leaves open what is claimed ('does not show that
    ...').
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


_READ = (
    "read|interpreted|taken|treated as|understood|confirmed|replicated|noted|added|known|kept in "
    "mind|shown|seen|judged|weighed|filled"
)
"""Verbs of reading a result, not of doing something about it."""

CAUSE = Rule(
    "cause",
    _any(
        # nouns and prepositions of cause
        r"(?<!\ba )(?<!\bno )(?<!\bany )(?<!\bcommon )\bcaus(?:e|es|ed|ing|ation)\b|\b(?:is|are|was|"
        r"were) (?:a|one|the) (?:\w+ )?causes? of\b|\bcausal(?:ly)? (?:effect|link|role|relation\w*|"
        r"factor)\b|\bculprits?\b",
        r"\b(?:due|owing|attributable|attributed|thanks) to\b|\bbecause of\b|\b(?:as a )?(?:result|"
        r"consequence|product) of\b|\bat the root of\b",
        r"\b(?:effects?|impact|influence|bearing) (?:of\b.{0,60}? )?(?:on|upon)\b|\b\w+(?:ing|"
        r"ive) effects?\b",
        r"\b(?:is|are|was|were|that's|explains?|explained) (?:the reason )?why\b|\bthe reasons? (?:why|"
        r"for|that)\b|\bresponsible for\b",
        rf"\b{_FELT}\b[^.;]{{0,30}}\bbecause (?:the|they|he|she|people|of|load|training|sleep|stress)\b",
        # verbs that mean cause whatever their object
        r"\b(?:lead|leads|led|leading) to\b|\bresult(?:s|ed|ing)? (?:in|from)\b|\bcontribut(?:e|es|ed|"
        r"ing) to\b",
        r"\b(?:stem|stems|stemmed|arise|arises|arose|originate\w*) from\b|\baccount(?:s|ed) for\b|"
        r"\bunderl(?:ies|ie|ay)\b",
        r"\b(?<!data-)(?<!data )(?:trigger|provok|prevent|protect|induc|precipitat|elicit|evok|"
        r"exacerbat|alleviat|mitigat|influenc|affect|fuel|spark|ignit|avert)\w*\b",
        r"\b(?:give|gives|gave|giving) rise to\b|\b(?:set|sets|setting) (?:off|in motion)\b|\b(?:bring|"
        r"brings|brought|bringing) (?:about|on|down|relief)\b",
        r"\b(?:determin|dictat|govern|shap)(?:es|ed|e)\b (?:how|the next|next|what|whether|pain)|"
        r"\bdriv(?:e|es|ing|en)\b|\bdrove\b|\b(?:feeds?|fed) (?:\w+ )?(?:in)?to\b|\b(?:pays?|"
        r"paid) for (?:it|that|this)\b",
        r"\bworks? by\b|\bwould have (?:avoided|prevented|stopped|been avoided|been prevented)\b|"
        r"\b(?:plays?|played) an? (?:\w+ )?(?:role|part)\b",
        # verbs that mean cause when they act on pain, flare-ups or a body region
        rf"\bma(?:k|d)(?:e|es|ing) (?:it (?:more|less) likely|{_OWNER}{_FELT}\b.{{0,20}}\b(?:worse|"
        rf"better|hurt|settle|flare|feel|sore|calm))",
        rf"\b(?:reduc|increas|decreas|rais|worsen|improv|aggravat|reliev|eas|eliminat|diminish|lessen|"
        rf"dampen|heighten|amplif|boost|curb|cut|halv|"
        rf"soften|sooth|cur|heal|fix|irritat|inflam|promot|sensiti[sz]|stok|blunt|chang|alter|"
        rf"modif)(?:e|es|ed|s|ing|ies|ied)? {_OWNER}(?:\w+ )?{_FELT}\b",
        rf"\b(?:lowers|lowered|lowering|to lower|calms|calmed|settles|settled|helps|helped|help|"
        rf"produc(?:e|es|ed|ing)|creat(?:e|es|ed|ing)|generat(?:e|es|ed)) "
        rf"{_OWNER}(?:\w+ )?{_FELT}\b",
        r"\b(?:gives?|gave) (?:\w+ )?(?:\w+ )?(?:calmer|less|more|fewer|worse|better|sore)\b|"
        r"\bproduc(?:e|es|ed|ing) (?:more|less|worse|fewer)\b",
        rf"\b(?:keeps?|kept|hold|holds|held|push|pushes|pushed|drag|drags) {_OWNER}{_FELT} (?:away|down|"
        rf"low|up|off|at bay|in check|under control)\b",
        rf"\bbrought {_OWNER}{_FELT}\b|\bbrought the pain\b",
        r"\b(?:set|sets) (?:off|up) (?:the|his|her|their|a)\b",
    ),
    "A log shows what came after what; it does not show that one brought the other about.",
    "Say the sequence: 'weeks like this were followed by ...'.",
    negatable=True,
    says=_sequence,
)

RECOMMEND = Rule(
    "recommend",
    _any(
        rf"\b(?:should|must|ought to|has to|have to|had better)\b(?! (?:not )?(?:be|been)? ?(?:{_READ}))",
        r"\b(?:recommend|recommends|recommended|recommendation|advise|advised|advises|advisable|"
        r"encouraged? to|urged? to|prescribe[ds]?)\b",
        r"\b(?:our|the|my) (?:advice|message|take-home|recommendation) (?:is|to|for)\b",
        rf"\bneeds? to (?!be (?:{_READ}))",
        r"^(?:please |so,? |therefore,? )?(?:avoid|keep|do not|don't|never|always|make sure|ensure|limit|"
        r"reduce|stop|start|try|consider|aim|stick|build|train|rest|"
        r"plan|monitor|watch|take|lower|cut|increase|add|use|leave|choose|wait) (?!(?:one|any)\b)\w+",
        r"\bit (?:is|seems|may be|would be) (?:best|better|wise|important|essential|crucial|vital|"
        r"necessary|sensible|prudent|safer|advisable|worth)\b",
        r"\b(?:we|i) (?:would |do )?(?:suggest|propose|urge|encourage)\b|\bthe (?:sensible|wise|prudent|"
        r"best|right|safest) (?:course|thing|choice|step|plan|way) (?:is|would be)\b|"
        r"\bsupports? (?:lowering|reducing|limiting|cutting|raising|keeping|avoiding|the use of)\b",
        r"\bwould (?:benefit|do well|be wise|be better off)\b|\b(?:is|are) (?:to be avoided|"
        r"best avoided|warranted|indicated)\b|\b(?:can|may) safely\b",
    ),
    "A recommendation claims that doing something would change what follows; a case series cannot "
    "carry that.",
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
        r"\bprov(?:e|es|ed|en|ing)\b|\bproof\b|\bdemonstrat(?:e|es|ed|ing)\b|\bconfirm(?:s|ed)? (?:the|"
        r"that|our|what)\b",
        r"\bclearly (?:\w+ )?(?:show|indicat|demonstrat|com|preced|follow|relat|link)\w*|^clearly\b|"
        r"\bit is (?:now )?(?:clear|certain|obvious|evident|a fact|known) that\b",
        r"\b(?:no|beyond|without)(?: a| any| all)? (?:doubt|question|dispute|exception)\b|"
        r"\bonce and for all\b|\bfor (?:sure|certain)\b",
        r"\balways\b|\binvariably\b|\binevitabl[ey]\b|\bcertainly\b|\bof course\b|\bevery time\b|"
        r"\bwithout fail\b",
        r"\b(?:now |well |firmly )?established that\b|\bestablish(?:es|ed)? (?:that|the)\b|"
        r"\bsettles? (?:the|this|that|it|once)\b|\bwe (?:now )?know that\b",
        r"\bundeniabl[ey]\b|\bundoubtedly\b|(?<!positive )\bdefinite(?:ly)?\b|\bdefinitive(?:ly)?\b|"
        r"\bconclusive(?:ly)?\b|\bobvious(?:ly)?\b|"
        r"\bunquestionabl[ey]\b|\bunequivocal(?:ly)?\b|\bindisputabl[ey]\b|\birrefutabl[ey]\b|"
        r"\bunmistakabl[ey]\b|\bcategorical(?:ly)? (?:show|state)\w*",
        r"\bguarantee[sd]?\b|\b(?:evidence|it|finding|result)s? (?:is|are) certain\b|"
        r"\bsolid (?:evidence|proof)\b|\bleaves? no room for\b.{0,20}\bdoubt\b",
        r"\bwill (?:\w+ )?(?:get|have|suffer|develop|snap|flare|hurt|feel|end up|be in pain|pay)\b",
    ),
    "One log with wide intervals settles nothing for certain.",
    "Give the interval, what it rules out and what it leaves open.",
    negatable=True,
)

NO_EFFECT = Rule(
    "no_effect",
    _any(
        r"\bno (?:\w+ ){0,2}(?:effects?|associations?|relationships?|relations?|links?|differences?|"
        r"impact|correlations?|connections?|bearing|influence|change)\b",
        r"\bnot? (?:\w+ )?(?:associated|related|linked|correlated|connected)\b|\bwere?n't (?:associated|"
        r"related|linked)\b|\bwasn't (?:associated|related|linked)\b",
        r"\bunrelated to\b|\b(?:is|are|was|were|seem|seemed) unrelated\b|\birrelevant\b|"
        r"\bindependent of (?:load|pain|sleep|stress|effort|worry|training|each other)\b|"
        r"\bnothing to do with\b|\bineffective\b|\bhad nothing\b",
        r"\b(?:do|does|did)(?: not|n't) (?:matter|affect|influence|change|alter|differ|"
        r"make a difference|play a)\b|\bneither\b.{0,40}\bnor\b.{0,40}\b(?:matter|associat|relat)\w*",
        r"\bno different\b|\bpain was (?:just )?the same\b|\bjust as (?:much|often|likely|good|bad)\b|"
        r"\bidentical\b.{0,30}\bpain\b|\bno (?:worse|better)\b",
        r"\b(?:association|relationship|link|effect|difference)\b.{0,40}\b(?:is|was|are|were) (?:absent|"
        r"zero|nil|non-existent)\b|\bno evidence (?:of|for|that)\b",
        r"\bplay(?:s|ed)? no (?:role|part)\b|\bma(?:de|kes?) no\b|\b(?:can|could) be (?:ruled out|"
        r"excluded|dismissed) as\b|\bfailed to (?:affect|change)\b",
    ),
    "'Not seen' is not 'absent': without the interval nobody can tell what was ruled out.",
    "Give the estimate with its interval, and say which differences it rules out.",
    unless=_any(
        r"\binterval",
        r"\brul(?:e|es|ed) out\b",
        r"\bno different \(",
        r"\bline is no difference\b",
        r"\bof a size that matters\b",
        r"\bpractically\b",
        r"[-\u22120-9.]+ (?:\w+ )?to [-+\u22120-9.]+",
    ),
)

FRIGHTEN = Rule(
    "frighten",
    _any(
        r"\bdamag\w*|\bwear and tear\b|\b(?:worn|wore|wears?|wearing) (?:(?:the|his|her|their|a|"
        r"your) \w+ )?(?:out|away|down)\b|\bworn\b|\bdegenerat\w+|\bdeteriorat\w+|\berod(?:e|es|ed|"
        r"ing)\b",
        rf"\bweak(?:ened|er)? (?:\w+ )?{_BODY}\b|\b{_BODY} (?:is|are|was|were|had become|"
        rf"has become) (?:too )?weak\b",
        r"\bvulnerable\b|\bfragile\b|\bcrumbl\w+|\bfrayed\b|\btorn\b|\bruined\b|\bwrecked\b|"
        r"\bshredded\b|\bbrittle\b|\bbone on bone\b|\bgrind\w*",
        r"\bprone to (?:tear|injur|break|snap)\w*|\binjury[- ]prone\b|\bruptur\w+|\b(?:break|breaks|"
        r"breaking|broke) down\b|\bbreakdown of\b|\bgiv(?:es|ing) out\b",
        r"\bout of (?:place|alignment|line|joint)\b|\bslipped\b|\bmis-?align\w+|\bmalalign\w+|\bpopped out\b",
        r"\bunsafe\b|\bsafe (?:load|level|dose|range|zone|weight|limit|amount|threshold)s?\b|"
        r"\bdangerous(?:ly)?\b|\bdanger zone\b|\bharmful\b|\btoxic\b|\bcatastroph\w+",
        r"\b(?:overload|overuse|stress) injur\w+|\b(?:risk|readiness|injury|danger) (?:scores?|zones?|"
        r"levels?|bands?)\b|\bwarning (?:zone|light)s?\b|\bred (?:zone|week|flagged)\b",
        r"\b(?:red|amber|green|yellow)\b.{1,20}\b(?:amber|green|red|yellow)\b|\btraffic[- ]lights?\b",
        rf"\b(?:unstable|instability of the|faulty|defective|bad|failing) {_BODY}\b|\btime bombs?\b|"
        rf"\bsnap(?:s|ped)?\b",
    ),
    "Words about bodies work for years on those who hear them; pain changes for many reasons and hurt "
    "is not the same as harm.",
    "Name what was recorded: pain in points, weeks, flare-ups in the person's own word.",
    unless=_any(r"\bthe words?\b.{0,30}\bnot used\b"),
    negatable=False,
)

_COUNTED = "risks?|hazards?|odds|chances?|probabilit(?:y|ies)|rates?|flare-ups?|flares|bad weeks?|likelihood"
_ABSOLUTE = r"\b(?:of|in|per) (?:100|1000|1 000|\d[\d\u00a0 ]*)\b|\bpercentage points?\b"

RELATIVE = Rule(
    "relative",
    _any(
        rf"\b(?:{_COUNTED})\b.{{0,60}}\b\d+(?:\.\d+)? ?(?:%|percent|per cent) (?:higher|lower|more|less|"
        rf"fewer|greater|rise|increase|drop|decrease)\b",
        r"\b\d+(?:\.\d+)? ?(?:%|percent|per cent) (?:higher|lower|more|less|fewer|greater) (?:likely|"
        r"risk|odds|often|common|chance|frequent)",
        r"\b(?:twice|three times|four times|half|a third|\d+(?:\.\d+)? times) (?:as (?:likely|common|"
        r"often|frequent|many|large|high|much|prone)|more|less|higher)\b",
        r"(?=.*\d).*\b(?:(?:odds|risk|hazard|rate|prevalence) ratios?|relative (?:risk|odds|rate)s?)\b",
        r"\b(?:doubl|tripl|quadrupl|halv)(?:e|es|ed|ing)\b|\b\d+(?:\.\d+)?-fold\b|\btwofold\b|\bthreefold\b",
        rf"\b(?:{_COUNTED})\b.{{0,30}}\b(?:raised|rose|fell|cut|increased|lowered|decreased|dropped|grew|"
        rf"climbed|went (?:up|down)|up|down) by (?:about |nearly )?"
        r"(?:a |\d|half|one)",
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
        r"\b\d[\d\u00a0 ]* of (?:the )?\d",
        r"\bn ?= ?\d",
        r"\b\d+ ?% (?:\w+ )?interval",
        r"\b\d+ ?% (?:above|below|over|more than|under|of) (?:\w+ )?usual",
        r"\bof \d[\d\u00a0 ]*\b(?! ?%)",
        r"\b\d+ ?% (?:higher|lower|more|less|fewer|greater)",
        r"[+\u2212-]\d+ ?%",
        r"\bby more than \d+ ?%",
        r"\b\d+ ?% tails\b",
    ),
)

RULES: tuple[Rule, ...] = (CAUSE, RECOMMEND, CERTAIN, NO_EFFECT, FRIGHTEN, RELATIVE, DENOMINATOR)
"""All rules in the order they are reported."""
