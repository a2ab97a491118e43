"""Rules about fitting picture to voice (`FIT-`)."""

from episodekit.base.findings import Rule, Severity

W, N = Severity.WARNING, Severity.NOTE

PICKUP = Rule(
    "FIT-PICKUP",
    W,
    "a step has less footage than words",
    "B-roll is laid over the words first, then the last picture is held for a moment, then a slate stands for "
    "what is missing. Film a pickup of that length, or trim the words.",
    default="3 s of hold; `limits: {longest hold: ...}`",
)
LEFT_OUT = Rule(
    "FIT-LEFT-OUT",
    N,
    "part of a step's work is left out, because it would play too fast or too briefly to follow",
    "The middle is left out: how a step begins and how it ends tell the most. What is sped up gets 3 s on screen "
    "at least; with less, part of it plays at normal speed. Mark idle time as `wait`, or say more where the run "
    "time has room for it.",
    default="4x handwork, 16x repetition, 60x curing; `limits: {handwork: 2-4x, ramp: 3 s, ...}`",
)
UNFILMED = Rule(
    "FIT-UNFILMED",
    W,
    "a shot that must be shown was not filmed",
    "A must-show counts as filmed when a `keep` mark of its step is covered by its camera. A slate stands for it.",
)
RUNTIME = Rule(
    "FIT-RUNTIME",
    W,
    "the episode runs longer or shorter than its target",
    "The remedy counts words at your pace. Keep spans and must-shows take time too.",
    default="`runtime:` of the job",
)
LONGER = Rule(
    "FIT-LONGER",
    N,
    "a step plays longer than its words",
    "What is kept plays at normal speed, and a must-show has its length. A step may also gain a few seconds "
    "without words to bring the episode to its run time.",
    default="5 s of open stretch; `limits: {open stretch: ...}`",
)
