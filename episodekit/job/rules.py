"""Rules about the job plan (`JOB-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

E, W, N = Severity.ERROR, Severity.WARNING, Severity.NOTE

MISSING = Rule(
    "JOB-MISSING",
    E,
    "the job folder has no job.md",
    "Everything starts from job.md. `episodekit new DIR` makes a folder with one to fill in.",
)
EMPTY = Rule(
    "JOB-EMPTY",
    E,
    "job.md has nothing in it to film or say",
    "A plan needs at least one heading with a spoken line (a block quote, `> ...`) or a fact under it.",
)
TOO_BIG = Rule(
    "JOB-TOO-BIG",
    E,
    "job.md is too large to be a plan",
    "A three-hour script is under 200 kB; a larger file is usually a log or a paste gone wrong, and reading "
    "it would take minutes.",
    PRACTICE,
    "1 MB, fixed",
)
ENCODING = Rule(
    "JOB-ENCODING",
    E,
    "job.md is not UTF-8",
    "Save the file as UTF-8 in your editor. Guessing the encoding would put wrong letters on screen.",
    "The Unicode Standard, chapter 3 (UTF-8)",
)
FRONT_MATTER = Rule(
    "JOB-FRONT-MATTER",
    E,
    "the front matter is missing or not closed",
    "job.md starts with a line `---`, then `title:` and the other settings, then a second line `---`.",
)
YAML = Rule(
    "JOB-YAML",
    E,
    "the front matter is not valid YAML",
    "Check the colon and space after each key, the indent, and quotes around values that hold `: ` or `#`. "
    "Anchors and aliases (`&`, `*`) are not read.",
    "YAML 1.2.2",
)
KEY = Rule(
    "JOB-KEY",
    E,
    "a key is not known",
    "A mistyped key would silently drop what you meant, and that may be a hazard. In the front matter every "
    "key must be known. In a list item, `word: ...` is taken for a fact when the word is close to a known key; "
    "start the line with other words, or leave the colon out, to make it a note.",
)
KEPT_AS_NOTE = Rule(
    "JOB-KEPT-AS-NOTE",
    N,
    "a list item with a colon is kept as a note",
    "Its first words are no known fact and near to none, so it is read as a note to self.",
)
VALUE = Rule(
    "JOB-VALUE",
    E,
    "a value cannot be read",
    "The message says what would be accepted. Numbers need a unit: a bare 10 could be minutes or seconds.",
)
TWICE = Rule(
    "JOB-TWICE",
    E,
    "a name or key is used twice",
    "Step ids name the steps in the bench log, so each may stand for one step only. Give one of the two "
    "headings an id of its own: `## Title {#other-id}`.",
)
ID = Rule(
    "JOB-ID",
    E,
    "an id has characters that cannot be used",
    "Ids are written by hand in the log and used in file names: small letters, digits and hyphens, starting "
    "with a letter or digit.",
)
NO_ID = Rule(
    "JOB-NO-ID",
    W,
    "no id can be made from a heading",
    "An id is made of the title's Latin letters and digits; this one has none, so the step is named by its line, "
    "and that changes when you edit above it. Give it an id before you log it.",
)
NAME = Rule(
    "JOB-NAME",
    E,
    "a fact names something that the plan does not have",
    "Cameras and reads are declared in the front matter, steps by their headings, questions by `ask NAME:`.",
)
ORDER = Rule(
    "JOB-ORDER",
    E,
    "a step needs one that comes later",
    "The steps run in the order of the file. Move the needed step up, or drop the `needs`.",
)
HAZARD = Rule(
    "JOB-HAZARD",
    E,
    "a hazard is of no known kind",
    "A hazard that is not recognised would carry no caution on screen. For anything else write `caution: ...` "
    "in your own words.",
)
LOOSE = Rule(
    "JOB-LOOSE",
    W,
    "something stands before the first heading",
    "Spoken lines and facts belong to a section. Put a heading (`# Cold open`) above them.",
)
SPOKEN_ON = Rule(
    "JOB-SPOKEN-ON",
    W,
    "a line without `>` is spoken, because it follows a block quote without a blank line",
    "Markdown lets a quote run on into the next line. If the line is a note, put a blank line before it; if it "
    "is spoken, start it with `>`.",
    "CommonMark 0.31, lazy continuation lines",
)
DEEP = Rule(
    "JOB-DEEP",
    N,
    "a heading that is no section and no step is kept as a note",
    "`#` makes a section and `##` a step; nothing is filmed for deeper headings, and a line over `---` is a "
    "heading for Markdown only.",
)
NO_PICTURE = Rule(
    "JOB-NO-PICTURE",
    W,
    "a step has no spoken line and nothing that must be shown",
    "It would get the shortest screen time and no shot of its own. Add a `> ...` line or a `must show:`.",
)
READ_TEXT = Rule(
    "JOB-READ-TEXT",
    E,
    "a read has no text",
    "The read's words are a section of job.md with the fact `- read: NAME` and its spoken lines.",
)
UNANSWERED = Rule(
    "JOB-UNANSWERED",
    W,
    "a question is opened and never answered",
    "Viewers who stay for an answer leave angry without it. Add `- answer NAME: ...` to the step that answers.",
)
QUOTE = Rule(
    "JOB-QUOTE",
    W,
    "a spoken line quotes a ledger value, which cannot be filled in yet",
    "`{{ ... }}` is kept as written and timed as three words.",
)
FLICKER = Rule(
    "JOB-FLICKER",
    W,
    "a shutter time will flicker under this mains frequency",
    "Lamps pulse at twice the mains frequency; an exposure that holds a whole number of pulses does not "
    "flicker. At 50 Hz use 1/50 or 1/100, at 60 Hz 1/60 or 1/120.",
    "A camera maker's flicker article: exposure = n / (2 x mains)",
)
PRIVATE = Rule(
    "JOB-PRIVATE",
    E,
    "job.md asks to hide something, and it cannot be told what or where",
    "What is private is hidden in every picture that leaves the program, so a rectangle that cannot be read, a camera "
    "or clip that is not there, or a key that may have meant `private` stops the draft until it is mended. "
    "Write `- private: the account name | screen | 60% 5% to 95% 15%` in a step, or "
    "`private: {account: {camera: screen, box: 60% 5% to 95% 15%}}` in the front matter.",
    PRACTICE,
)
NO_DATE = Rule(
    "JOB-NO-DATE",
    W,
    "a deadline cannot be computed without the day of publishing",
    "Approval and the time a link stays are counted in days before and after `publish`.",
    PRACTICE,
)
