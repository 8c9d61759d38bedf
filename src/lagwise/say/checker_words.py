"""What the wording checker knows of language: words of claims by the part they play in a sentence, where
sentences end, and what takes a claim back.
"""

from __future__ import annotations

import re


def words(text: str, frame: str = r"\b(?:{})\b") -> re.Pattern[str]:
    """One pattern from alternatives, one or more a line; each begins and ends with a word unless framed
    otherwise.

    `<part>` stands for the words of a part, `~verb` for every regular form of a verb; a backslash at the end
    of a line goes on.
    """
    lines = (_filled(line.strip()) for line in re.sub(r"\\\n\s*", "", text).strip().splitlines())
    return re.compile(frame.format("|".join(lines)), re.IGNORECASE)


def after_none_of(words: str) -> str:
    """A place behind a word, and behind none of these."""
    return "".join(rf"(?<!\b{word} )" for word in words.split()) + r"(?<=\w )"


def _filled(text: str) -> str:
    text = re.sub(r"~([\w\[\]]+)", lambda m: _forms(m[1]), text)
    return re.sub(r"<(\w+)>", lambda m: PARTS[m[1]], text)


def _forms(verb: str) -> str:
    if verb.endswith("e"):
        return f"{verb[:-1]}(?:e[sd]?|ing)"
    if verb.endswith("y") and verb[-2] not in "aeo":
        return f"{verb[:-1]}(?:y|ie[sd]|ying)"
    return f"{verb}(?:{verb[-1]}?(?:ed|ing)|e?s)?"


PARTS = {
    "none": r"(?:not|cannot|\w+n[\u2019']t|never|nothing|nobody|no one|none|neither|nor|no|without|hardly)",
    "gap": r"(?:[\w\u2019'-]+ ){0,3}?",
    "near": (
        r"(?:(?!(?:in|of|for|by|with|on|at|to|from|and|or|but|that|when|if|as|while|because|before|after|during|"
        r"is|are|was|were|has|have|had|not)\b)[\w\u2019'-]+ ){0,4}?"
    ),
    "percent": r"\d+(?:\.\d+)? ?(?:%|percent|per cent)",
    "verb": after_none_of("and or of with in after before by for the a an no our these main"),
    "finite": after_none_of("and or of with in by the a an no"),
}
"""Each may speak of those above it. `near`: words of the same noun phrase; `verb`, `finite`: before a verb,
which behind these words would be an adjective or a noun ('weeks of reduced pain')."""

_LEXICON = r"""
be: is are was were be been being am ~remain ~seem ~appear
whose: the this his her their my your our its
body: shoulders? elbows? knees? hips? (?<=the_|his_|her_|low_|wer_|our_|eir_|ore_|ble_)backs? core wrists?
    ankles? necks? joints? tendons? muscles? tissues? cartilage kneecaps? bod(?:y|ies) spines? dis[ck]s?
    hamstrings? calf calves achilles legs? bones? arms? ligaments? meniscus cuffs? glute(?:s|als?|us)? quads?
    quadriceps patellas? labrum pelvis f(?:oo|ee)t heels? fingers? thumbs? forearms? biceps triceps groins?
    shins? thighs? fascia tendinopath(?:y|ies)
felt: pain(?:s|ful|-free)? flare(?:s|d|-?ups?)? flaring symptoms? discomfort ach(?:es?|ing|y) sore(?:ness)?
    worr(?:y|ies|ied) anxiety fears? fatigue mood confidence recovery complaints? disability setbacks?
    relapses? twinges? injur(?:y|ies|ed) health well-?being stiff(?:ness)? tenderness irritation suffering
    distress episodes? outcomes? function hurts? hurting trouble swelling cramps? sprains? impingement \w+itis
    <body>
done: (?:over|under)?load(?:s|ed|ing)? train\w* lift\w* press\w* pull\w* squat\w* jump\w* sets reps deload\w*
    deadlift\w* bench\w* dips rest\w* sleep\w* slept nights? exercis\w* program\w* heav\w+ hard\w* light\w*
    volume ramp\w* spikes? taper\w* runn?\w* mile\w* efforts? sessions? technique\w* stress\w* steps plan
    cues? education explanation weeks? walk\w* rehab\w* strength\w* progress\w* thr[eo]w\w* serv(?:es?|ing)
    swim\w* climb\w* cycl\w+ rowing hops hopping sprint\w* plyometric\w* eccentrics? isometrics? hills?
    distance intensity frequency match(?:es)? shoes insoles brac(?:es?|ing) tap(?:es?|ing) therapy treatment
    massage stretch\w* injections? interventions? (?:in)?activity
worse: worse better calm\w* eas(?:ed?|ier) quiet\w* sorer sorest settl\w+ severe vanish\w* gone heal\w*
    improv\w+ worsen\w*
acts: ~aggravate ~exacerbate ~alleviate ~mitigate driv(?:es?|ing|en) drove ~fuel ~ignite ~stoke ~predispose
    ~culminate underl(?:y|ies?|ay|ying) underpin\w* ~shield ~safeguard ~counteract
    (?<!data-)(?<!data_)(?<!word-)(?:trigger|provok|prevent|protect|induc|precipitat|elicit|evok|avert|
    spark)\w*
shifts: ~reduce lower(?:s|ed|ing) ~decrease ~raise ~increase ~elevate ~worsen ~improve ~ease ~relieve ~lessen
    ~dampen ~diminish ~heighten ~amplify ~boost ~curb ~blunt ~halve cut(?:s|ting)? ~soften ~soothe ~cure ~heal
    ~fix ~irritate ~inflame ~promote ~sensiti[sz]e ~calm ~settle ~help ~change ~alter ~modify ~impact ~disturb
    ~disrupt ~produce ~create ~generate ~eliminate ~shorten ~prolong ~accelerate ~hasten ~resolve ~reverse
    ~shape ~determine ~dictate ~govern ~yield ~foster feeds? fed feeding ~minimi[sz]e ~tame ~banish ~inflict
    ~impair ~hinder ~hamper ~enhance ~restore ~suppress upset(?:s|ting)? ~ward ~intensify ~deepen ~magnify
    breeds? bred breeding spur(?:s|red)? ~invite ~ruin ~perpetuate ~stave ~fend ~chase ~unlock ~strain ~spare
    ~strengthen ~weaken ~overload ~solve ~cause ~sustain ~maintain ~stop ~transform ~rescue ~save
    ~stabili[sz]e ~aid ~facilitate ~speed ~harm ~tax ~toughen
shifted: (?:reduction|increase|rise|fall|drop|improvement|decline|change|decrease|gain|surge|chance|rate|
    number)s? relief worsening risk odds likelihood frequency severity course return
state: <near>(?:<shifted>_(?:in|of|from|on|for)_)?<near>(?:<felt>|risks?|stress)
noted: (?:includ|preced|show|follow|record|rat|describ|report|ask|measur|log|count|mention|not|enter|list|
    compar|us|mark|nam|call|scor|cover|summari[sz]|plot|divid|separat|exceed|reach|examin|test|rememb|miss|
    suggest|accompani|explain|collect|diagnos|discuss|code|shar|fill|complet|judg|expect|indicat|confirm|
    estimat|decid|need|limit|answer|want|lik|watch|support|contradict|allow|defin|present|replac|repeat|
    consider|treat|adjust)(?:e?s|ed) [iw]s has had was this as its less unless across always perhaps thus plus
    times sessions nights days months sets reps weeks years
linked: (?:associat|relat|link|correlat|connect|coupl)ed (?:predict|covar)\w+ depend(?:ed|ent)?
links: effects? associations? relationships? relations? links? differences? impact correlations? connections?
    bearing influence changes? signal pattern trend dependence contribution ties? role
methods: estimat\w+ intervals? models? errors? coefficients? posteriors? priors? bias\w* precision analys[ie]s
    power width slopes? intercepts? lags? cent(?:ring|ering) fit(?:s|ted)? convergence missing\w* gaps
    round\w+ software files? rows? columns? numbers? parameters? variances? scales? dates? adjust\w+ shuffl\w+
    results? regression distributions? samples? simulat\w+ challenges? conclusions? questions? reading
    interpretation terms? comparisons? wording answers? findings? measurement
clerical: <methods> tables? codes? data stud(?:y|ies) page readers? research trials? authors? work section
    figures? records? plots? reports? reviewers? referees? key form notebooks?
one: he she (?:this_)?(?:client|patient|participant|person|athlete|lifter|runner|player|swimmer|
    climber)_\w?\d+ this_(?:client|patient|participant|person|athlete|lifter|runner|player|swimmer|climber|
    man|woman)
who: you your_\w+ <one> they (?:client|patient|participant|person|athlete|lifter|runner|individual|member|
    player|coach|clinician|practitioner|therapist|physio|swimmer|worker|cyclist|climber|rower|thrower|woman|
    man|teacher|trainer|doctor)(?:e?s)? people every(?:one|body) any(?:one|body) someone those who women men
ill: ~flare ~relapse hurt suffer develop ~improve ~recover worsen struggle regress break thank benefit snap
    feel settle heal ache deteriorate pay respond limp be_(?:\w+_)?(?:sore|injured|fine|pain-free|better|
    worse|next|hurt|in|back|free) end_up go_downhill get_\w+ drop fall (?:have|see|need|experience|notice|
    stay)_(?:an?|more|less|fewer|no|pain|free|their|his|her|your)
read: read interpret\w* taken treated understood confirmed replicated noted added known? kept shown seen
    judged weighed filled able seek bear remember look write counted
stand: <read> given said stated report\w* record\w* test\w* find found near stay end go rise there match agree
    show fit lie sum equal differ belong held? have about be(?!_(?:\w+ly_)?(?!asked)\w+ed) count\w* answer\w*
    describ\w+ expect\w* not ask measure[ds]?
must: should must ought_to has_to have_to had_better needs?_to
counted: risks? hazards? odds chances? probabilit(?:y|ies) rates? flare-ups? flares bad_weeks? likelihood
moved: raise[sd]? rose fell cut increased lowered decreased dropped grew climbed up down
compared: higher lower more less fewer greater
says: shows? shown means? meant proves? proved imply implies tells? told claims? concludes? concluded says?
    said known? establish establishes demonstrate[sd]? read settle decide evidence proof taken expect
    conclusions? possible_to speak_of contradict\w*
why: (?:due|owing|attribut(?:able|ed)|thanks|ascribed|put_down|credited|traced|traceable|traced_back)_to
    because_of on_account_of by_virtue_of in_the_wake_of at_the_hands_of
"""
for _line in re.sub(r"\n +", " ", re.sub(r"\|\n +", "|", _LEXICON)).strip().splitlines():
    _name, _, _text = _line.partition(": ")
    PARTS[_name] = _filled(f"(?:{'|'.join(_text.split())})").replace("_", " ")
PARTS["facts"] = _filled(
    r"(?!.{0,60}\b(?:<methods>|rat(?:ed|ings?)|record(?:ed|s)?|logged|written|wrote|few|plan|moved|born)\b)"
)
PARTS["start"] = (
    r"(?:^|(?<=[a-z0-9], )(?=\w+ your)|(?<=please )|(?<=\bso )|(?<=^then )|(?<=^now ))"
    r"(?:please |so,? |therefore,? |always |never |just |then )?"
)
"""Where an order begins."""

ABBREVIATIONS = re.compile(r"\b(e\.g|i\.e|vs|cf|et al|Fig|Tab|No|Dr|approx|ca)\.(?=\s)")
END = re.compile(r"([.!?][\"'\u201d\u2019)]*)\s+(?=[\"'\u201c\u2018(\[]?[A-Z0-9\u2212+])")
QUOTED = re.compile(
    r"\"[^\"]{2,}\"|\u201c[^\u201d]{2,}\u201d|(?<!\w)'[^']{3,}'(?!\w)|\u2018[^\u2019]{3,}\u2019(?!\w)"
)
EXEMPT_HEADING = re.compile("causal", re.IGNORECASE)
CLAUSE = re.compile(r"[;:]\s|,?\s(?:but|yet|however|although|whereas)\s", re.IGNORECASE)
"""Where the reach of a denial ends."""

FRAMES = words(r"""
    <none>\b[^.;:]{0,60}?\b<says>|whether|wrong to \w+|if (?:it|load|this|that|they|she|he) (?:had|were|did)
    (?:ask|wonder|discuss|debate)(?:s|ed|ing)?|heard?|questions? of|to see if
    to (?:know|find out|learn|test) if
    causal(?:ly)? (?:readings?|languages?|claims?|inferences?|questions?|interpretations?|assumptions?)
    read (?:this )?causally|not (?:a|the) cause|not causal|sequence, not|causes? nothing|what (?:one )?would
    nothing\b[^.;:]{0,40}\b(?:drives|causes)|that nothing|neither\b[^.;:]{0,40}\bnor
    (?:may|might|could) be that|(?:it )?(?:may|might|could) (?:also )?have been|how (?:well|much|far|often)
    perhaps|maybe|(?:hard|difficult|impossible|early) to (?:know|say|tell|judge)|if people
    (?:is|remains) (?:possible|conceivable|unclear|unknown|open)|one (?:reading|explanation|possibility)
    (?:named|listed|described|mentioned|suspected|blamed) (?:\w+ )?as|may reflect|alternative explanations?
    hypothes[ie]s (?:\w+ )?(?:was|is|were) that|(?:idea|notion|claim|belief|assumption|suggestion) that|\
    (?:he|she|they|some|others|many|client|coach|member|people|author|literature|committee|woman|\
    man)s?\b <gap>(?:thought|thinks?|believed?|believes|suspect\w*|said|says|told|wrote|argue\w*|claim\w*|\
    report\w*|speaks?|suggest\w*) <gap>(?:of|that|the|me|his|her|their|it|load|stress)|(?:felt|feels?) that
    been told|was told (?!to)|(?:own|her|his|their) (?:\w+ )?(?:words?|explanation|view|belief|theory|guess)
    """)
"""What leaves open, denies or reports what comes after it."""
LEFT_OPEN = words(r"""
    would go beyond|many (?:things|reasons|factors)|was (?:her|his|their) own \w+
    (?:is|are|was|were|remains?) (?:not known|left open|an open question|open|unclear|unknown)
    (?:cannot|can't|can not) be (?:told|said|known|judged|separated|tested|answered|concluded)
    """)
"""What leaves open what comes before it."""
DENIED = words(r"<none>\W(?:[\w\u2019'-]+\W){0,3}", r"\b(?:{})$")
"""Directly before a word: it is denied."""
OF_METHODS = words(r"(?:\W*(?!<felt>|<done>)[\w\u2019'-]+){0,3}?\W+<methods>", "(?:{})\\b")
"""Right after a word: it is said of an estimate, not of a body."""
