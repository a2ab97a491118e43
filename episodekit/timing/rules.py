"""Rules about voices and recorded takes (`TIME-`)."""

from episodekit.base.findings import PRACTICE, Rule, Severity

E, W, N = Severity.ERROR, Severity.WARNING, Severity.NOTE

PROFILE = Rule(
    "TIME-PROFILE",
    E,
    "the job names a voice profile that is not there",
    "`voice: {profile: NAME}` takes pace and pauses from your voices.yaml. `episodekit voice fit JOB --save NAME` "
    "puts one there. Without it all lengths are those of an average voice.",
)
VOICES = Rule(
    "TIME-VOICES",
    E,
    "voices.yaml cannot be read, or a value in it is wrong",
    "It holds one voice a key, each with the keys that `voice:` has in job.md: `ana: {pace: 158 wpm}`. It lies in "
    "the folder for settings of your system; the environment variable EPISODEKIT_VOICES names another file.",
)
TAKE_BEAT = Rule(
    "TIME-TAKE-BEAT",
    W,
    "a take's file name starts with no beat's id",
    "A take is known by its name: screen.2.wav, or screen.2-take3.m4a, is the second beat of the step {#screen}. "
    "A file that belongs to no beat teaches nothing.",
)
TAKE_UNREADABLE = Rule(
    "TIME-TAKE-UNREADABLE",
    W,
    "a take cannot be read as sound",
    "Any common format will do (WAV, FLAC, M4A, MP3, Opus). The file may be cut off, still being written, or no "
    "recording at all.",
)
TAKE_SILENT = Rule(
    "TIME-TAKE-SILENT",
    W,
    "no speech stands out in a take",
    "Words are told from the room by their loudness: they must be at least 6 dB above it. A muted microphone, a "
    "wrong input or a loud fan leave nothing to measure.",
    PRACTICE,
    "6 dB, fixed",
)
TAKE_LENGTH = Rule(
    "TIME-TAKE-LENGTH",
    W,
    "a take's length does not fit its words",
    "It is left out of the profile. Usually it is the wrong beat, a take cut short, or one with a false start or "
    "talk in it. A take counts if its pace lies between 40 and 400 words a minute and is less than 1.6 times as "
    "fast or slow as the others'.",
    PRACTICE,
    "40 to 400 words a minute, factor 1.6, fixed",
)
NO_VOICE = Rule(
    "TIME-NO-VOICE",
    E,
    "there are too few takes to learn a voice from",
    "`voice fit` learns from recordings in the job's takes/ folder, one file a beat, each named after its beat. The "
    "narration page names them all. Below three beats nothing is learned: chance would decide.",
    PRACTICE,
    "3 beats, fixed",
)
FEW_TAKES = Rule(
    "TIME-FEW-TAKES",
    W,
    "there are too few takes to trust the profile",
    "With one factor learned from five beats, a beat's length was off by 3.5 to 8 % on voices it was tried on; with "
    "fewer, chance decides. Below three nothing is learned. From twelve beats on, pauses are learned as well.",
    "measured on 12 machine voices and one human narrator (tests/test_timing_voices.py)",
    "3 beats at least, 5 to trust, 12 for pauses, fixed",
)
