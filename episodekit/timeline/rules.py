"""Rules about the draft (`DRAFT-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

GLYPH = Rule(
    "DRAFT-GLYPH",
    Severity.WARNING,
    "the draft's font cannot draw a character of a title or card",
    "The shipped font covers Latin, Greek and Cyrillic. Put a font file into the job folder and name it with "
    "`font:` in job.md.",
)
SHAPING = Rule(
    "DRAFT-SHAPING",
    Severity.WARNING,
    "letters of a title or card cannot be joined or ordered on this machine",
    "Arabic, Hebrew, Hindi, Thai and many other scripts join their letters, stack them, or run from right to left. The "
    "program brings all that is needed for that but one library, FriBiDi, which most desktops have. Without it each "
    "letter stands alone, in the order in which it is typed.",
)
FONT = Rule(
    "DRAFT-FONT",
    Severity.ERROR,
    "the font named in job.md cannot be read",
    "`font:` is the path of a .ttf, .otf or .ttc file inside the job folder; of a collection the first font is used.",
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
FLASH = Rule(
    "DRAFT-FLASH",
    Severity.WARNING,
    "sped-up footage flashes more than three times within a second",
    "Flashing light can cause seizures in people who are sensitive to it, and no caution on screen prevents that. "
    "Each place of the picture is counted: general flashes are opposing changes of relative luminance by 10 % or "
    "more, the darker side below 0.80; red ones go to or from a saturated red. What flashes at once may cover a "
    "quarter of any field of 10 degrees, which in a wide picture is about a twenty-seventh of it. Only footage that "
    "plays faster than it was filmed is scanned, on the rendered frames. Slow it down or cut it out. This is a "
    "measurement by the published definition, no medical advice.",
    "WCAG 2.2, 2.3.1 and its definition of general flash and red flash thresholds, which takes 341 x 256 pixels of "
    "1024 x 768 as a field of 10 degrees",
)
