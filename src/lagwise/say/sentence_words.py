"""Words in which students say a difference: directions, units, who was counted, what came after what."""

from __future__ import annotations

from collections.abc import Iterable

from lagwise.say.checker_rules import words


def _set(text: str) -> frozenset[str]:
    return frozenset(text.split())


UP = _set("""
    higher more greater larger bigger increase increased increases rise rises rose rising up above stronger
    longer additional extra plus grew grow over elevated""")
DOWN = _set("""
    lower less fewer smaller decrease decreased decreases fall falls fell falling drop drops dropped down
    below reduced weaker shorter minus shrank sank under""")
WORSE, BETTER = _set("worse worsened"), _set("better improved eased")
UNITS = {"point": "(?:points?|pts?)", "hour": "(?:hours?|hrs?|h)"}
"""How a unit may be written."""
IN_UNITS = _set("point points pt pts hour hours hr hrs h")
STEPS = {"week": "(?:weeks?|weekly)", "day": "(?:days?|daily)", "": "(?:steps?|days?|periods?)"}
"""How a step may be called; under '' one of another length."""
BETWEEN = _set("to and through until till bis , ; / - … .. |")
"""What may stand between two ends of an interval."""
BESIDE = _set("of a an the at most about up as much least roughly on scale end ends upper limit =")
"""Words that may stand there as well and say nothing of it."""
SYNONYMS = {
    "pain": "pain(?:s|ful)? hurt(?:s|ing)? aches? aching sore(?:ness)?",
    "sleep": "sleep(?:ing)? slept",
    "worry": "worr(?:y|ies|ied)",
    "load": "load(?:s|ed)? train(?:s|ed|ing)? sets? volume workload exercis(?:e|es|ed|ing) jumps? spikes?",
}
"""Other words for what is rated or done, by the word that stands in its name."""
EMPTY = _set("about of the to a an in and own pain")
"""Words of a variable's name that do not tell it from another."""
LATER = words(r"""
    follow(?:s|ed|ing)?|after(?:wards?)?|next|later|subsequent(?:ly)?|preced(?:e|es|ed|ing)|prior to|then came
    (?:came|comes?|went|goes|lay|stood) (?:before|first)
    """)
NOT_LATER = words(r"""
    after (?:adjust|account|control|tak|hold|allow|correct)\w*|follow[- ]ups?
    (?:people|persons|participants|patients|who|were|was) followed(?! by)
    """)
SAME = r"\b(?:(?:in|on|during|within) (?:the|that|this) (?:very )?same {step}|same-{step}|at the same time)\b"
HELD = words("held|equal(?:ly)?|adjust(?:ed|ing|ment)?|same pain|account(?:s|ed|ing)?")
COUNTED = r"(?<![.\d])(\d+) (?:(?:coded|different|recorded|single|individual|adult|known) )?"
PEOPLE = words(
    r"""
    people|persons?|participants?|patients?|individuals?|adults?|clients?|members?|athletes?|lifters?|trainees?
    subjects?|volunteers?|men|women
    """,
    COUNTED + r"(?:{})(?![\w-])",
)
CLAIMS = words(r"""
    ma(?:k|d)(?:e|es|ing)|adds?|added|costs?|gives|gave|brings?|push(?:es|ed)?|drain(?:s|ed)?|boost(?:s|ed)?
    no (?:effect|influence|impact)(?: on)?|nothing to do with|because
    ensur(?:e|es|ed)|makes sure|definitely|certainly|surely|always
    """)
ADVICE = words(r"""
    you|your|yourself|will|should|shouldn't|must|ought|avoid|recommend\w*|advi[sc]e\w*|better not
    (?:can|may|might|could) expect
    """)
OTHERS = words(
    r"""
    <who> who\b(?![^.;]{0,60}\b(?:usual|own|normal)\b)[^.;]{0,40}\b(?:more|less|harder|higher|lower)
    than (?:other|those) (?:people|who)
    """.replace("<who>", "(?:people|persons|those|patients|participants|anybody)")
)
VERBS = "(?: (?:was|were|is|then|ratings?|levels?|scores?|being|lay|on average))*"
"""What may stand between a rating and how it differed."""
FRACTIONS = {"half": 2, "third": 3, "quarter": 4, "fifth": 5, "sixth": 6, "eighth": 8, "tenth": 10}
ONES = {
    word: number
    for number, word in enumerate(
        [
            *(
                "zero",
                "one",
                "two",
                "three",
                "four",
                "five",
                "six",
                "seven",
                "eight",
                "nine",
                "ten",
                "eleven",
            ),
            *("twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen"),
        ]
    )
}
TENS = {
    f"{word}ty": 10 * number
    for number, word in enumerate(["twen", "thir", "for", "fif", "six", "seven", "eigh", "nine"], start=2)
}
_OWN = r"(?:(?:the|their|his|her|its|a|an|one's|own|person's|people's|each) )*"
_USUAL = r"(?:usual|normal|habitual|average|typical|customary)(?: (?:one|ones|level|amount))?"
_MORE = "(?:more|higher|greater|heavier|increased|raised|extra|bigger|larger|harder|high|heavy|hard|big)"
_LESS = "(?:less|lower|fewer|lighter|reduced|decreased|smaller|easier|low|light|easy)"


def either(forms: Iterable[str]) -> str:
    """One pattern of several words."""
    return rf"(?:{'|'.join(forms)})"


def named(label: str) -> str:
    """A pattern of the words by which a variable may be called, from its plain name."""
    own = [word for word in label.lower().split() if word not in EMPTY] or label.lower().split()
    return either(SYNONYMS.get(word, rf"{word}s?").replace(" ", "|") for word in own)


def compared(done: str, step: str, percent: str) -> list[tuple[int, str]]:
    """Patterns of how steps differ in an exposure, each with its side: 1 above what is usual, -1 below.

    `done` is a pattern of the exposure's names, `percent` the planned contrast.
    """
    usual = rf"[- ]{_OWN}(?:{_USUAL}|it\b)(?: {done})?"
    kind = "(?:(?:training|weekly|daily|working|total|physical|usual) )?"
    was = rf"\b{done}(?: (?:was|were|is|lay|of|by|being))?(?: \d+ ?%)?"
    patterns = {
        1: [
            rf"\b(?:above|over|beyond|exceeding|(?:{_MORE}(?: {done})?) than){usual}",
            rf"\b{_MORE}[- ]{kind}{done}\b",
            rf"{was} (?:more|higher|up|greater|harder|above)\b",
            rf"{was} (?:jump|spike|increase|rise|peak)s?\b",
            rf"\b{percent} ?% (?:more|higher|greater|up|{done})\b",
            rf"\bhalf as much again(?: as {_OWN}{_USUAL})?",
            rf"\b(?:hard|harder|heavy|heavier|big|bigger|high|higher)[- ]{step}\b",
        ],
        -1: [
            rf"\b(?:below|under|beneath|(?:{_LESS}(?: {done})?) than){usual}",
            rf"\b{_LESS}[- ]{kind}{done}\b",
            rf"{was} (?:less|lower|down|below)\b",
            rf"{was} (?:drop|decrease|fall)s?\b",
            rf"\b(?:easy|easier|light|lighter|low|lower)[- ]{step}\b",
        ],
    }
    return [(side, pattern) for side, listed in patterns.items() for pattern in listed]
