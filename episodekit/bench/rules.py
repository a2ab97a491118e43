"""Rules about the bench log (`LOG-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

E, W = Severity.ERROR, Severity.WARNING

LINE = Rule(
    "LOG-LINE",
    E,
    "a line of the bench log cannot be read",
    'A line of bench.jsonl is one JSON object: {"time": "...", "kind": "start", "step": "screen"}. A CSV has '
    "the columns time, kind, step, text (and camera, box, id, of). A line cut off by a dying battery is left out, "
    "no more.",
    "JSON Lines; RFC 8259; RFC 4180",
)
FIELD = Rule(
    "LOG-FIELD",
    E,
    "a mark has a field that is unknown, missing or of the wrong type",
    "The fields are time, kind, step and text; camera and box of a private mark; `id`, which the bench log's page "
    "gives its marks, and `of`, by which an undo names the mark it withdraws. All are text.",
)
TORN = Rule(
    "LOG-TORN",
    Severity.NOTE,
    "the power went while a line of the bench log was written",
    "The bench log's page is told that a mark is safe only when its whole line is on disk, so this one was not; the "
    "page keeps such a mark and sends it again. The rest of the log is as it was.",
    PRACTICE,
)
TWICE = Rule(
    "LOG-TWICE",
    W,
    "two marks have the same id",
    "An id is given to one mark only, so one of the two is a copy: the first counts, the other is left out. Marks that "
    "hide something are never left out.",
    PRACTICE,
)
UNDO = Rule(
    "LOG-UNDO",
    W,
    "an undo withdraws nothing",
    "An undo withdraws the mark whose id it names in `of`, or without one the mark before it in the same file that "
    "still stands. Both must stand above it. Where a line just above cannot be read, it might have been meant, so "
    "nothing is withdrawn.",
    PRACTICE,
)
KIND = Rule(
    "LOG-KIND",
    E,
    "a mark is of no known kind",
    "Kinds are start, done, retake, keep, wait, b-roll, note, problem, reading, chirp, undo, private and public.",
)
TIME = Rule(
    "LOG-TIME",
    E,
    "a mark's time cannot be read",
    "Write an instant with its offset from UTC, 2026-11-07T10:04:03-05:00, or a place in a clip, "
    "`top-1.mp4 @ 00:01:12:04` (the camera's timecode, if it writes one) or `top-1.mp4 @ 1:12.5` (since the "
    "clip's first frame). Without an offset the instant could be anywhere in the world; `utc offset:` in job.md gives "
    "it for the whole log.",
    "RFC 3339",
)
FAR = Rule(
    "LOG-FAR",
    E,
    "a mark lies more than 100 days from the rest of the log",
    "A camera whose clock was never set dates its clips years back. The mark is left out, since a step that "
    "seems to last for years would swallow all others.",
    PRACTICE,
    "100 days, fixed",
)
CLIP = Rule(
    "LOG-CLIP",
    E,
    "a mark names a clip that is not in footage/",
    "Write the file's name as it stands in footage/.",
)
BEYOND = Rule(
    "LOG-BEYOND",
    E,
    "a mark lies outside its clip",
    "The place is before the clip's first frame or after its last. A camera that lost power leaves a clip that "
    "is shorter than it claims.",
)
STEP = Rule(
    "LOG-STEP",
    E,
    "a mark names a step that the plan does not have",
    "Steps are named by their ids: `## Lift the screen {#screen}` is `screen`. Its marks are left out.",
)
UNORDERED = Rule(
    "LOG-UNORDERED",
    W,
    "a mark is earlier than the one logged before it",
    "The log is only ever appended, so the times of each device that logs rise. The marks are sorted; check for a "
    "clock that was set, or a mistyped hour.",
)
OVERLAP = Rule(
    "LOG-OVERLAP",
    W,
    "a step starts while another is still open",
    "Two hands do one step at a time. The open step is closed where the new one starts.",
)
NOTHING_OPEN = Rule(
    "LOG-NOTHING-OPEN",
    E,
    "a mark refers to a step that is not open",
    "`done`, and `keep`, `wait` or `b-roll` without a step, belong to the step that was started last and is "
    "not done yet. The mark is left out.",
)
NO_ATTEMPT = Rule(
    "LOG-NO-ATTEMPT",
    W,
    "a retake has no attempt before it",
    "A retake voids the attempt before it; here there is none, so it is taken for a start.",
)
NOT_DONE = Rule(
    "LOG-NOT-DONE",
    W,
    "the log ends while a step is still open",
    "The step's footage is used up to the end of the clip that was running.",
)
NO_TIME = Rule(
    "LOG-NO-TIME",
    W,
    "a step was opened and closed at the same instant",
    "Nothing can be cut from no time. Check the two marks.",
)
UNLOGGED = Rule(
    "LOG-UNLOGGED",
    Severity.NOTE,
    "a step of the plan has no marks",
    "It plays as slates until its footage is logged. Nothing to do before it is filmed.",
    PRACTICE,
)
PRIVATE = Rule(
    "LOG-PRIVATE",
    E,
    "a mark hides something, and it cannot be told what, when or where",
    "What is private is hidden in every picture that leaves the program, so a private mark whose time, clip, camera or "
    "box cannot be read stops the draft: none is cut until the mark is mended. Write "
    '{"time": "screen-1.mp4 @ 1:12.5", "kind": "private", "camera": "screen", "box": "60% 5% to 95% 15%", '
    '"text": "account name"}, and a mark `public` where it is gone. The camera may be left out where the time is a '
    "place in one of its clips. The box is in percents of the picture as a player shows it, across and down, from the "
    "upper left corner to the lower right one.",
    PRACTICE,
)
PRIVATE_OPEN = Rule(
    "LOG-PRIVATE-OPEN",
    W,
    "a private span never ends",
    "It stays hidden to the end of all that its camera films. Append a mark `public` where it is gone.",
    PRACTICE,
)
PUBLIC = Rule(
    "LOG-PUBLIC",
    W,
    "a mark `public` ends nothing",
    "It ends what is private on its camera; with a text, only what was marked private with the same text. What it was "
    "meant to end stays hidden.",
    PRACTICE,
)
TWO_LOGS = Rule(
    "LOG-TWO-LOGS",
    W,
    "the job folder has bench.jsonl and bench.csv",
    "Both are read, bench.jsonl first. Marks that stand in both count twice; keep one.",
)
