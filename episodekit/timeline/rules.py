"""Rules about the draft (`DRAFT-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

GLYPH = Rule(
    "DRAFT-GLYPH",
    Severity.WARNING,
    "the draft's font cannot draw a character of a title or card",
    "The shipped font covers Latin, Greek and Cyrillic. Put a font file into the job folder and name it with "
    "`font:` in job.md.",
)
FONT = Rule(
    "DRAFT-FONT",
    Severity.ERROR,
    "the font named in job.md cannot be read",
    "`font:` is the path of a .ttf or .otf file inside the job folder.",
)
PRIVATE = Rule(
    "DRAFT-PRIVATE",
    Severity.ERROR,
    "something private can still be seen in the rendered draft",
    "Every private box is looked at again in the finished frames, and must be plain there. One that is not means that "
    "the clip's turn, shape or stamps mislead the program. The draft is thrown away, and so is an older one, which "
    "might show it. Mark the box larger, or the whole picture, or take the clip out.",
    PRACTICE,
    "all but one pixel in 200 within 8 of 255 levels of brightness and colour, fixed",
)
UNREADABLE = Rule(
    "DRAFT-UNREADABLE",
    Severity.WARNING,
    "a stretch of footage gave no picture, so a slate stands there",
    "The clip's packets could not be decoded in that stretch, or ffmpeg refused them for another reason, which "
    "the message tells. Copy the file from the card again.",
)
