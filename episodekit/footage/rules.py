"""Rules about camera files (`CLIP-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

NOT_MEDIA = Rule(
    "CLIP-NOT-MEDIA",
    Severity.ERROR,
    "a file in footage/ holds no readable video",
    "The file is empty, cut off, or no video at all, whatever its name says. Copy it from the card again, or "
    "move it out of footage/. The draft shows slates where it was needed.",
)
DAMAGED = Rule(
    "CLIP-DAMAGED",
    Severity.WARNING,
    "a clip is cut off or has packets that cannot be decoded",
    "A camera that lost power leaves a file whose end is missing though its header claims the full length. "
    "What can be read is used. Copy the file from the card again if the card has more.",
)
NO_CLOCK = Rule(
    "CLIP-NO-CLOCK",
    Severity.WARNING,
    "a clip has no creation time, so wall-clock marks cannot reach it",
    "Marks as a place in the clip (`clip @ timecode`) still work. Screen recordings, conversions and "
    "transport streams often lose the creation time.",
    "ISO/IEC 14496-12: creation_time of the movie header may be zero",
)
VARIABLE = Rule(
    "CLIP-VARIABLE",
    Severity.NOTE,
    "a clip has a variable frame rate",
    "Phones lengthen frames in low light. Cuts are made on the time stamps, so nothing drifts; timecode "
    "labels in this clip are only approximate.",
    PRACTICE,
    "more than 5 % of the frame intervals lie more than 10 % off their median",
)
NO_SOUND = Rule(
    "CLIP-NO-SOUND",
    Severity.NOTE,
    "a clip has no sound",
    "The draft is silent where this clip plays.",
)
NO_CAMERA = Rule(
    "CLIP-NO-CAMERA",
    Severity.WARNING,
    "a clip belongs to no camera of the plan",
    "Put it into `footage/CAMERA/`, start its name with the camera's, or give the camera a pattern: "
    '`top: {files: "C0*.mp4"}`. It is used only where a mark names it, or where no camera covers a step.',
)
UNCOVERED = Rule(
    "CLIP-UNCOVERED",
    Severity.WARNING,
    "a logged step has no footage, or less than was logged",
    "No clip covers that time: the camera was off, its clock is wrong, or the clip ended before the step did. "
    "Check the camera's clock with `episodekit sync`. Slates stand for what is missing.",
)
OTHER_CAMERA = Rule(
    "CLIP-OTHER-CAMERA",
    Severity.NOTE,
    "a step is shown from another camera than planned",
    "The planned camera has no clip at that time, another one does.",
)
TWO_CLIPS = Rule(
    "CLIP-TWO-CLIPS",
    Severity.WARNING,
    "two clips of one camera cover the same time",
    "One camera films one clip at a time, so one of the two has a wrong creation time, or is a copy. The one "
    "whose name sorts first is used.",
)
PRIVATE_UNFILMED = Rule(
    "CLIP-PRIVATE-UNFILMED",
    Severity.WARNING,
    "a private span meets no clip of its camera",
    "Nothing is hidden by it. Either its camera was off, or the camera's clock or the mark's time is wrong, and then "
    "something else is hidden than was meant: look before you publish. A mark as a place in the clip is surest.",
    PRACTICE,
)
PRIVATE_WHOLE = Rule(
    "CLIP-PRIVATE-WHOLE",
    Severity.WARNING,
    "a private box is hidden all through a clip whose place in time is not known",
    "The mark is an instant, the clip has no creation time, so nobody can tell where in it the mark lies. Log the mark "
    "as a place in the clip to hide less.",
    PRACTICE,
)
PRIVATE_UNCHECKED = Rule(
    "CLIP-PRIVATE-UNCHECKED",
    Severity.WARNING,
    "a private box is hidden much longer because nothing checks the camera's clock",
    "The mark is an instant, the clip's place in time is its creation time alone, and such times were seen to be a "
    "minute off. What must not be seen is rather hidden too long. If the clock is off by more, it is seen all the "
    "same: look before you publish.",
    PRACTICE,
)
JOINED = Rule(
    "CLIP-JOINED",
    Severity.NOTE,
    "a clip goes on where the one before it ends",
    "Cameras begin a new file when one is full, in the middle of the recording. Such files of one camera are laid "
    "end to end: by their start timecodes; by their names and creation times, where a time of whole seconds may "
    "be off by one; or by their names, where all carry the time at which the recording began.",
    PRACTICE,
)
FOLDER = Rule(
    "CLIP-FOLDER",
    Severity.ERROR,
    "a folder of footage cannot be opened",
    "What lies in it is missing from the episode, as if it had never been filmed. It leads to a drive that is not "
    "there, or may not be read.",
)
NAME = Rule(
    "CLIP-NAME",
    Severity.ERROR,
    "a clip's file name is not valid text",
    "A name from an old card or system can hold bytes that are no letters; no log could name it. Rename the file.",
    "The Unicode Standard, chapter 3 (UTF-8)",
)
