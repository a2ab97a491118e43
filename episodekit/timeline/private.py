"""What a step hides, wherever it is shown, and whether a draft may be cut at all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from episodekit.base.findings import Finding
from episodekit.bench.rules import PRIVATE as LOG_PRIVATE
from episodekit.footage.model import PlacedClip
from episodekit.footage.private import Private
from episodekit.job.model import Plan
from episodekit.job.rules import PRIVATE as JOB_PRIVATE
from episodekit.timeline.model import Picture, Segment


def hidden_by_steps(
    plan: Plan, segments: Iterable[Segment], clips: Sequence[PlacedClip]
) -> Iterator[Private]:
    """The `private` facts of steps, as stretches of the clips that those steps show."""
    steps = {step.id: step for step in plan.all_steps()}
    cameras = {placed.clip.path: placed.camera for placed in clips}
    margin = plan.front.limits.private_margin
    for segment in segments:
        step, picture = steps.get(segment.step), segment.source
        if step is None or not isinstance(picture, Picture):
            continue
        for view in step.private:
            if cameras[picture.clip] == (view.camera or step.camera):
                yield Private(picture.clip, picture.start, picture.end, view.box.grown(margin), view.what)


def must_not_be_cut(findings: Iterable[Finding]) -> bool:
    """Whether something was to be hidden and nobody can tell what, so that no picture may leave the program."""
    return any(found.rule in (LOG_PRIVATE, JOB_PRIVATE) for found in findings)
