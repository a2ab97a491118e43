"""Rules about sponsors' reads (`SLOT-`)."""

from episodekit.base.findings import Rule, Severity

E, W = Severity.ERROR, Severity.WARNING

NO_PLACE = Rule(
    "SLOT-NO-PLACE",
    E,
    "no placement of reads and ad breaks keeps all terms",
    "The terms named cannot be kept together; with any one of them gone the others could be. All stand at the "
    "nearest miss, so that the draft can be watched. Widen a window, lower a distance, ask for fewer ad breaks, "
    "or split, shorten or move a step.",
    default="the read's `starts:` and `keep clear of:`; `ad breaks:`",
)
MOVED = Rule(
    "SLOT-MOVED",
    Severity.NOTE,
    "a read does not play where it was written",
    "Its terms rule that place out. A read written between two steps is played there if its terms allow; one "
    "written after the story is placed where `preferences` give the most points.",
    default="`starts:` and `keep clear of:` of the read; `preferences:`",
)
NO_BREAKS = Rule(
    "SLOT-NO-BREAKS",
    Severity.NOTE,
    "the episode is too short for ad breaks",
    "Hosts allow advertisements inside a video only from a certain run time on.",
    "the host's help page, 2020 copy: mid-roll ads from 8 min on",
    "8 min; `ad breaks: {run time: ...}`",
)
MANY = Rule(
    "SLOT-MANY",
    E,
    "the episode has more reads than can be placed together",
    "Every order of all reads is weighed, which doubles the work with each of them. The first six are placed, the "
    "others stand at the end.",
    default="six, fixed",
)
LENGTH = Rule(
    "SLOT-LENGTH",
    E,
    "a read runs longer or shorter than its contract",
    "The sponsor pays for a length. The remedy counts words at your pace.",
    default="`length:` of the read; a usual read is 30-60 s",
)
MUST_SAY = Rule(
    "SLOT-MUST-SAY",
    E,
    "a phrase that the read must contain is not spoken",
    "Whole words, compared without regard to capitals, line breaks, kinds of quotes and dashes, and a full stop "
    "at the end. Of `this | or that` one is enough.",
    default="`must say:` of the read",
)
NEVER_SAY = Rule(
    "SLOT-NEVER-SAY",
    E,
    "a phrase that the deal refuses is spoken or shown",
    "Looked for in every beat of the read and the episode, and in titles and headings, compared as in `must say`. "
    "A phrase that you quote only to refuse it counts as well: say it in other words.",
    default="`never say:` of the read",
)
CODE = Rule(
    "SLOT-CODE",
    E,
    "the read never says the buyer's code",
    "Its letters count as written, so that a bench is not the code BENCH; spelled out, or behind the word code, any "
    "case will do.",
    default="`code:` of the read",
)
NOT_HEARD = Rule(
    "SLOT-NOT-HEARD",
    W,
    "the read does not say at its start that it is paid for",
    "An advertisement is disclosed in the way it is made: said in words that are heard, and shown on screen, where "
    "it begins. Say in the first sentence that somebody pays: sponsored, paid for by, an ad. A first sentence of five "
    "words or fewer may lead over to it. Thanks alone do not say it. Local law decides.",
    "16 CFR 255.0(f); FTC, Disclosures 101 for Social Media Influencers; UK CAP Code section 2 and ASA guidance on "
    "vlogs; UCPD Annex I, 11. The list of words: common practice",
    "`disclosure:` of the read",
)
NOT_SEEN = Rule(
    "SLOT-NOT-SEEN",
    W,
    "the read is not disclosed on screen",
    "`disclosure:` leaves out `seen`. A visual claim needs a visual disclosure; the draft shows it on screen "
    "all the same. Local law decides.",
    "16 CFR 255.0(f)",
)
CODE_SHOWN = Rule(
    "SLOT-CODE-SHOWN",
    E,
    "the code is on screen for less time than its contract asks",
    "It comes on with the beat that says it and goes with the read, so a read that says it too late has no "
    "room for it. Say it earlier, or let the read go on after it.",
    default="`code shown:` of the read",
)
GOODS = Rule(
    "SLOT-GOODS",
    W,
    "nobody says that goods were received free",
    "Payment of any kind counts, goods too. A sponsor's are told in the first beat of the read; others by the first "
    "step that `uses` them or before it, in a beat that names the thing or its giver. Local law decides.",
    "FTC, Disclosures 101 for Social Media Influencers; 16 CFR 255.5; UK CAP Code section 2 and ASA guidance on "
    "vlogs; UCPD Annex I, 11. The list of words: common practice",
    "`goods:` of the read, `free goods:`",
)
UNUSED_GOODS = Rule(
    "SLOT-UNUSED-GOODS",
    W,
    "goods received free are used by no step",
    "Steps tell by `uses` where the goods are on screen; without one the program cannot see whether it was said in "
    "time.",
    default="`free goods:`",
)
LINK_PAYS = Rule(
    "SLOT-LINK-PAYS",
    Severity.NOTE,
    "you earn by a link, and no beat says so",
    "The first lines of the description say it. A disclosure belongs into the video, not only into its description. "
    "Local law decides.",
    "FTC, Disclosures 101 for Social Media Influencers",
    "`link pays:` of the read",
)
