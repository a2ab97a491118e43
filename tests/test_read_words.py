"""What a read must say and may not: many first lines as creators speak them, and lines that only look like them.

The lines are written for this test; which of them a listener takes for a disclosure is common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from episodekit.base.findings import Finding
from episodekit.job.reader import read_plan
from episodekit.pipeline import compile_episode
from episodekit.slots.phrases import alternatives, opening, place_of, plain, says_code, says_free, says_paid

PAID = """
This part is paid for by Tallow Tools, who sponsor the bench.
This video is sponsored by Tallow Tools.
Thanks to Tallow Tools for sponsoring this episode.
Today's sponsor is Tallow Tools.
A word from our sponsor.
Tallow Tools sponsors this video.
Tallow Tools is the sponsor of the next minute.
While that runs down: this part is paid for by Tallow, who sponsor it.
Before we go on, a short break for the sponsor, Tallow Tools.
This is an ad for Tallow Tools.
This is a paid advertisement.
Here's a quick ad.
Ad: Tallow Tools.
Advertisement.
Ad break.
Paid promotion for Tallow Tools.
What follows is an advert for Tallow Tools.
Time for an ad.
Now an advertisement from Tallow Tools.
Tallow Tools paid me to tell you about their drivers.
Tallow Tools is paying me for the next minute.
I am paid by Tallow Tools to say this.
I was paid by Tallow for this.
The next minute is paid for by Tallow Tools.
Tallow pays for this part of the video.
Tallow Tools bought the next minute.
This is a paid partnership with Tallow Tools.
This paid segment is about Tallow Tools.
It's no secret that Tallow sponsors my bench.
THIS VIDEO IS SPONSORED.
The people who pay for this episode are Tallow Tools, and this is advertising.
My advertiser today is Tallow Tools.
Hashtag ad: Tallow Tools.
This is the ad, and then we go on.
Tallow’s paying for this video.
And this is where the ad goes.
I'm getting paid to talk about Tallow for a minute.
We'll be right back after this ad.
The next sixty seconds are an advertisement.
Before the glue sets, an ad.
This part of the video was paid for.
They pay me, so take this with salt.
Today's video comes with the paid support of Tallow Tools.
Right, advert time.
I've been paid to try the new driver from Tallow.
Just so you know, this is paid.
You are about to hear an ad.
This is an advertising section.
Full disclosure: Tallow is paying for this section.
""".strip().splitlines()

NOT_PAID = """
I added two drops of oil.
I paid attention to the plug.
I paid 35 pounds for it.
It paid off in the end.
I paid for this video's camera myself.
This is an ad hoc repair.
The seller's ad said it was dead.
I saw an ad for a broken speaker.
It does what was advertised.
As advertised, it holds twelve hours.
The AD converter sits under the shield.
This video is not sponsored.
Nobody pays me for this.
There is no sponsor today.
Nobody has paid me.
I love Tallow Tools.
Tallow Tools makes a fine driver.
Adjust the screw, then add the washer.
The readout had faded.
You get what you pay for.
A radio that I got for a promise.
Thanks to Tallow for the lovely long driver.
This isn't an ad.
Unpaid hours are the worst.
I was promoted to the big bench.
The owner pays me forty pounds if it works.
This is a promotion I did not expect.
The shop's own advertising says IP67.
The ad on the box promises 12 hours.
The admiral had a lathe like it.
My attention was not paid to the pad.
Somebody paid good money for this.
It was advertised as sealed.
They paid me back.
No ads in here, only screws.
""".strip().splitlines()

FREE = """
Tallow sent me the iron.
They gave me the screws.
And they sent me the screws free of charge.
I got the iron for free.
The iron was free.
The screws were given to me by Tallow.
The iron is a gift from Ashbourne Tools.
Ashbourne gifted me this iron.
Ashbourne Tools supplied the iron.
The iron was supplied by Ashbourne.
They provided these screws.
I did not pay for the iron.
I haven't paid anything for it.
It came at no cost.
The free iron is from Ashbourne.
They lent me the meter.
The meter was on loan, and free.
Tallow donated the board.
Ashbourne let me have the iron for nothing.
I was given this iron by Ashbourne.
I was sent the iron by Ashbourne Tools.
The iron is on loan from Ashbourne.
I didn't buy this iron; Ashbourne sent it.
The shell was theirs, I paid nothing.
The iron is theirs, sent to me for this video.
I got this iron free from Ashbourne.
Ashbourne's iron, which I got free.
They gave us a free iron.
It was supplied free by Ashbourne.
Disclosure: free screws, from Brackenfold.
""".strip().splitlines()

NOT_FREE = """
I sent a drawing.
I gave up on the clip.
Free the flex first.
Keep it free of dust.
Feel free to skip this.
It gave me a fright.
That gave me an idea.
The latch comes free.
Lead-free solder melts later.
Given that, I wait.
There is free play in the joint.
I gave the screws a quarter turn.
The seller sent me a photo of it.
The shop sent me a bill for it.
They did not give me anything for free.
It was not free.
Nobody gave me this iron.
It cost me nothing but an evening.
A gift for my father.
You get free shipping.
I bought it at Ashbourne.
It gave me 41 megabits.
The board sent me down the wrong path.
Power is provided by the battery.
The voltage supplied by the pack is low.
The clock signal is provided by the crystal.
The signal sent by the remote.
A shell that is free from scratches.
A free afternoon is all it takes.
It provides the 5 V rail.
It hangs free in the air.
That gave me the answer.
The cell was free of swelling.
""".strip().splitlines()


@pytest.mark.parametrize("line", PAID)
def test_first_line_that_says_who_pays_is_heard_as_one(line: str) -> None:
    assert says_paid(line)


@pytest.mark.parametrize("line", NOT_PAID)
def test_line_that_only_looks_like_a_disclosure_is_none(line: str) -> None:
    assert not says_paid(line)


@pytest.mark.parametrize("line", FREE)
def test_line_that_says_it_was_free_is_heard_as_one(line: str) -> None:
    assert says_free(line)


@pytest.mark.parametrize("line", NOT_FREE)
def test_line_that_only_looks_like_a_gift_is_none(line: str) -> None:
    assert not says_free(line)


@pytest.mark.parametrize(
    ("code", "text", "spoken"),
    [
        ("BENCH", "Code BENCH takes off a tenth.", True),
        ("BENCH", "That is B-E-N-C-H, all capitals.", True),
        ("BENCH", "That is B. E. N. C. H. at the till.", True),
        ("BENCH", "b e n c h, spelled", True),
        ("BENCH", "with code bench", True),
        ("BENCH", "The code is “Bench”.", True),
        ("BENCH", "It lies on the bench.", False),
        ("BENCH", "The code is on the bench.", False),
        ("BENCH", "Code BENCHES is another.", False),
        ("BENCH", "WORKBENCH", False),
        ("BENCH20", "Say BENCH 20.", True),
        ("BENCH-20", "Say BENCH20.", True),
        ("BENCH20", "Say BENCH 200.", False),
    ],
)
def test_code_is_spoken_by_its_letters(code: str, text: str, spoken: bool) -> None:
    assert says_code(code, text) is spoken


@pytest.mark.parametrize(
    ("phrase", "said", "found"),
    [
        ("Printed in two days.", "it was printed in\ntwo days, and", True),
        ("it's mine", "IT’S MINE", True),
        ("a long-life cell", "a long–life cell", True),
        ("ad", "I added one", False),
        ("this | receipt from a photo", "the receipt from a photo", True),
        ("this | that", "neither", False),
        ("41 %", "it holds 41\u00a0% now", True),
        ("|", "anything", False),
    ],
)
def test_talking_point_is_compared_fairly(phrase: str, said: str, found: bool) -> None:
    assert any(place_of(way, plain(said)) is not None for way in alternatives(phrase)) is found


def test_opening_is_the_first_sentence_and_a_short_lead_in() -> None:
    assert opening("About that bet. This is paid for. More.") == "About that bet. This is paid for."
    assert opening("The whole of the first long sentence counts. Paid for.") == (
        "The whole of the first long sentence counts."
    )
    assert opening("It costs 3.5 pounds or so, paid. More.") == "It costs 3.5 pounds or so, paid."
    assert opening("") == ""


DEAL = """\
---
title: A dead speaker
reads:
  ledgerleaf:
    sponsor: Ledgerleaf
    must say: [reads the receipt | receipt from a photo]
    never say: [never strips]
    code: BENCH
    link: https://ledgerleaf.example/bench
    goods: a year of the program
free goods:
  iron: {from: Ashbourne Tools, what: a soldering iron}
---
# Open
> It is dead, and the screw never came loose.
# Solder
## Heat it {#heat}
> Ashbourne sent me this iron.
## Join it {#join}
- uses: iron
> I solder it.
# From Ledgerleaf {#deal}
- read: ledgerleaf
> That bet. This part is paid for by Ledgerleaf, who gave me a year of it free.

> It takes the receipt from a photo. Code BENCH gets you a month.
"""


SCENARIOS = Path(__file__).parent / "scenarios"


def told(text: str) -> list[Finding]:
    """What is found about the deal, beside where the read plays."""
    plan, _ = read_plan(text.encode())
    assert plan is not None
    found = compile_episode(plan).findings
    return [f for f in found if f.code.startswith("SLOT-") and f.code not in {"SLOT-NO-PLACE", "SLOT-MOVED"}]


def test_deal_whose_words_are_all_kept_has_no_findings() -> None:
    assert told(DEAL) == []


@pytest.mark.parametrize(
    ("old", "new", "code", "where", "says"),
    [
        ("the receipt from a photo", "slips", "SLOT-MUST-SAY", "must say", "'reads the receipt' or 'receipt from"),
        ("never came loose", "Never\n> strips", "SLOT-NEVER-SAY", "It is dead", "'never strips'"),
        ("Code BENCH gets", "Never strips. BENCH gets", "SLOT-NEVER-SAY", "It takes", "Ledgerleaf refuses"),
        ("# Solder", "# It never strips", "SLOT-NEVER-SAY", "# It never", "A heading"),
        ("A dead speaker", "It never strips", "SLOT-NEVER-SAY", "title:", "The title"),
        ("## Join it", "## Never strips", "SLOT-NEVER-SAY", "## Never", "A heading"),
        ("> It takes", "> The bench takes", "", "", ""),
        ("Code BENCH gets", "On the bench it gets", "SLOT-CODE", "code: BENCH", "never says its code BENCH"),
        ("That bet. This", "A bet is a bet, and mine. This", "SLOT-NOT-HEARD", "> A bet", "first sentence"),
        ("gave me a year of it free", "make a program", "SLOT-GOODS", "> That bet", "a year of the program free"),
        ("Ashbourne sent me this iron", "I warm it", "SLOT-GOODS", "uses: iron", "a soldering iron from Ashbourne"),
        ("Ashbourne sent me this iron", "Somebody sent me sand", "SLOT-GOODS", "uses: iron", "'Join it' uses"),
        ("- uses: iron\n", "", "SLOT-UNUSED-GOODS", "iron: {", "No step uses"),
        ("bench\n    goods", "bench\n    link pays: yes\n    goods", "SLOT-LINK-PAYS", "link pays", "no beat does"),
    ],
)  # fmt: skip
def test_deal_that_is_broken_points_at_the_line(old: str, new: str, code: str, where: str, says: str) -> None:
    assert DEAL.count(old) == 1
    text = DEAL.replace(old, new)
    found = told(text)
    assert [f.code for f in found] == ([code] if code else [])
    for f in found:
        assert where in text.splitlines()[f.at.line - 1]
        assert says in f.message
        assert f.remedy


def test_free_goods_told_only_after_their_first_use_are_told_too_late() -> None:
    late = DEAL.replace("> Ashbourne sent me this iron.", "> I warm it.").replace(
        "# From Ledgerleaf", "# After\n> Ashbourne sent me this iron.\n# From Ledgerleaf"
    )
    assert [f.code for f in told(late)] == ["SLOT-GOODS"]


def test_refused_phrase_over_two_beats_is_found_where_it_begins() -> None:
    text = DEAL.replace("came loose.", "came loose, never").replace("# Solder", "\n> strips.\n\n# Solder")
    (found,) = told(text)
    assert (found.code, found.at.line) == ("SLOT-NEVER-SAY", 15)
    three = DEAL.replace("came loose.", "strips. Never strips.").replace(
        "# Solder", "\n> It never strips.\n\n# Solder"
    )
    assert [f.at.line for f in told(three)] == [15, 17]


def test_paying_link_that_is_told_in_a_beat_needs_no_note() -> None:
    text = DEAL.replace("bench\n    goods", "bench\n    link pays: yes\n    goods")
    assert told(text.replace("gets you a month.", "gets you a month, and I earn a little.")) == []


def deal_of(name: str, old: str = "", new: str = "") -> list[str]:
    """What is found about the words of a whole job's deal, with one piece of it changed."""
    text = (SCENARIOS / name / "job.md").read_text(encoding="utf-8")
    assert text.count(old) == 1 or not old, old
    plan, _ = read_plan(text.replace(old, new, 1).encode())
    assert plan is not None
    found = compile_episode(plan).findings
    return [f.code for f in found if f.code.startswith(("SLOT-", "PACK-"))]


@pytest.mark.parametrize(
    ("name", "old", "new", "codes"),
    [
        ("drumlin-speaker", "", "", []),
        ("mossgate-handheld", "", "", []),
        ("tarnvale-lathe", "", "", []),
        ("drumlin-speaker", "from a photo: I put", "by itself: I put", ["SLOT-MUST-SAY"]),
        # "They sponsor this episode" comes a sentence too late.
        ("drumlin-speaker", "is paid for by Ledgerleaf", "is about Ledgerleaf", ["SLOT-NOT-HEARD"]),
        ("mossgate-handheld", "code POCKET takes", "it takes", ["SLOT-CODE"]),
        ("mossgate-handheld", "    approval: 3 working days\n", "", ["PACK-ROUNDS"]),
        ("mossgate-handheld", "    link: https://larkspur.example/pocket\n", "", ["PACK-NO-LINK", "PACK-NO-LINK"]),
        ("tarnvale-lathe", "so I promise nothing there", "but theirs never strips", ["SLOT-NEVER-SAY"]),
        ("tarnvale-lathe", "also sent me the screws free of charge", "make them", ["SLOT-MUST-SAY", "SLOT-GOODS"]),
    ],
)  # fmt: skip
def test_deals_of_the_whole_jobs_are_kept_and_each_broken_word_is_told(
    name: str, old: str, new: str, codes: list[str]
) -> None:
    assert deal_of(name, old, new) == codes
