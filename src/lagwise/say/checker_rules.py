"""What the wording checker looks for: the rules, each with why it matters and what to do instead."""

from __future__ import annotations

import re
from dataclasses import dataclass

from lagwise.say.checker_words import words


@dataclass(frozen=True)
class Rule:
    """One rule: `finds` matches a slip, `unless` a clause in which it is none, `about` what a sentence must
    speak of.

    A rule is `framed` when words before the slip take it back ('does not show that ...'), `deniable` when a
    'not' right before it does.
    """

    name: str
    finds: re.Pattern[str]
    why: str
    advice: str
    unless: re.Pattern[str] | None = None
    about: re.Pattern[str] | None = None
    framed: bool = True
    deniable: bool = False


CAUSE = Rule(
    "cause",
    words(r"""
        (?<!\ba )(?<!\bno )(?<!\bany )(?<!\bcommon )(?<!unmeasured )(?<!unrecorded )caus(?:e[sd]?|ing)|<acts>
        caus(?:ation|ative)|<be> (?:\w+ )?(?:a|one|the) (?:\w+ )?causes? of|causal(?:ly)? (?:effect|link|\
        role|relation\w*|factor|contribution|chain|impact|influence|pathway)|culprits?|to blame
        (?:faults?|fruits?|outgrowth) of|(?:recipes?|penalty) for|rewards? (?:of|for)|(?:key|antidote|remedy|\
        cure|solution|fix|lever|source|origin|foundation|basis|backbone|catalyst|seeds?|engine|secrets?|\
        medicine|treatment|drivers?|determinants?|ingredients?|mechanisms?|reasons?) (?:to|of|for|behind|in|\
        by) <state>|(?<!known )(?<!no )(?:decisive|deciding|key|main|critical|crucial|important|major|\
        biggest|contributing|risk|causal) (?:factors?|drivers?|reasons?|ingredients?|sources?)
        <be> (?:\w+ )?down to(?! (?:\d|zero|none|one|two|three|half))|at the (?:root|mercy) of
        (?:(?:an?|the|direct|natural|one) |^)(?:\w+ )?(?:results?|consequences?|products?|byproducts?) of
        as a (?:result|consequence)|(?:~pay|paid|the) (?:the )?price (?:of|for)|~owe <gap>to
        credit (?:for|goes to)|~translate (?:in)?to|~spill over|~hinge on|~react (?:<gap>to|(?:badly|well|\
        poorly))|~reward with|~punish (?:for|by)|~manifest as|(?:is|are|was|were|lay|lies) behind|predispos\w+
        (?<=\w )dose[- ]response\b(?! (?:curve|plot|model|question))|pathways? (?:to|from)
        mechanisms? (?:behind|of|for|by)|(?:the|main) reasons? (?:\w+ )?(?:why|that|behind|she|he|they|the|\
        his|her)|(?:is|are|was|were|explains?|explained|know|that's|here's) (?:the reason )?why(?! that alone)
        <be> explained by|~explain <state>|explains (?:\w+ ){0,5}<felt>|responsible for|rise to|~exert
        ~mediate|~confer an?|(?:~stem|~arise|arose|~originate|~derive|sprang) (?:\w+ )?from
        <felt>\b[^.;,]{0,30} (?:comes?|came|coming) (?:\w+ )?from|(?:go|goes|went) (?:straight|right|\
        directly) to|(?:do|does|did) (?:more|less|most|much|a lot|good|little) (?:for|to)
        account(?:s|ed|ing) for|(?:set|sets|setting) (?:off|in motion)|(?:brings?|bringing|brought) (?:about|\
        on|down|relief)|(?:fed|feeds?|feeding) (?:\w+ )?(?:in)?to|~shape (?:how|what|the next|whether)
        ~determine (?:how|what|whether|the next)|(?:~pay|paid) (?:for(?! by)|off|dividends)|(?:~respond|\
        response) (?:\w+ )?to(?! (?:the |a |this )?(?:question|survey|item|invitation|referee|reviewer))
        ~play an? (?:\w+ )?(?:role|part)|(?:took|~take) (?:its|a|their) toll|(?:effects?|impact|influence|\
        bearing) (?:of\b.{0,60}? )?(?<!lies )(?:on|upon)|impact of <gap><done>|(?:\w+ing|\w+ive|big|large|\
        strong|major|direct|indirect|harmful|clear|treatment) (?:effects|effect(?! size)|impact|influence)
        ~benefit (?:of|from|in|to|for)|health benefits?|beneficial|detrimental|(?:<be>|\
        an?) (?:\w+ )?(?:protective|preventive)|therapeutic|(?:helpful|useful|good|bad|great|best|ideal|hard|\
        tough|rough|gentle|kind(?:er)?|easy|easier|harder) (?:\w+ )?(?:for|on|to) <near>(?:<felt>)
        medicine for|(?:not|n't) (?:like|love|enjoy|agree with) <gap><done>|curative|counterproductive
        instrumental (?:in|to|for)|conducive to|effective (?!sample|number|draws|size)|efficacious|works? by
        (?:did|does|do) (?:the (?:trick|job)|wonders)|worked (?:well|best|wonders|for|like|a treat)
        made (?:all )?the difference|(?:the )?success(?:es|ful|fully)? (?:of|in|at)|succeeded in
        (?:work(?:s|ed)|succeeded|backfired|helped)(?=$|[.!,;])|<finite><done> (?:\w+ly |has |have |\
        had )*(?:help|work)(?:s|ed)|no (?:wonder|surprise|accident|coincidence)|ma(?:k|d)(?:e|es|\
        ing) it (?:more|less) likely|(?:is|was|are|were) (?:all it took|enough|sufficient) to (?!say|tell|\
        know|show|see|judge|answer)\w+|(?:all|what) it took (?:was|is)|too \w+ (?:\w+ )?for (?:the|his|her|\
        their) <near><felt>|ma(?:k|d)(?:e|es|ing) (?:\S+ ){1,4}?(?:<worse>|hurt|flare|feel|stronger|\
        susceptible|resilient|stiff\w*|painful|(?:more|less) (?:sore|worried|stressed|anxious))|(?:left|\
        leaves|leaving|rendered|lets?|letting|~allow|~enable|~help|got) (?:[^\d\s]+ ){1,3}?(?:sore|hurt\w*|\
        painful|pain-free|ache|aching|stiff|worse|better|heal|recover|settle|calm down|repair|adapt|injured)
        (?:left|leaves|leaving) (?:<near><body>|him|her|them|people) (?:in|with|unable|\w+ing)
        (?:gave|gives?|giving) <near><body> (?:the|an?|some|time|room|more|enough|what)
        (?:made|makes?|making) <whose> <near><body> (?:<gap>)(?!and|of|in|for|or|on)\w+|\
        <felt> (?:\w+ly )?(?:improv|eas|settl|calm|resolv|worsen|subsid|heal)(?:e[sd]|ing) (?:\w+ )?(?:with|\
        through|on|under) <near><done>|<felt> (?:<be>|has been|have been|had been|\
        got) (?:\w+ )?(?!<noted>)\w{3,}(?:ed|elt|ten) by (?!\d|half|about|one|nearly)\w+
        turn(?:s|ed|ing)? (?:.{0,30}\binto <state>|<near>(?:<body>|things) (?:a)?round)
        mean[st]? (?:less|more|fewer|better|worse|healthy|healthier|strong|calm\w*|quiet\w*) <near><felt>
        asking for (?:<near><felt>|it)|(?:took|~take) (?:the )?(?:strain|stress|pressure|load) off
        ma(?:de|kes?|king) (?:itself|themselves) felt|<body> (?:\w+ ){0,4}(?:complain|protest|rebel|dislike|\
        (?<=not )like|(?<=n't )like|lov|hat)(?:s|ed|es|e)?|<finite>(?<!no )<shifts> (?:(?:down|away|\
        off) )?<state>|^(?=\w+ing\b)<shifts> <state>|(?:gives?|gave|grants?|~buy|bought|produc\w+|~add|\
        ~cost) (?:\S+ ){0,2}(?:calmer|less|more|fewer|worse|better|sore|points? (?:to|\
        of) (?:<whose> )?(?:next \S+ )?<felt>)|(?:took|~take|~keep|kept|~hold|held|~push|~drag|~wash|~chase|\
        brought) <near><felt> (?:away|down|low|up|off|at bay|in check|under control|going|alive|happy|\
        healthy|quiet|calm|sore)|brought <near><felt>|(?:fixed|cured|sorted|solved|settled) (?:what|it|the|\
        his|her|their)|(?:cost|bought|earned|saved|spared) (?:him|her|them)|(?:carr(?:y|ies|ied)|(?:comes?|\
        came) (?:at|with)) an? (?:\w+ )?(?:price|cost|penalty)|\
        <finite><done> (?:\w+ly )?(?!<noted>\b)\w+(?:ed|s) <whose> <near><felt>|\
        (?<!\bto )(?<!\bwas )(?<!\bwere )(?<!\bis )(?<!\bare )(?<!\bhe )(?<!\bshe )(?<!\bwe )(?<!they \
        )(?<!coach )(?<!people )(?!<noted>\b)\b\w{3,}ed <whose> <near><felt>
        """),
    "A log shows what came after what; it does not show that one brought the other about.",
    "Say the sequence: 'weeks like this were followed by ...'.",
    about=words(r"<felt>|<done>|<worse>|ratings|adjusted"),
)

SHAPE = Rule(
    "cause",
    words(r"""
        the \w+(?:er|ore|ess) [^.;:,]{2,60}, the \w+(?:er|ore|ess|orse) (?:\w+ ){0,3}<felt>|what (?:\w+ly |\
        then )?(?:<shifts>|<acts>|hurts?|made|did|got|kept|brought) (?:[^.;?]{1,60}? )?(?:was|is|\
        were) (?!not|\w+ed\b)|(?:is|was|were|are) what (?!<be>|<noted>)(?:\w+ed|made|makes?|got|gets|keeps?|\
        kept|hurt|drives?|drove)|(?:it|that) (?:is|was) [^.;?]{1,60}? that (?:did|made|set|got|kept|hurt|\
        brought|\w{3,}ed (?:the|his|her|their))|had (?:he|she|they|we|it|load)\b[^.;]* would|(?:<who>|season|\
        <felt>|<done>) would (?:\w+ )?have (?:\w+ )?(?!taken|needed|<noted>)(?:been|gone|come|had|\w+ed)|\
        (?:our|the|this) (?:\w+ )?(?:approach|programme|program|plan|treatment|intervention|method|strategy|\
        protocol|tip|cue|change) (?:\w+ly |has |had )*(?:work(?:s|ed)|help(?:s|ed)|succeed(?:s|ed)|\
        <be> (?:\w+ )?(?:success|superior|effective))|(?:solve[sd]?|fixe[sd]|cure[sd]|\
        ended) <whose> (?:\w+ )?(?:problem|issue|trouble)s?|(?:got|gotten|became|felt) better (?:with|\
        through|on|from)|~improve with <near><done>
        """),
    CAUSE.why,
    CAUSE.advice,
    deniable=True,
)

REASON = Rule(
    "cause",
    words(r"""
        secondary to|attribut\w+ [^.;]{1,40} to|(?:<worse>|sore|painful|stiff|aching|\
        hurt\w*) (?:\w+ )?from (?!the|week|day|month|\d)|<why>(?! (?:start|begin|end|train|return|finish|\
        stop|leave))|(?:influenc|affect)\w*|(?:lead|leads|led|leading|contribut\w+) (?:\w+ )?to
        (?:resulted|resulting|<verb>results?) (?:in|from)|(?:<felt>|<worse>|up|down|higher|\
        lower)\b(?:(?! (?:rated|asked|recorded|noted|logged|\
        missing))[^.;,]){0,40}\b(?<!perhaps )(?<!maybe )because <facts>|\
        (?<!perhaps )(?<!, )because <gap><done>\b.{0,60}\b<felt>\b(?! (?:was|is|were|are) (?:rated|recorded|\
        asked))
        """),
    CAUSE.why,
    CAUSE.advice,
    about=words("<felt>|<worse>|ratings|outcome"),
)

RECOMMEND = Rule(
    "recommend",
    words(r"""
        (?!they)<who> (?:\w+ ){0,4}<must>\b(?! have \w+ed| (?:(?:not|also|\
        only) )?(?:be )?(?:been )?(?:<read>|asked)\b)|(?<!rise )<must>\b(?! (?:(?:not|also|only|\
        all) )?(?:be |been )?<stand>\b)|(?<!no )(?<!against )(?:recommend(?:s|ed|ations?|able)?|advis(?:e|es|\
        ed|able)|counsel(?:s|led)?)|(?:~urge|~encourage) (?:\w+ ){0,6}?to|prescrib(?:e|es|ed)
        (?:can|may) safely|(?:best|simple) (?:tip|lesson)|(?<!nothing here is )(?:advice|\
        take-home(?: message)?|recommendation|(?:our|the|my) message) (?:is|would be|to|for)|(?:next|first|\
        right|best|only|logical) (?:step|move|thing|option|bet|approach|way)\b[^.;]{0,30}? (?:is|was) to
        needs? (?:an? |more |some |less |fewer )+(?:deload|rest|break|sleep|recovery|sessions|time|days)|\
        (?:better|told|best|worth\w*|wise(?:r|st)?|sensible|prudent|safer|important|essential|crucial|vital|\
        time|pays?|necessary|smart(?:er|est)?|makes sense) to (?!note|know|say|ask|be\b|the\b|see|seek|\
        keep in mind|remember)\w+|(?:best|better|wise|worth|worthwhile|sensible) (?:avoid|limit|keep|rest|\
        reduc|cutt|lower|add|plann|try)ing|(?:would|will) (?:benefit|do well|be wise|be better off|\
        be well advised|help)|it pays|do yourself|be(?:st|tter) off|<be> (?:\w+ly )?(?:to be )?(?:en|\
        dis)couraged|(?:may|might|could) (?:want|wish) to|(?:might|could) (?:consider|try)
        ^please (?!note|see|find|fill|ask|read|contact|tell|do)\w+|(?:do|does|did) best (?:with|on)|\
        <be> (?:to be avoided|best avoided|warranted|(?:contra)?indicated|best (?:served|treated|kept) (?:by|\
        with))|it (?:is|seems|may be|would be) (?:best|better(?! known)|wise|important|essential|crucial|\
        vital|necessary|sensible|prudent|safer|advisable|worth)|(?:is|are) a must|(?:can|could|may|should|\
        will) (?:now )?(?:use|be used|rely) [^.;]{0,40}\b(?:decide|guide|set|plan|choose|determine)
        (?:lesson|moral|implication|takeaway|tip)s?\b[^.;]{0,30}? (?:is|are|was) (?:to|that)
        (?:call|argue)s? for (?!it)|(?:we|i)(?: would| do|[\u2019']d)? (?:tell|suggest|propose|urge|encourage)
        supports? (?:the use of|\w+ing)|(?:can|could|may|to|will) (?:guide|inform) <near>(?:training|\
        decisions?|practice|care|load\w*)|(?:sensible|wise|prudent|best|right|safest|good) (?:course|thing|\
        choice|option|treatment|step|plan|way|limit|ceiling|target|approach|rule|\
        starting point)\b[^.;]{0,30}? (?:is|would be)|(?:is|are) (?:a |the )?(?:sensible|wise|good|prudent|\
        safe|right|reasonable|best|safest) (?:\w+ )?(?:limit|ceiling|target|rule|cap|threshold|choice|\
        approach|option)s?|<start>(?:avoid|limit|reduce|drop|stick|halve|skip|swap|cap|mix|alternate|scale|\
        dial|resist|stretch|ease off|strengthen|prioriti[sz]e|space|respect|ditch|forget|replace|vary|\
        introduce|cut|train|monitor|aim|consider|back off|hold back|slow down|leave(?! (?:\w+ ){0,4}out)|\
        expect|think twice|steer clear|trust|listen|address|break up|make sure|ensure|be (?:careful|patient|\
        gentle|wary|kind|sure))(?! (?:in|of|for|was|is|were|and)\b)|(?<=, )(?:cut|drop|lower|reduce|halve|\
        skip|keep|stop|raise) (?:the|your|all)|^try to (?!break)\w+|<start>(?:keep|lower|increase|raise|\
        build|stop|start|move|schedule|focus|treat|hold|warm|do|let|watch|ramp|switch|give|take|get|\
        add(?! up)|try|go|wait|use|choose|stay) (?:yourself|on|off|at least|enough|more|less|fewer|lighter|\
        slowly|gradually|(?:it )?easy|a (?:day|week|rest|break|lighter)|weekly|weight|days?|through|with|\
        after|until|when|before|some|one|two|\w+ing|away|your|<near>(?:<done>|<felt>))
        (?:^|(?<=[:;,] ))(?:don[\u2019']t|do not) (?!need)\w+|^never (?:train|lift|load|run|push|ignore|skip|\
        jump|let|return|do|go|start|stop|rest)|<start>(?:progress|continue|load|work) (?:the|your|with|only|\
        slowly|when|if|by)
        """),
    "A recommendation claims that doing something would change what follows; a case series cannot "
    "carry that.",
    "Describe what was seen and leave the decision to the person and their clinician.",
    unless=words(r"""
        (?:<clerical>|nothing) (?:[\w-]+ ){0,8}<must>|what (?:one|a|any) person should|advises nobody
        (?:medical|clinical) care|(?:own|a|their|your) (?:clinician|doctor|physician)s?|what.{0,30}ought to do
        """),
)

CERTAIN = Rule(
    "certain",
    words(r"""
        prov(?:e|es|en|ing)|proved(?! (?:hard|easy|difficult|too|to be))|proof|demonstrat(?:e|es|ed|ing)
        confirm(?:s|ed|ing)? (?:the|that|our|what|it)|(?:hypothes[ie]s|theory|view|\
        suspicion)\b.{0,30}\bconfirmed|(?:overwhelming|compelling|solid|strong|convincing|hard) (?:evidence|\
        proof)|(?:evidence|case|pattern|picture|answer|link|message) (?:<be>) (?:now |very |\
        so )?(?:overwhelming|compelling|clear|solid|convincing|conclusive|strong)|^clearly|was clearly the|\
        clear(?:ly)? (?:\w+ )?(?:that|evidence|sign|proof|show|indicat|demonstrat|com|preced|follow|relat|\
        link)\w*|(?:(?<!not )(?:have|has) (?:now )?shown|^this (?:\w+ )?shows|(?:data|findings|results|log|\
        numbers|series) shows?) that (?!.*\d)|it turns out|goes to show|(?:all|\
        everything) (?:\w+ ){0,2}points? to|plainly|is plain|makes? plain that|evident(?:ly)?|patently
        manifestly|absolutely|whatsoever|what this shows is|it is (?:now )?(?:clear|certain|obvious|a fact|\
        known) that|for (?:sure|certain)|once and for all|(?:am|are|is|be|feel) (?:\w+ )?(?:certain|sure|\
        convinced|positive) (?:that|the|of)|no room for\b.{0,20}\bdoubt|(?:no|beyond|without|\
        little)(?: a| any| all)? (?:shadow of a )?(?:doubt|question|dispute|exception|criticism)
        too \w+ to be (?:chance|coincidence|luck|random)|(?:is|was) no (?:chance|fluke)
        (?<!nearly )(?<!almost )always(?! (?:<read>|made|asked|computed|recorded|rated|used|leads?))
        invariably|inevitabl[ey]|certainly|of course|every time|without fail|surely
        can only (?:mean|have been|be (?:due|the))|<whose> (?:\w+ )?risk [^.;]{0,40}(?:is|\
        was) (?:\w+ )?(?:high|low|small|great|raised)|crystal clear|(?:now |well |firmly )?established that
        establish(?:es|ed)? (?:that|the|a)|(?:we|they) (?:now )?know (?:that|why|what|how)
        settles? (?:the|this|that|it|once)|(?:do|does) not lie|(?:cannot|can't|(?:nobody|\
        no one) can) (?:be )?(?:den(?:y|ied)|doubt|disput|question|argue|wrong)\w*
        speaks? for (?:itself|themselves)|(?<!positive )definite(?:ly)?|definitive(?:ly)?|conclusive(?:ly)?
        obvious(?:ly)?|(?:un|in|ir)(?:deniabl|doubted|questionabl|equivocal|disputabl|refutabl|mistakabl|\
        arguabl|ambiguous|controvertibl)(?:y|ly|e)?|guarantee[sd]?|(?:evidence|it|finding|\
        result)s? <be> certain|must have (?:\w+ )?(?!<noted>)(?:been|come|\w+ed)|is impossible
        never (?:\w+ )?(?:hurt|harm|injure|fail|flare|lie|heal)\w*|nothing beats|no other (?:explanation|\
        reading|way)|confident that|anyone can see|plain to see|(?:work|help|hold|true|good|safe|useful|\
        right)s? (?:in|for) (?:every|any|all)(?:one|body| \w+)|(?:applies|apply|generali[sz]es?) to (?:all|\
        any|every)\w*|ensures? that <gap>(?:nobody|no one|<felt>)|(?:removes?|eliminates?) all
        will (?:\w+ )?(?:get|have|suffer|develop|snap|flare|hurt|feel|end up|be in pain|pay)|(?:<who>|\
        <whose> (?:\w+ )?<felt>|this \w+'s <felt>)\b(?:\W\w+){0,4}? (?:will|[\u2019']ll|(?:is|are) (?:going|\
        bound|sure|set|likely|due|certain|destined|about|next|first) (?:to)?|can expect(?: to)?|\
        can look forward to)(?: \w+ly)?(?: not)? (?:<ill>|an? (?:\S+ )?<felt>|be (?:\w+ )?<felt>)
        <whose> (?:\w+ )?(?:<body>|pain) will \w+|(?:<whose> )?<near><body> should (?:\w+ )?(?:be (?!noted|\
        rated|read|seen|asked)|feel|settle|improve|calm|recover)|<one>(?: will|\
        [\u2019']ll| is going to) (?!(?:be |also be )?(?:ask|told|tell|seen|see|follow|contact|keep|continue|\
        receiv|rat|record|fill|report|appear|shown))\w+|will (?:not |\w+ly |also )?(?!rate|record|report|\
        show|describe|ask|measure|see|be|have|include|compare|use)\w+ <whose> <near><felt>
        will (?:also )?(?:hold|apply|work) (?:in|for|to)|<who> (?:is|are) (?:bound|due|in line|heading|\
        headed) for|(?:destined|doomed|heading|headed) (?:to|for) \w+|waiting to happen|(?:~identify|~detect|\
        picks? out|~spot|~single out|~flag|~pinpoint|screens?|foresee|foretell|forecast|~predict|can tell|\
        tells? (?:you|us)) (?:[\w]+ ){0,4}(?:who|whom|which|when|those|individuals?|at-risk|destined)
        (?:pick|single) out|screens? (?:participants|people|patients)|(?:flares?|pain|relapses?|\
        injur\w+) (?:can|could) be (?:\w+ )?(?:predict|foreseen|forecast|anticipat|expect)\w*
        (?:log|pattern|record|rating)s? (?:predict|foretell|forecast|warn)s? (?:an?|the|his|her|that|of)
        (?:strong|best|reliable|good|key|powerful|important|independent) predictors?
        <be> expected to (?:get|improve|recover|flare|worsen)
        """),
    "One log with wide intervals settles nothing for certain, and nothing for one person.",
    "Give the interval, what it rules out and what it leaves open.",
    deniable=True,
)

NO_EFFECT = Rule(
    "no_effect",
    words(r"""
        (?:of|is|was|are|were) (?:no|little) (?:\w+ )?(?:consequence|importance|relevance|concern)
        nothing to (?:suggest|indicate)|(?:can|could|may) (?:\w+ )?be (?:ignored|neglected|forgotten)
        (?:did|do|does)(?: not|n[\u2019']t) (?:make|hurt|help) <near><felt>|\
        <felt> <be> (?:\w+ly )?(?:independent|separate)|<be> (?:\w+ly )?(?:equivalent|interchangeable)
        (?:no|zero|nil) (?:\w+ ){0,2}<links>(?! to\b)|(?:not|n[\u2019']t) (?:\w+ ){0,2}<linked>
        independent of <near>(?:<done>|<felt>|each other)|un(?:related|affected|connected|correlated|\
        influenced|moved|changed) (?:to|by|with)|nothing to do with|(?<=\w )had nothing|immaterial
        inconsequential|unimportant|futile|pointless|<be> (?:\w+ )?(?:unrelated|negligible|inert)
        neither (?!<noted>)\w+ed nor|irrelevant|ineffective|(?:do|does|did|will|would)(?: not|\
        n[\u2019']t) (?:\w+ ){0,2}?(?:matter|affect|influence|change(?! (?:that|this|it)\b)|alter|differ|\
        make a difference|predict|impact|shift|play a|contribute|care\b(?! by)|\
        depend on (?!the scale)<near>(?:<done>|<felt>))|neither\b.{0,40}\bnor\b.{0,40}\b(?:matter|associat|\
        relat)\w*|no different|no (?:worse|better)|failed to (?:affect|change)|(?:not|isn't|\
        never) (?:\w+ )?(?:part of (?:the|this) (?:picture|story|problem|equation|explanation)|an issue|\
        a factor|a concern|the problem|a problem)|pain was (?:just )?the same|identical\b.{0,30}\bpain
        just as (?:much|often|likely|good|bad)|<links>\b.{0,40}\b<be> (?:absent|zero|nil|non-existent|lacking)
        nothing (?:in|about|that)\b.{0,40}\b(?:link|connect|relat|matter)\w*|no evidence (?:of|for|that)
        (?:play(?:s|ed)?|ha[sd]) no (?:role|say)|play(?:s|ed)? no part|(?:do(?:es)?|did) nothing(?= (?:to|\
        for)\b|[,.]|$)|(?:ir)?regardless of|irrespective of|no matter (?:how|what)
        ma(?:de|kes?) no (?:\w+ )?(?:difference|odds|contribution|impact|change)|without (?:any )?(?:effect|\
        influence|consequence)|red herring|non-issue|myth|(?:can|could|may) (?:\w+ )?be (?:ruled out|\
        excluded|dismissed|discounted)|(?:rules?|ruled|ruling) out <gap>(?:<done>|<links>|<felt>|reverse)
        dismiss(?:es|ed)?|~refute|~disprove|debunk\w*
        """),
    "'Not seen' is not 'absent': an interval leaves differences open on either side of none.",
    "Give the estimate with its interval, and say which differences it rules out.",
    unless=words(
        r"""
        (?<!% )(?<!\()(?<!confidence )(?<!credible )\binterval\b(?! (?:cross|includ|contain|spann?|\
        cover)\w*\b(?! both))|\b<none> (?:\w+ )?(?:mean|show|prove|imply|establish)
        \bunrelated to (?:\w+ )?<clerical>|\bpractically\b|\bremains? possible|\blinked to (?:the |\
        any )?(?:ratings?|names?|records?|data)|\b(?:that we could|could be|we could not) see
        \brul(?:es?|ed) out\b(?! as) <gap>(?:differences?|rises?|falls?|more|larger|that)|\bincludes? no\b
        (?:cannot|can't|not) (?:be |quite )?(?:ruled? out|excluded?|dismiss)|\bno different \(
        \bline is no difference\b|\b(?:difference|rise|fall|change)s? (?:\w+ )?(?:larger|smaller|more|\
        greater) than|\bof a size that matters\b|\bno pattern that\b|\bwrong to|\bno (?:clear|sure|certain|\
        marked) .*[-\u22120-9.]+ (?:\w+ )?to [-+\u22120-9.]+|\bno changes? (?:of|was made|were made|to)\b
        \bnot evidence\b|\bno difference was shown that|\btoo (?:few|little|short|small|wide|thin)\b""",
        "(?:{})",
    ),
    framed=False,
    deniable=True,
)

FRIGHTEN = Rule(
    "frighten",
    words(r"""
        damag\w*(?! (?:files?|rows?))|wear and tear|worn(?! by| on| at)|<body> wear|degenerat\w+|deteriorat\w+
        erod(?:e|es|ed|ing)|(?:wore|wears?|wearing) (?:(?:the|his|her|their|a|your) \w+ )?(?:out|away|down)
        (?:~dry|dries) (?:out|up)|(?:weak(?:ened|er|ness of)?|unstable|instability of|faulty|defective|bad|\
        failing|ageing|crumbling) <near><body>|<body> (?:<be>|had become|has become) (?:\w+ )?(?:weak|\
        overloaded|inflamed|shot|gone|finished|unstable|kaput|done|out again|(?:not|n[\u2019']t) (?:built|\
        made|cut out) for)|mis-?align\w+|malalign\w+|vulnerab\w+|fragil\w+|frail\w*|crumbl\w+|fray\w+|torn
        ruin\w*|wreck\w*|shred\w*|brittle|bone[- ]on[- ]bone|grind\w*|ground (?:away|down)|prone to
        injury[- ]prone|ruptur\w+|(?:break|breaks|breaking|broke|breakdown) (?:down|of)
        g[ia]v(?:e|es|ing) (?:out|way)|suscepti\w+|out of (?:place|alignment|line|joint)|slipped|collaps\w+
        popped out|hazard(?:s|ous)|toxic|catastroph\w+|time bombs?|snap(?:s|ped)?|cripp?l\w+|irrepar\w+
        irrevers\w+|lasting injur\w+|compromised|dangerous(?:ly)?|danger (?:zone|to|for)|in danger|endanger\w*
        (?:put|plac)\w* <gap>(?:stress|strain|pressure) on|threat(?:s|en|ens|ened|ening)? (?:to|the|his|her|\
        your)|harmful|~harm (?:the|your|his|her|to|<body>)|(?:do|does|did|cause) <gap>harm
        (?:puts?|putting|plac\w+|leav\w+) (?:\w+ ){1,4}at (?:\w+ )?risk|(?:<body>|patients|athletes|lifters|\
        runners|you) (?:is|are|was|were) at (?:\w+ )?risk|(?:overload|overuse|stress) injur\w+|dysfunction\w*
        <body> (?:\w+ ){0,3}(?:rub|grate|track|age|seize|catche)s|maltrack\w*|scar(?:red)? tissue
        <body> of an? \S+-year-old|<body> (?:is|are|was|were)(?: not|n't) (?:\w+ )?(?:strong|stable|tough|\
        ready)|breaking point|(?:risk|readiness|injury) (?:scores?|zones?|levels?|bands?)
        (?:danger|warning|red|green|amber) (?:zone|light)s?|(?:scores?|index) (?:over|above|of) \d+
        red (?:week|flagged)|traffic[- ]lights?|high risk of|(?:high|higher|low|at)[- ]risk (?:lifter|\
        athlete|patient|runner|player|client|person|people)s?|(?:red|amber|green|yellow)\b.{1,20}\b(?:amber|\
        green|red|yellow)|(?:cannot|can|could|can't) (?:\w+ )?(?:take|handle|cope with|bear|withstand|\
        tolerate) (?:more|less|only|up to|any|much|that|this|\d|the|\w+ing|<done>)
        what <near><body> can (?:take|bear|handle|tolerate)|<body> (?:\w+ )?to cope with
        """),
    "Words about bodies work for years on those who hear them; pain changes for many reasons and hurt "
    "is not the same as harm.",
    "Name what was recorded: pain in points, weeks, flare-ups in the person's own word.",
    unless=words(r"""
        the words?\b.{0,30}\bnot used|words (?:such as|like)|not the same as|(?:results?|estimates?|\
        findings?)\b.{0,60} fragile|asked (?:if|about)|(?:he|she|they|who) (?:was|were|had been) told
        """),
    framed=False,
)

SAFE = Rule(
    "frighten",
    words(r"""
        (?:<be>|stays?|keep <whose> (?:<felt>|patients|athletes)|keep patients|as|considered|deemed) (?:not |\
        never |\w+ly |quite )?safe(?:r|st)?\b(?! place)|(?:not|never|n't|hardly) (?:\w+ly )?(?:risky|\
        dangerous|harmful|hazardous)|without (?:fear|worry|concern)|unsafe|safe(?:ly)? to (?:add|train|lift|\
        load|raise|increase|go|squat|press|pull|continue|return)|safely (?:handle|\w+ed)|harmless|risk-free
        the safest \w+|safe (?:load|level|dose|range|zone|weight|limit|amount|threshold|ceiling|margin)s?|\
        (?<!was )(?:no|without|zero|free of|free from) (?:any |all |added |real )*(?:risk(?! (?:factor|set|\
        score)s?)|harm|danger)|<none>\b[^.;]{0,20} (?:harmed|hurt|injured) by|nothing to (?:worry|fear)
        no (?:cause|reason|need) for (?:concern|worry|alarm)|(?:no|not|\
        n[\u2019']t) (?:\w+ ){0,2}(?:need to worry|worry about)|(?:upper|critical) (?:limit|threshold|bound|\
        ceiling)s? of (?:what|<done>)|(?:cannot|can't|never) (?:hurt|harm|injure)|tolerated (?:well|by)
        (?:tissues?|joints?|tendons?|bod(?:y|ies)) (?:can )?tolerat\w+
        """),
    "A log does not try what is safe; said of a load or a lift, it makes the rest sound dangerous.",
    FRIGHTEN.advice,
    unless=words("safe or (?:not|unsafe)|rul(?:es?|ed) out|codes? safe"),
)

RELATIVE = Rule(
    "relative",
    words(r"""
        <counted>\b.{0,60}\b<percent> (?:<compared>|rise|increase|drop|decrease)|\
        <percent> <compared> (?:likely|risk|odds|often|common|chance|frequent)|(?:twice|(?:three|four|\
        \d+(?:\.\d+)?) times|half|a third) as (?:likely|common|often|frequent|many)
        (?:twice|(?:three|four|\d+(?:\.\d+)?) times|half|a third) (?:as (?:large|high|much|prone)|<compared>)
        (?=.*\d).*\b(?:(?:odds|risk|hazard|rate|prevalence) ratios?|relative (?:risk|odds|rate)s?)
        (?:twice|double|triple|half|(?:two|three|four|five|\d+(?:\.\d+)?) times) (?:the )?<counted>
        <counted> <moved> by half|(?:doubl|tripl|quadrupl|halv)(?:e|es|ed|ing)|\d+(?:\.\d+)?-fold|twofold
        threefold|<counted>\b.{0,30}\b<moved> by (?:about |nearly )?(?:a|half|one|\d+)
        <moved>\b.* <counted>\b.* by \d+
        """),
    "A relative figure alone hides how common the thing is.",
    "Say the absolute first: 'about 12 of 100 such weeks, against 10 of 100'.",
    unless=words(r"(?:of|in|per) (?:100|1000|1 000|\d[\d\u00a0 ]*)|percentage points?"),
    framed=False,
)

DENOMINATOR = Rule(
    "denominator",
    words(r"\b<percent>", "(?:{})"),
    "A share without its denominator cannot be weighed.",
    "Write the count first: '612 of 1 040 weeks (59 %)'.",
    unless=words(
        r"""
        \b\d[\d\u00a0 ,]* of (?:the )?\d|\bn ?= ?\d|\bof \d[\d\u00a0 ,]*\b(?! ?(?:%|per))|[+\u2212-]\d+ ?%
        \b\d+ ?% (?:\w+ )?interval|\b\d+ ?% (?:above|below|over|more than|under|of) (?:\w+ )?usual
        \b\d+ ?% <compared>|\b(?:by|of) more than <percent>|\b(?:rise|fall|increase|drop)s? of <percent>
        \b\d+ ?% tails\b""",
        "(?:{})",
    ),
    framed=False,
)

RULES = (CAUSE, REASON, SHAPE, RECOMMEND, CERTAIN, NO_EFFECT, FRIGHTEN, SAFE, RELATIVE, DENOMINATOR)
"""All rules in the order they are reported."""
