"""Rules about chapters (`CHAP-`)."""

from episodekit.base.findings import Rule, Severity

HOST = "YouTube Help, 'Video chapters' (quoted by a distributor's help page and by trade press, 28 May 2020)"

MERGED = Rule(
    "CHAP-MERGED",
    Severity.NOTE,
    "a section has no chapter of its own",
    "Hosts ignore all markers of a video when one chapter is too short, so the section is merged with the chapter "
    "before it. Of all choices the one is taken whose chapters are nearest to the spacing you ask for: each second "
    "outside it costs one point, a section left out 90 and one for each second it plays, a step that begins a "
    "chapter 30.",
    HOST + "; the points are common practice, no source",
    "10 s, `limits: {chapter length: ...}`; 1 to 4 min and 20, `chapters: {apart: ..., most: ...}`",
)
MARKER = Rule(
    "CHAP-MARKER",
    Severity.WARNING,
    "a read cannot have a marker of its own",
    "A read with `marker: yes` begins a chapter, and so does the story after it. The host's rules come first, and no "
    "chapter begins inside a step that answers a question. Without its marker the read belongs to the chapter before.",
    HOST,
    "`marker:` of the read",
)
FEW = Rule(
    "CHAP-FEW",
    Severity.WARNING,
    "the episode has fewer chapters than the host shows",
    "With fewer than three markers, or one of them too short, the host shows none. Add sections (`# Title`), or "
    "leave it.",
    HOST,
    "three; `limits: {chapters: ...}`",
)
