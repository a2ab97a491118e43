"""The read's place against trying every boundary."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from episodekit.base.time import Frames, Ms
from episodekit.job.model import Plan
from episodekit.job.reader import read_plan
from episodekit.slots.place import place
from episodekit.slots.terms import Text, Unit


def plan_with(steps: list[tuple[int, bool]], window: str, clear: int) -> Plan:
    """Steps of a length in s, some with a hazard; each third one opens a section."""
    text = "---\ntitle: A\nreads:\n  a:\n    sponsor: B\n"
    text += f"    starts: {window}\n    keep clear of: {{hazard: {clear} s}}\n---\n"
    for number, (_, hazard) in enumerate(steps):
        text += f"# Part {number}\n" if number % 3 == 0 else ""
        text += (
            f"## Step {number} {{#s{number}}}\n- bench: 1 min\n"
            + ("- hazard: mains\n" if hazard else "")
            + "> Words.\n\n"
        )
    plan, _ = read_plan((text + "# Read {#r}\n- read: a\n> Paid for.\n").encode())
    assert plan is not None
    return plan


@given(
    st.lists(st.tuples(st.integers(3, 60), st.booleans()), min_size=1, max_size=10),
    st.integers(0, 100),
    st.integers(0, 100),
    st.integers(0, 40),
    st.integers(5, 60),
)
def test_read_is_placed_where_trying_every_boundary_says(
    steps: list[tuple[int, bool]], first: int, second: int, clear: int, length: int
) -> None:
    low, high = sorted((first, second))
    plan = plan_with(steps, f"{low}% to {high}%", clear)
    rate = plan.front.frame_rate
    units = [
        Unit(step, Frames(0), Frames(seconds * 30))
        for step, (seconds, _) in zip(plan.steps, steps, strict=True)
    ]
    text = Text(plan.read_texts["a"], Frames(length * 30), Ms(length * 1000))
    placed = place(plan, units, [text], rate)
    (read,) = placed.reads
    total = (sum(s for s, _ in steps) + length) * 1000

    def allowed(index: int) -> bool:
        start = sum(s for s, _ in steps[:index]) * 1000
        if not low * total <= start * 100 <= high * total:
            return False
        gaps = []
        for number, (_, hazard) in enumerate(steps):
            if hazard:
                between = steps[number + 1 : index] if number < index else steps[index:number]
                gaps.append(sum(s for s, _ in between))
        return all(gap >= clear for gap in gaps)

    legal = [index for index in range(1, len(steps) + 1) if allowed(index)]
    found = placed.order.index(text)
    assert bool(placed.findings) == (not legal)
    if legal:
        sections = [index for index in legal if index % 3 == 0 or index == len(steps)]
        assert found == min(sections or legal)  # a section's end is preferred, then the earliest
    else:
        assert placed.findings[0].code == "SLOT-NO-PLACE"
    assert read.start == sum(s for s, _ in steps[:found]) * 1000
    assert sum(part.frames for part in placed.order) * 1000 == total * 30
