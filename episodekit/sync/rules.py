"""Rules about the clocks of clips (`SYNC-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

CONFLICT = Rule(
    "SYNC-CONFLICT",
    Severity.WARNING,
    "two kinds of evidence put a clip at different times",
    "The surer one is used: a filmed clock before a chirp, a chirp before sound, any of them before what a "
    "camera's own clock says. The other tells that something is wrong: a clock that was set in between, a clip "
    "that was copied from another day, an old `clock:` in job.md.",
    PRACTICE,
    "further apart than both uncertainties together",
)
NOT_PLACED = Rule(
    "SYNC-NOT-PLACED",
    Severity.WARNING,
    "nothing tells well enough when a clip rolled",
    "A wrong place is worse than none: the draft would show the wrong moment. Film the bench log's clock for three "
    "seconds next time; for this clip, log marks as places in it (`clip @ 0:12.5`).",
    PRACTICE,
    "known to 5 s or worse",
)
STALE = Rule(
    "SYNC-STALE",
    Severity.WARNING,
    "a clip has changed since it was put on the log's clock",
    "Its content is another than when `episodekit sync` ran, so what was found then is not used for it.",
)
BROKEN = Rule(
    "SYNC-BROKEN",
    Severity.WARNING,
    "out/sync.json cannot be read",
    "It is made by `episodekit sync` and not meant to be edited. Clips stand where their creation times and "
    "`clock:` put them until it is made again.",
)
