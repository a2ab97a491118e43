"""Rules about the clocks of clips (`SYNC-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

CONFLICT = Rule(
    "SYNC-CONFLICT",
    Severity.WARNING,
    "two kinds of evidence put a clip at different times",
    "The surer one is used: a filmed clock before a chirp, a chirp before sound, any of them before what a "
    "camera's own clock says. The other tells that something is wrong: a clock that was set in between, a clip "
    "that was copied from another day, an old `clock:` in job.md. A clock that was never set may be any time off, "
    "but by the same for all clips of its camera: one that sound alone puts elsewhere is placed only if a second "
    "clip bears it out.",
    PRACTICE,
    "further apart than both uncertainties together",
)
NOT_PLACED = Rule(
    "SYNC-NOT-PLACED",
    Severity.WARNING,
    "nothing tells well enough when a clip rolled",
    "A wrong place is worse than none: the draft would show the wrong moment. Film the bench log's clock for three "
    "seconds next time. For this clip, log marks as places in it (`clip @ 0:12.5`), or say in job.md how far its "
    "camera's clock was off (`clock: 3.2 s behind`; `0 s behind` if it was right). A creation time that nothing checks "
    "is not enough beside clips that were measured. Where job.md gives no `clock:`, sound was compared with that of "
    "every placed clip of other cameras, whatever its camera's clock says.",
    PRACTICE,
    "known to 5 s or worse",
)
UNCHECKED = Rule(
    "SYNC-UNCHECKED",
    Severity.WARNING,
    "clips lie where their files say, and nothing checks that",
    "In this job no clip films or hears the bench log's clock, so there is nothing to put clips right by. Cameras "
    "stamp the end of a recording, or when a file was written, or run by a clock that was never set: creation times "
    "17, 57 and 69 s off another time in the same file were found. Film the clock for three seconds with each camera, "
    "or say by `clock:` in job.md how far it is off.",
    PRACTICE,
    "70 s off, or more",
)
FAR = Rule(
    "SYNC-FAR",
    Severity.WARNING,
    "sound puts a camera far from its own clock",
    "A clock that was never set is years off, so it cannot bear out what sound says. Clips are placed by sound if "
    "they heard the same from end to end. A tune or a voice that was as loud as the work throughout two hours would "
    "be taken for one hour: see whether a moment of the draft is the logged one. A clock that is set right bears it "
    "out.",
    PRACTICE,
    "more than 130 s off",
)
STALE = Rule(
    "SYNC-STALE",
    Severity.WARNING,
    "clips are new, renamed or changed since `episodekit sync` ran",
    "What sync found then is not used for them. Each lies at its creation time, put right by its camera's `clock:`, "
    "which nothing checks; without a creation time, nowhere.",
)
BROKEN = Rule(
    "SYNC-BROKEN",
    Severity.WARNING,
    "out/sync.json cannot be read",
    "It is made by `episodekit sync` and not meant to be edited. Clips stand where their creation times and "
    "`clock:` put them until it is made again.",
)
