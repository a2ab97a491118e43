"""Rules about chapters (`CHAP-`)."""

from episodekit.base.findings import Rule, Severity

HOST = "YouTube Help, 'Video chapters' (quoted by a distributor's help page and by trade press, 28 May 2020)"

MERGED = Rule(
    "CHAP-MERGED",
    Severity.NOTE,
    "a section is too short for a chapter of its own",
    "Hosts ignore all markers of a video when one chapter is too short, so it is merged with its neighbour.",
    HOST,
    "10 s; `limits: {chapter length: ...}`",
)
FEW = Rule(
    "CHAP-FEW",
    Severity.WARNING,
    "the episode has fewer chapters than the host shows",
    "With fewer than three markers the host shows none. Add sections (`# Title`), or leave it.",
    HOST,
    "three; `limits: {chapters: ...}`",
)
