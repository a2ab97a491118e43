"""The read's place against trying every boundary, and chapters under the host's rules."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from episodekit.base.place import Place
from episodekit.base.time import Frames, Ms
from episodekit.chapters.mark import SectionStart, mark_chapters
from episodekit.formats.chapters_text import write_chapters_text
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


AT = Place("job.md", 1, 1)


@given(st.lists(st.integers(1, 90_000), min_size=1, max_size=12), st.integers(1000, 30_000))
def test_chapters_keep_the_hosts_rules(lengths: list[int], shortest: int) -> None:
    # Source: YouTube Help, "Video chapters" (quoted): first at 0:00, three or more, ascending, each 10 s or more.
    starts = [sum(lengths[:n]) for n in range(len(lengths))]
    sections = [SectionStart(f"Part {n}", Ms(start), AT) for n, start in enumerate(starts)]
    runtime = sum(lengths)
    chapters, findings = mark_chapters(sections, Ms(runtime), Ms(shortest), 3, AT)
    stamps = [chapter.start // 1000 for chapter in chapters]
    assert stamps[0] == 0
    assert chapters[0].start == 0
    ends = [*stamps[1:], runtime / 1000]
    if len(chapters) > 1:
        assert all((end - start) * 1000 >= shortest for start, end in zip(stamps, ends, strict=True))
    assert {chapter.start for chapter in chapters} <= {0, *starts}
    assert len(sections) - len(chapters) == sum(f.code == "CHAP-MERGED" for f in findings)
    assert any(f.code == "CHAP-FEW" for f in findings) == (len(chapters) < 3)


def test_chapters_text_is_what_a_description_takes() -> None:
    sections = [SectionStart(t, Ms(s), AT) for t, s in (("A", 0), ("B\nC", 59_999), ("D", 3_661_000))]
    chapters, _ = mark_chapters(sections, Ms(3_700_000), Ms(10_000), 3, AT)
    assert write_chapters_text(chapters) == "0:00 A\n0:59 B C\n1:01:01 D\n"


def test_short_section_goes_to_its_longer_neighbour_and_says_so() -> None:
    sections = [
        SectionStart(t, Ms(s), AT)
        for t, s in (("Open", 0), ("Blink", 20_000), ("Repair", 24_000), ("End", 90_000))
    ]
    chapters, findings = mark_chapters(sections, Ms(120_000), Ms(10_000), 3, AT)
    assert [(c.stamp, c.title) for c in chapters] == [("0:00", "Open"), ("0:20", "Repair"), ("1:30", "End")]
    assert "'Blink' plays 4 s" in findings[0].message
    assert "'Repair'" in findings[0].message
