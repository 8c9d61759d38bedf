"""What the wording checker knows of language: where sentences end, what denies a claim, and the rules: what
is looked for, why it is a problem, and what to do instead.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

ABBREVIATIONS = re.compile(r"\b(e\.g|i\.e|vs|cf|et al|Fig|Tab|No|Dr|approx|ca)\.(?=\s)")
END = re.compile(r"([.!?][\"'\u201d\u2019)]*)\s+(?=[\"'\u201c\u2018(\[]?[A-Z0-9\u2212+])")
QUOTED = re.compile(
    r"\"[^\"]{2,}\"|\u201c[^\u201d]{2,}\u201d|(?<!\w)'[^']{3,}'(?!\w)|\u2018[^\u2019]{3,}\u2019(?!\w)"
)
EXEMPT_HEADING = re.compile("causal", re.IGNORECASE)


def after_none_of(words: str) -> str:
    """A place behind a word, and behind none of these."""
    return "".join(rf"(?<!\b{word} )" for word in words.split()) + r"(?<=\w )"


_OWNER = (
    "(?:(?:the|their|his|her|this|that|people's|next-week|shoulder|knee|elbow|hip|tendon|more|less|number of|"
    "rate of) )*"
)
_BODY = (
    "(?:shoulder|elbow|knee|hip|back|core|wrist|ankle|neck|joint|tendon|muscle|tissue|cartilage|kneecap|"
    "body)s?"
)
_FELT = (
    "(?:pain|flare(?:-ups?|s)?|symptoms?|risk|chance|discomfort|ache|soreness|worry|stress|anxiety|fear|"
    "fatigue|mood|confidence|(?:the )?(?:knee|shoulder|elbow|hip|joint|tendon)s?)"
)
_PARTS = {
    "owner": _OWNER,
    "body": _BODY,
    "felt": _FELT,
    "state": (
        rf"{_OWNER}(?:(?!(?:in|of|for|by|with|on|at|to|from|and|or|but|that|when|if|as|while|because|before|after|"
        rf"during|is|are|was|were|has|have|had)\b)\w+ )?{_FELT}"
    ),
    "read": (
        "(?:read|interpreted|taken|treated as|understood|confirmed|replicated|noted|added|known|kept in mind|"
        "shown|seen|judged|weighed|filled)"
    ),
    "link": "(?:associat|relat|link|correlat|connect)ed",
    "links": (
        "(?:effect|association|relationship|relation|link|difference|impact|correlation|connection|"
        "bearing|influence|change)s?"
    ),
    "counted": (
        "(?:risks?|hazards?|odds|chances?|probabilit(?:y|ies)|rates?|flare-ups?|flares|bad weeks?|likelihood)"
    ),
    "moved": "(?:raise[sd]?|rose|fell|cut|increased|lowered|decreased|dropped|grew|climbed|up|down)",
    "percent": r"\d+(?:\.\d+)? ?(?:%|percent|per cent)",
    "compared": "(?:higher|lower|more|less|fewer|greater)",
    "be": "(?:is|are|was|were)",
    "none": r"(?:not|cannot|\w+n't|never|nothing|nobody|no one|none|neither|no)",
    "says": (
        "(?:shows?|shown|means?|meant|proves?|proved|imply|implies|tell|told|claims?|concludes?|concluded|"
        "says?|said|known|establish|establishes|demonstrate[sd]?|read as|settle|decide|evidence that|"
        "proof that|be taken)"
    ),
    "do": "^(?:please |so,? |therefore,? )?",
    "what": r"(?!(?:one|any|limits?)\b)\w+",
    "clerical": "(?:rows?|files?|columns?|software|tables?|dates?|codes?|data|study|analysis|model|page)",
    "verb": after_none_of("and or of with in after before by for the a an no our these main"),
}
"""Parts that a pattern names as <part>; after <verb> a verb is none that is made an adjective ('weeks of
reduced pain')."""


def words(text: str, frame: str = r"\b(?:{})\b") -> re.Pattern[str]:
    """One pattern from alternatives, one a line; each begins and ends with a word unless framed otherwise."""
    lines = (re.sub(r"<(\w+)>", lambda m: _PARTS[m[1]], line.strip()) for line in text.strip().splitlines())
    return re.compile(frame.format("|".join(lines)), re.IGNORECASE)


def _signs(text: str) -> re.Pattern[str]:
    return words(text, "(?:{})")


DENIED = words(r"""
    <none>\b[^.;:]{0,60}?\b<says>
    whether|wrong to (?:conclude|say|think|claim)|if it were|to (?:ask|see) if|question of what
    causal(?:ly)? (?:reading|language|claim|inference|question|interpretation|assumptions?)
    read (?:this )?causally|not (?:a|the) cause|not causal|sequence, not
    nothing\b[^.;:]{0,40}\b(?:drives|causes)|that nothing
    """)


@dataclass(frozen=True)
class Rule:
    """One rule: `finds` matches a slip, `unless` a sentence in which it is none, `about` what a sentence must
    speak of.

    `negatable` rules are lifted when the sentence denies or leaves open what is claimed ('does not show that
    ...').
    """

    name: str
    finds: re.Pattern[str]
    why: str
    advice: str
    unless: re.Pattern[str] | None = None
    about: re.Pattern[str] | None = None
    negatable: bool = False


CAUSE = Rule(
    "cause",
    words(r"""
        (?<!\ba )(?<!\bno )(?<!\bany )(?<!\bcommon )caus(?:e|es|ed|ing|ation)
        <be> (?:a|one|the) (?:\w+ )?causes? of|causal(?:ly)? (?:effect|link|role|relation\w*|factor)
        culprits?|to blame(?: for)?|(?:the )?faults? of|recipes? for
        <be> (?:\w+ )?down to(?! (?:\d|zero|none|one|two|three|half))
        (?:is|are|was|were|as) (?:an? |the |one |important )*(?:\w+ )?risk factors?
        (?:due|owing|attribut(?:able|ed)|thanks) to(?! (?:start|begin|end|train|return|finish|stop|leave))
        because of|at the root of|(?:as a )?(?:result|consequence|product) of
        (?:effects?|impact|influence|bearing) (?:of\b.{0,60}? )?(?<!lies )(?:on|upon)|\w+(?:ing|ive) effects?
        <be> (?:\w+ )?(?:protective|preventive)|predispos\w+|mechanisms? (?:behind|of|for)
        (?:is|are|was|were|that's|explains?|explained) (?:the reason )?why|the reasons? (?:why|for|that)
        responsible for|<felt>\b[^.;]{0,30}\bbecause (?:the|they|he|she|people|of|load|training|sleep|stress)
        (?:lead|leads|led|leading) (?:\w+ )?to|(?:resulted|resulting|<verb>results?) (?:in|from)
        contribut(?:e|es|ed|ing) to|(?:stem|stems|stemmed|arise|arises|arose|originate\w*) from
        account(?:s|ed) for|underl(?:ies|ie|ay)
        (?<!data-)(?<!data )(?:trigger|provok|prevent|protect|induc|precipitat|elicit|evok)\w*
        (?:exacerbat|alleviat|mitigat|influenc|affect|fuel|spark|ignit|avert)\w*
        (?:give|gives|gave|giving) rise to|(?:set|sets|setting) (?:off|in motion)
        (?:bring|brings|brought|bringing) (?:about|on|down|relief)
        (?:determin|dictat|govern|shap)(?:es|ed|e) (?:how|the next|next|what|whether|pain)
        driv(?:e|es|ing|en)|drove|(?:feeds?|fed) (?:\w+ )?(?:in)?to|feeds? <state>
        (?:pays?|paid) (?:for (?:it|that|this)|off)|works? by|(?:did|does|do) the trick|work(?:s|ed) wonders
        would have (?:avoided|prevented|stopped|been avoided|been prevented)
        (?:plays?|played) an? (?:\w+ )?(?:role|part)
        ma(?:k|d)(?:e|es|ing) it (?:more|less) likely
        ma(?:k|d)(?:e|es|ing) <owner><felt>\b.{0,20}\b(?:worse|better|hurt|settle|flare|feel|sore|calm)\w*
        ma(?:k|d)(?:e|es|ing) (?:\S+ ){1,3}(?:sore|hurt|flare|(?:more|less) (?:sore|worried|stressed|painful))
        (?:is|was|are|were) (?:all it took|enough) to (?:settle|calm|ease|flare|bring|stop|upset)
        <felt> <be> (?:reduc|increas|lower|rais|worsen|improv|eas|chang)ed by (?!\d|half|about|one)\w+
        turn(?:s|ed|ing)? .{0,30}\binto <state>
        <verb>(?:reduc|increas|decreas|rais|worsen|improv|eas|elevat)(?:e|es|ed|s)? <state>
        (?:reduc|increas|decreas|rais|worsen|improv|eas)ing <state>
        (?:aggravat|reliev|eliminat|diminish|lessen|dampen|heighten|amplif)\w{0,3} <state>
        (?:halv|cut|soften|sooth|cur|heal|fix)\w{0,3} <state>
        (?:irritat|inflam|promot|sensiti[sz]|stok|blunt|boost|curb)\w{0,3} <state>
        (?:chang|alter|modif|impact|disturb|disrupt)(?:e|es|ed|s|ing|ies|ied)? <state>
        (?:lowers|lowered|lowering|to lower|calms|calmed|settles|settled|helps|helped|help) <state>
        (?:produc(?:e|es|ed|ing)|creat(?:e|es|ed|ing)|generat(?:e|es|ed)) <state>
        (?:gives?|gave) (?:\w+ )?(?:\w+ )?(?:calmer|less|more|fewer|worse|better|sore)
        produc(?:e|es|ed|ing) (?:more|less|worse|fewer)
        (?:keeps?|kept|hold|holds|held|push|pushes|pushed|drag|drags) <owner><felt> (?:away|down|low|up|off)
        (?:keeps?|kept|hold|holds|held) <owner><felt> (?:at bay|in check|under control)
        brought <owner><felt>|(?:set|sets) (?:off|up) (?:the|his|her|their|a)
        """),
    "A log shows what came after what; it does not show that one brought the other about.",
    "Say the sequence: 'weeks like this were followed by ...'.",
    unless=words(r"(?:influence|effect|impact)s? (?:of .*)?on the (?:estimate|interval|model|result)s?"),
    about=words(r"""
        <felt>|<body>|pain\w*|sore\w*|hurt\w*|ach(?:es|ing|y)|worse|better|calm\w*|worr\w+|stress\w*|effort
        load\w*|train\w*|lift\w*|press\w*|pull\w*|squat\w*|jump\w*|sets|deload\w*|rest|sleep\w*|slept|nights?
        exercis\w*|programme|heav\w+|hard\w*|light\w*|volume|complaints?|ratings|weeks? (?:before|after|that)
        """),
    negatable=True,
)

RECOMMEND = Rule(
    "recommend",
    words(r"""
        (?:should|must|ought to|has to|have to|had better)\b(?! (?:not )?(?:be|been)? ?<read>)
        (?:recommend|recommends|recommended|recommendation|advise|advised|advises|advisable)
        encouraged? to|urged? to|prescribe[ds]?|(?:can|may) safely
        (?:advice|take-home(?: message)?|recommendation) (?:is|to|for)|(?:our|the|my) message (?:is|to|for)
        needs? to (?!be <read>)\w+|needs? (?:an? |more |some |less )+(?:deload|rest|break|sleep|recovery)
        (?:pays?|time|better|tell (?:my|our) \w+|going to have) to \w+
        <do>(?:avoid|keep|do not|don't|never|always|make sure|ensure|limit|reduce|stop|start|try) <what>
        <do>(?:consider|aim|stick|build|train|rest|plan|monitor|watch|take|lower|cut|increase|add|use) <what>
        <do>(?:leave|choose|wait) <what>
        (?:^|(?<=, ))(?:(?:back|ease) off|hold back|slow down|(?:cut|drop|lower|reduce|halve|skip) the)
        it (?:is|seems|may be|would be) (?:best|better|wise|important|essential|crucial|vital|necessary)
        it (?:is|seems|may be|would be) (?:sensible|prudent|safer|advisable|worth)
        (?:we|i) (?:would |do )?(?:suggest|propose|urge|encourage)
        the (?:sensible|wise|prudent|best|right|safest) (?:course|thing|choice|step|plan|way) (?:is|would be)
        supports? (?:lowering|reducing|limiting|cutting|raising|keeping|avoiding|the use of)
        would (?:benefit|do well|be wise|be better off)
        <be> (?:to be avoided|best avoided|warranted|indicated)
        """),
    "A recommendation claims that doing something would change what follows; a case series cannot "
    "carry that.",
    "Describe what was seen and leave the decision to the person and their clinician.",
    unless=words(r"""
        authors? (?:should|must)|(?:what|which).{0,30}ought to do|should (?:not )?be read
        what (?:one|a|any) person should|advises nobody
        <clerical> (?:should|must|ought to|has to|have to|needs? to)
        """),
    negatable=True,
)

CERTAIN = Rule(
    "certain",
    words(r"""
        prov(?:e|es|en|ing)|proved(?! (?:hard|easy|difficult|too|to be))|proof|demonstrat(?:e|es|ed|ing)
        confirm(?:s|ed)? (?:the|that|our|what)|^clearly|(?:overwhelming|compelling|solid) (?:evidence|proof)
        clearly (?:\w+ )?(?:show|indicat|demonstrat|com|preced|follow|relat|link)\w*
        it is (?:now )?(?:clear|certain|obvious|evident|a fact|known) that|for (?:sure|certain)
        (?:no|beyond|without)(?: a| any| all)? (?:doubt|question|dispute|exception)|once and for all
        (?<!nearly )(?<!almost )always(?! (?:<read>|made|asked|computed|recorded|rated|kept|used|leads?))
        invariably|inevitabl[ey]|certainly|of course|every time|without fail
        (?:now |well |firmly )?established that|establish(?:es|ed)? (?:that|the)|we (?:now )?know that
        settles? (?:the|this|that|it|once)\b|cannot be (?:denied|doubted|disputed|questioned)
        undeniabl[ey]|undoubtedly|(?<!positive )definite(?:ly)?|definitive(?:ly)?|conclusive(?:ly)?
        obvious(?:ly)?|unquestionabl[ey]|unequivocal(?:ly)?|indisputabl[ey]|irrefutabl[ey]|unmistakabl[ey]
        categorical(?:ly)? (?:show|state)\w*|guarantee[sd]?|(?:evidence|it|finding|result)s? <be> certain
        leaves? no room for\b.{0,20}\bdoubt
        will (?:\w+ )?(?:get|have|suffer|develop|snap|flare|hurt|feel|end up|be in pain|pay)
        """),
    "One log with wide intervals settles nothing for certain.",
    "Give the interval, what it rules out and what it leaves open.",
    negatable=True,
)

NO_EFFECT = Rule(
    "no_effect",
    words(r"""
        no (?:\w+ ){0,2}<links>|not? (?:\w+ )?<link>|(?:were?n't|wasn't) <link>
        unrelated to|(?:is|are|was|were|seem|seemed) unrelated|irrelevant|unaffected by|ineffective
        independent of (?:load|pain|sleep|stress|effort|worry|training|each other)|nothing to do with
        had nothing
        (?:do|does|did)(?: not|n't) (?:matter|affect|influence|change|alter|differ|make a difference)
        (?:do|does|did)(?: not|n't) (?:play a|predict|impact|depend on (?:load|sleep|stress|effort|worry))
        neither\b.{0,40}\bnor\b.{0,40}\b(?:matter|associat|relat)\w*|no different|no (?:worse|better)
        pain was (?:just )?the same|just as (?:much|often|likely|good|bad)|identical\b.{0,30}\bpain
        (?:association|relationship|link|effect|difference)\b.{0,40}\b<be> (?:absent|zero|nil|non-existent)
        no evidence (?:of|for|that)|play(?:s|ed)? no (?:role|part)|ma(?:de|kes?) no (?!use|claim|assum)\w+
        (?:can|could) be (?:ruled out|excluded|dismissed)\b.{0,20}\bas|failed to (?:affect|change)
        """),
    "'Not seen' is not 'absent': an interval leaves differences open on either side of none.",
    "Give the estimate with its interval, and say which differences it rules out.",
    unless=_signs(r"""
        (?<!% )(?<!confidence )(?<!credible )\binterval|\brul(?:e|es|ed) out\b(?! as)|\bpractically\b
        \bno different \(|\bline is no difference\b|\bof a size that matters\b
        \bno (?:clear|sure|certain|marked) .*[-\u22120-9.]+ (?:\w+ )?to [-+\u22120-9.]+
        \bno changes? (?:of|was made|were made|to)\b
        """),
)

FRIGHTEN = Rule(
    "frighten",
    words(r"""
        damag\w*(?! (?:files?|rows?))|wear and tear|worn|degenerat\w+|deteriorat\w+|erod(?:e|es|ed|ing)
        (?:worn|wore|wears?|wearing) (?:(?:the|his|her|their|a|your) \w+ )?(?:out|away|down)
        weak(?:ened|er)? (?:\w+ )?<body>|<body> (?:is|are|was|were|had become|has become) (?:too )?weak
        vulnerable|fragile|crumbl\w+|frayed|torn|ruined|wrecked|shredded|brittle|bone on bone|grind\w*
        prone to (?:tear|injur|break|snap)\w*|injury[- ]prone|ruptur\w+|(?:break|breaks|breaking|broke) down
        breakdown of|giv(?:es|ing) out|out of (?:place|alignment|line|joint)|slipped|mis-?align\w+|malalign\w+
        popped out|dangerous(?:ly)?|danger zone|harmful|toxic|catastroph\w+|time bombs?|snap(?:s|ped)?
        safe (?:load|level|dose|range|zone|weight|limit|amount|threshold)s?
        (?:overload|overuse|stress) injur\w+
        (?:risk|readiness|injury|danger) (?:scores?|zones?|levels?|bands?)|warning (?:zone|light)s?
        red (?:zone|week|flagged)|high-risk (?:lifter|athlete|patient|runner|player|client|person|people)s?
        (?:red|amber|green|yellow)\b.{1,20}\b(?:amber|green|red|yellow)|traffic[- ]lights?
        (?:unstable|instability of the|faulty|defective|bad|failing) <body>
        """),
    "Words about bodies work for years on those who hear them; pain changes for many reasons and hurt "
    "is not the same as harm.",
    "Name what was recorded: pain in points, weeks, flare-ups in the person's own word.",
    unless=words(r"the words?\b.{0,30}\bnot used"),
)

SAFE = Rule(
    "frighten",
    words(r"""
        (?:is|are|was|were|be|seems?) (?:not |never |(?:\w+ly|quite) )?safe(?:r|st)?\b(?! place)
        unsafe|safe(?:ly)? to (?:add|train|lift|load|raise|increase|go|squat|press|pull|continue|return)
        """),
    "A log does not try what is safe; said of a load or a lift, it makes the rest sound dangerous.",
    FRIGHTEN.advice,
    unless=words("safe or (?:not|unsafe)"),
    negatable=True,
)

RELATIVE = Rule(
    "relative",
    words(r"""
        <counted>\b.{0,60}\b<percent> (?:<compared>|rise|increase|drop|decrease)
        <percent> <compared> (?:likely|risk|odds|often|common|chance|frequent)
        (?:twice|(?:three|four|\d+(?:\.\d+)?) times|half|a third) as (?:likely|common|often|frequent|many)
        (?:twice|(?:three|four|\d+(?:\.\d+)?) times|half|a third) (?:as (?:large|high|much|prone)|<compared>)
        (?=.*\d).*\b(?:(?:odds|risk|hazard|rate|prevalence) ratios?|relative (?:risk|odds|rate)s?)
        (?:doubl|tripl|quadrupl|halv)(?:e|es|ed|ing)|\d+(?:\.\d+)?-fold|twofold|threefold
        <counted>\b.{0,30}\b<moved> by (?:about |nearly )?(?:a|half|one|\d+)|<moved>\b.* <counted>\b.* by \d+
        """),
    "A relative figure alone hides how common the thing is.",
    "Say the absolute first: 'about 12 of 100 such weeks, against 10 of 100'.",
    unless=words(r"(?:of|in|per) (?:100|1000|1 000|\d[\d\u00a0 ]*)|percentage points?"),
)

DENOMINATOR = Rule(
    "denominator",
    _signs(r"\b<percent>"),
    "A share without its denominator cannot be weighed.",
    "Write the count first: '612 of 1 040 weeks (59 %)'.",
    unless=_signs(r"""
        \b\d[\d\u00a0 ]* of (?:the )?\d|\bn ?= ?\d|\bof \d[\d\u00a0 ]*\b(?! ?%)|[+\u2212-]\d+ ?%
        \b\d+ ?% (?:\w+ )?interval|\b\d+ ?% (?:above|below|over|more than|under|of) (?:\w+ )?usual
        \b\d+ ?% <compared>|\bby more than \d+ ?%|\b\d+ ?% tails\b
        """),
)

RULES: tuple[Rule, ...] = (CAUSE, RECOMMEND, CERTAIN, NO_EFFECT, FRIGHTEN, SAFE, RELATIVE, DENOMINATOR)
"""All rules in the order they are reported."""
