"""Rules about what goes out with the episode (`PACK-`)."""

from episodekit.base.findings import Rule, Severity

E, W, N = Severity.ERROR, Severity.WARNING, Severity.NOTE

NO_DAY = Rule(
    "PACK-NO-DAY",
    E,
    "a deadline falls on no day of the calendar",
    "Counting from the day of publishing leaves the years 1 to 9999. Look at the year in `publish`.",
    "ISO 8601-1 (years of four digits)",
    "`publish:`",
)
ROUNDS = Rule(
    "PACK-ROUNDS",
    W,
    "rounds of changes have no length",
    "A round of changes takes the sponsor's days once more, and one working day of yours. Without `approval` its days "
    "cannot be counted.",
    default="`revisions:` and `approval:` of the read",
)
LINK_GONE = Rule(
    "PACK-LINK-GONE",
    W,
    "the link would be taken down on the day of publishing",
    "A link that stays for 0 days is one that nobody can follow. Leave `link stays` out if the deal sets no end.",
    default="`link stays:` of the read",
)
SAME_DAY = Rule(
    "PACK-SAME-DAY",
    W,
    "the sponsor has no working day to approve the draft",
    "`approval: 0 working days` asks for an answer before a working day has passed.",
    default="`approval:` of the read",
)
NO_LINK = Rule(
    "PACK-NO-LINK",
    W,
    "a link is promised that the description does not have",
    "Viewers who look for it find nothing. Set `link:` of the read, or do not speak of one.",
    default="`link:` of the read",
)
FOLD = Rule(
    "PACK-FOLD",
    W,
    "a disclosure, code or link of a read stands below the description's first lines",
    "Hosts show the first lines of a description and fold the rest away. Several reads with long links do not fit "
    "all; use shorter addresses, or agree on another place.",
    "what hosts show: common practice, no source",
    "157 characters; `limits: {first lines: 157}`",
)
LONG = Rule(
    "PACK-LONG",
    W,
    "the description is longer than hosts take",
    "The end would be cut off or the whole refused. Shorten titles, or have fewer chapters.",
    default="5,000 characters; `limits: {description: 5000}`",
)
NO_EDIT_LIST = Rule(
    "PACK-NO-EDIT-LIST",
    N,
    "an edit decision list cannot be written at the draft's frame rate",
    "Its places are timecode, which counts a whole number of frames a second, or 1000/1001 of one, in two digits. "
    "The timeline for editors, timeline.otio, has any rate.",
    "SMPTE ST 258 was not seen; common practice",
    "30; `frame rate:`",
)
