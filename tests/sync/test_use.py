"""Steps that nobody filmed, and clips that no step uses, against counting every second as a set."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given, settings
from hypothesis import strategies as st

from episodekit.base.place import Place
from episodekit.base.time import Rate
from episodekit.bench.model import WALL, Moment, Span, SpanKind
from episodekit.footage.model import Clip, PlacedClip
from episodekit.sync.use import Gap, gaps, used

stretch = st.tuples(st.integers(0, 60), st.integers(1, 20)).map(lambda pair: (pair[0], sum(pair)))
KINDS = st.sampled_from([SpanKind.WORK, SpanKind.KEEP, SpanKind.B_ROLL, SpanKind.WAIT])


def clip(number: int, start: int, end: int, camera: str = "top") -> PlacedClip:
    path = f"footage/{number}.mp4"
    made = Clip(path, Fraction(end - start), Rate.parse("25"), 64, 36, "h264", path)
    return PlacedClip(made, camera, Fraction(start))


def span(step: str, start: int, end: int | None, kind: SpanKind = SpanKind.WORK, clock: str = WALL) -> Span:
    last = None if end is None else Moment(clock, Fraction(end))
    return Span(step, kind, Moment(clock, Fraction(start)), last, "", Place("bench.jsonl"))


@settings(max_examples=500, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from("abc"), stretch, KINDS), max_size=8),
    st.lists(st.tuples(st.sampled_from(["top", "side"]), stretch), max_size=6),
)
def test_seconds_of_work_that_no_camera_saw(
    logged: list[tuple[str, tuple[int, int], SpanKind]], rolled: list[tuple[str, tuple[int, int]]]
) -> None:
    spans = [span(step, *one, kind) for step, one, kind in logged]
    clips = [clip(n, *one, camera) for n, (camera, one) in enumerate(rolled)]
    seen = {second for _, one in rolled for second in range(*one)}
    found = {gap.step: gap for gap in gaps(spans, clips)}
    for step in "abc":
        work = {
            s for name, one, kind in logged if name == step and kind is not SpanKind.WAIT for s in range(*one)
        }
        bare = work - seen
        assert (step in found) == (bool(work) and (bare == work or len(bare) > 1))
        if step in found:
            told = [
                second for first, last in found[step].stretches for second in range(int(first), int(last))
            ]
            assert told == sorted(bare)
            assert found[step].whole == (bare == work)
    falls_in = {
        n
        for n, (_, one) in enumerate(rolled)
        for _, other, _ in logged
        if set(range(*one)) & set(range(*other))
    }
    assert used(clips, spans) == {f"footage/{n}.mp4" for n in falls_in}


def test_step_that_is_never_done_is_missing_from_its_start() -> None:
    assert gaps([span("a", 5, None)], []) == (Gap("a", True, ((Fraction(5), Fraction(5)),)),)
    assert gaps([span("a", 5, None)], [clip(1, 0, 9)]) == ()
    assert used([clip(1, 0, 9)], [span("a", 5, None)])


def test_step_marked_in_a_clip_is_filmed_by_it() -> None:
    lone = PlacedClip(clip(1, 0, 9).clip, "top", None)
    spans = [span("a", 2, 4, clock="footage/1.mp4")]
    assert gaps(spans, [lone]) == ()
    assert used([lone, clip(2, 0, 9)], spans) == {"footage/1.mp4"}
