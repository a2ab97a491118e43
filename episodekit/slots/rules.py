"""Rules about sponsors' reads (`SLOT-`)."""

from episodekit.base.findings import Rule, Severity

E, W = Severity.ERROR, Severity.WARNING

NO_PLACE = Rule(
    "SLOT-NO-PLACE",
    E,
    "no boundary between steps satisfies the read's terms",
    "The read stands at the nearest miss, so that the draft can be watched. Widen the window, shorten the "
    "steps before it, split a step, or lower the distance from hazards.",
    default="`starts:` and `keep clear of:` of the read",
)
MOVED = Rule(
    "SLOT-MOVED",
    Severity.NOTE,
    "a read does not play where it was written",
    "Its terms rule that place out. A read written between two steps is played there if its terms allow; one "
    "written after the story is placed at the best boundary.",
    default="`starts:` and `keep clear of:` of the read",
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
    "Compared without regard to capitals and line breaks.",
    default="`must say:` of the read",
)
NOT_HEARD = Rule(
    "SLOT-NOT-HEARD",
    W,
    "the read does not say at its start that it is paid for",
    "An advertisement is disclosed in the way it is made: said in words that are heard, and shown on screen. "
    "Say sponsor, sponsored, paid or advert in the first spoken lines. Local law decides.",
    "16 CFR 255.0(f); FTC, Disclosures 101 for Social Media Influencers",
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
