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
