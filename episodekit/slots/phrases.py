"""What a text says: a phrase as agreed, that somebody pays, that something was free, a buyer's code.

English only. These tables judge by a handful of words what a listener hears, so they are kept narrow where a
narrow table only asks for a plainer line, and each is tried on many lines by the tests. Common practice, no source.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence

_TYPED = str.maketrans(
    {
        **dict.fromkeys("‘’‚‛′`´", "'"),
        **dict.fromkeys("“”„‟″«»", '"'),
        **dict.fromkeys("‐‑‒–—―−", "-"),
        "\u00ad": "",
    }
)
_SENTENCE = re.compile(r"(?<=[.!?…])['\")]*\s+")
_NEAR = 90  # characters before a word in which "not" or "the seller" turns its meaning
_LEAD_IN = 5  # words of a first sentence that only leads over: "About that bet."

_NOT = re.compile(
    r"(?:\b(?:not|never|no|nobody|no one|none|without|nor|neither)|n't)(?: an?| the| one| any)?"
    r"(?: [\w'-]+){0,2}(?: anything)? ?$"
)
_I = re.compile(r"\b(?:i|we|you|i'm|we're|you're|i've|we've|i'd|i'll)(?: [\w'-]+){0,2} ?$")
_IT = re.compile(r"(?:^that|\b(?:it|this)) ?$")
_THEIR_AD = re.compile(r"\b(?:seller|listing|saw|answered|found|posted|placed|ran|bought|read)\b")
_AD = r"(?:ad|advert|advertisement|promo|promotion|commercial)"
_KIND = (
    rf"(?:{_AD}|ads|adverts|partnership|content|placement|spot|message|segment|section|part|read|endorsement"
    r"|sponsorship|word|support|mention)"
)
_THIS = (
    r"(?:this|the next|the following|today's|my)(?: [\w'-]+){0,2}? "
    r"(?:part|video|episode|minute|segment|section|spot|seconds|bench|bit)"
)

# Somebody pays. "I paid 35 pounds", "it paid off", "an ad hoc fix", "as advertised" must not count.
_PAID = (
    re.compile(r"\b(?:co-)?sponsor\w*"),
    re.compile(r"\bpaid (?:for )?by\b"),
    re.compile(rf"\bpaid[- ](?:for )?{_KIND}\b"),
    re.compile(
        r"\b(?:my|our|the|today's) advertisers?\b|\badvertis(?:es|ing) (?:here|on|in) |\bis advertising\b"
    ),
    re.compile(
        r"\b(?:am|'m|was|being|been|getting|got|get) paid to (?:tell|say|talk|show|mention|speak|read|try|use|test)\b"
    ),
    re.compile(r"\b(?:this|part|section|segment|minute|bit) is paid(?= for\b|[,.;:!]|$)"),
    re.compile(r"\badvertising (?:section|segment|part|message|break)\b"),
    re.compile(
        r"\b(?:part|video|episode|minute|segment|section|bit|seconds|spot) (?:is|are|was|were) paid for\b"
    ),
    re.compile(r"(?:#|\bhashtag )ad\b"),
    re.compile(r"\bcommercial break\b"),
)
_SOMEBODY_PAYS = (
    re.compile(
        r"\b(?:pays?|paying|paid) (?:me|us)(?= to\b| for (?:this|the next|saying|telling)\b| and\b| so\b|[,.!;:]|$)"
    ),
    re.compile(rf"\b(?:pays?|paying|paid) for {_THIS}\b"),
    re.compile(r"\b(?:bought|booked) (?:this|the next) (?:[\w'-]+ )?(?:minute|seconds|spot|slot)\b"),
)
_AN_AD = (
    re.compile(
        r"(?:\b(?:is|are|follows?|comes|begins|starts|now|here|for|into|with|after|before|hear|watching)|'s):? "
        rf"(?:an?|the|my|our|today's|one|this) (?:[\w'-]+ ){{0,2}}?{_AD}\b"
        r"(?! (?:hoc|blocker|converter|agency|that|which|i|he|she|they|you|board|said)\b)"
    ),
    re.compile(rf"^\W*(?:[\w'-]+,? )?{_AD}(?:ising)?(?: break| time)?(?= ?[:.!,;-]| for\b| from\b| by\b|$)"),
    re.compile(rf"\b(?:quick|short|brief) {_AD}\b|, an? {_AD}\b\W*$|\bwhere the {_AD} (?:goes|stands|is)\b"),
)

# Something was free. "Feel free", "free the flex", "I sent a drawing", "it gave me a fright" must not count.
_FREE = (
    re.compile(r"\bfor free\b|\bfree (?:sample|gift)s?\b|, free(?:,? (?:too|as well))?(?=[,.;:!]|$)"),
    re.compile(
        r"\b(?:was|were|been) (?:(?!not |never |no )\w+ )?free(?=[,.;:!]|$| and\b| too\b| for me\b| as well\b)"
    ),
    re.compile(
        r"\b(?:got|get|had|have|received|given|sent|sends|gave|gives|took) (?:[\w'-]+ ){0,6}?(?<!feel )free\b"
        r"(?! of (?!charge))(?! (?:to|the|it|them|this|from (?:the|its)|hand|play|time|shipping|delivery|trial)\b)"
    ),
    re.compile(
        r"(?<![\w-])(?<!feel )free (?!of\b|from\b|to\b|the\b|play\b|shipping\b|delivery\b|trial\b)"
        r"(?:[\w'-]+,? ){0,5}?(?:from|by|thanks to|courtesy of)\b"
    ),
    re.compile(r"\bis free(?=[,;] (?:from|by)\b|,? and (?:from|came)\b)"),
    re.compile(r"\bgift(?:s|ed)?\b(?! (?:for|to|card|of)\b)"),
    re.compile(r"\bcomplimentary\b|\bon the house\b|\bcost me nothing\b(?! but)|\bpaid nothing for\b"),
)
_AT_NO_COST = re.compile(
    r"\b(?:at no cost|no charge|without charge|without paying|free of charge)\b"
    r"|\b(?:did not|didn't|have not|haven't|never) (?:pay|paid) (?:[\w'-]+ ){0,2}?for (?:it|them|these|this|the|my)\b"
)
_GIVE = (
    r"(?:gave|gives|given|giving|sent|sends|lent|loaned|supplied|supplies|provided|provides|donated|shipped)"
)
_GIVEN = (
    re.compile(
        rf"\b{_GIVE} (?:me|us)\b(?! an? (?:idea|fright|scare|chance|headache|shock|clue|reason|start|hint|hand|break"
        r"|hard|good|bad|link|message|mail|letter|photo|picture"
        r"|bill|invoice|quote|offer|price)|(?: some)? (?:trouble|pause|hope|down|back|off|away)\b"
        r"| \d)"
    ),
    re.compile(
        r"\b(?:gave|sent|lent|supplied|provided|donated) (?:all |both )?(?:the|this|these|every|it)\b"
    ),
    re.compile(r"\b(?:supplied|provided|donated|lent|loaned|given|gifted|sent) to (?:me|us)\b"),
)
# "I was given it", "on loan from Ashbourne": here the first person receives.
_RECEIVED = (
    re.compile(
        r"\b(?:i|we) (?:was|were|have been|got) (?:given|sent|lent|loaned|gifted|supplied with|provided with)\b"
    ),
    re.compile(r"\bon loan\b|\bpaid nothing\b|\bfor nothing\b(?=[.,;!]|$| (?:by|from)\b)"),
)
# "Provided by the battery" is no gift: who gave it has a name, or is a firm.
_BY_A_FIRM = re.compile(
    r"\b(?:[Ss]upplied|[Pp]rovided|[Dd]onated|[Ll]ent|[Ll]oaned|[Gg]iven|[Ss]ent|[Gg]ifted) by"
    r" (?:[A-Z]|them\b|the (?:maker|people|shop|sponsor|firm|company)s?\b)"
)


def plain(text: str) -> str:
    """Text as it is compared: no capitals, single spaces, typed quotes and dashes.

    >>> plain("It’s  PRINTED\\nin two days")
    "it's printed in two days"
    """
    return _typed(text).lower()


def _typed(text: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", text).translate(_TYPED).split())


def alternatives(phrase: str) -> tuple[str, ...]:
    """The ways a talking point may be said: "this | or that". Without a full stop at the end.

    >>> alternatives("Reads the receipt. | receipt from a photo")
    ('reads the receipt', 'receipt from a photo')
    """
    return tuple(filter(None, (plain(part).rstrip(" .!?…") for part in phrase.split("|"))))


def place_of(phrase: str, text: str) -> int | None:
    """Where a phrase that is plain stands in a text that is plain, as whole words; None if it does not."""
    first = r"\b" if re.match(r"\w", phrase) else ""
    last = r"\b" if re.search(r"\w$", phrase) else ""
    match = re.search(f"{first}{re.escape(phrase)}{last}", text)
    return match.start() if match else None


def opening(text: str) -> str:
    """The first sentence, and the second too where the first only leads over in five words or fewer.

    >>> opening("About that bet. This is paid for. They sell sand.")
    'About that bet. This is paid for.'
    """
    sentences = _SENTENCE.split(text.strip())
    kept = 2 if len(sentences[0].split()) <= _LEAD_IN else 1
    return " ".join(sentences[:kept])


def says_paid(text: str) -> bool:
    """Whether the text says, in words that a listener hears, that somebody pays for it.

    >>> says_paid("Thanks to Tallow for sponsoring this."), says_paid("I paid attention to the plug.")
    (True, False)
    """
    for sentence in _SENTENCE.split(plain(text)):
        if _found(_PAID, sentence, (_NOT,)) or _found(_SOMEBODY_PAYS, sentence, (_NOT, _I)):
            return True
        if _found(_AN_AD, sentence, (_NOT, _THEIR_AD)):
            return True
    return False


def says_free(text: str) -> bool:
    """Whether the text says that something was received free.

    >>> says_free("They sent me the screws."), says_free("Work the flex free of its latch.")
    (True, False)
    """
    said = plain(text)
    if _AT_NO_COST.search(said):
        return True
    if _found((_BY_A_FIRM,), _typed(text), (_NOT,)) or _found(_RECEIVED, said, (_NOT,)):
        return True
    return _found(_FREE, said, (_NOT,)) or _found(_GIVEN, said, (_NOT, _I, _IT))


def says_code(code: str, text: str) -> bool:
    """Whether a buyer's code is spoken: its own letters as written, spelled out, or after the word "code".

    The case of the letters counts, so that a bench is not the code BENCH.

    >>> says_code("BENCH", "It lies on the bench."), says_code("BENCH", "Use B-E-N-C-H.")
    (False, True)
    """
    signs = [re.escape(sign) for sign in code if sign.isalnum()]
    if not signs:
        return code in text
    said = " ".join(text.translate(_TYPED).split())
    whole = r"[\s.,_-]{0,3}".join(signs)
    spelled = r"(?:[\s.,-]{1,3})".join(signs)
    named = rf"\bcode\b\W+(?:(?:is|word)\W+)?{whole}\b"
    return (
        re.search(rf"(?<!\w){whole}(?!\w)", said) is not None
        or (len(signs) > 1 and re.search(rf"(?<!\w){spelled}(?!\w)", said, re.IGNORECASE) is not None)
        or re.search(named, said, re.IGNORECASE) is not None
    )


def _found(table: Sequence[re.Pattern[str]], text: str, unless: Sequence[re.Pattern[str]]) -> bool:
    """Whether a pattern stands in the text without one of `unless` in the characters just before it."""
    return any(
        not any(before.search(text[max(0, match.start() - _NEAR) : match.start()]) for before in unless)
        for match in _matches(table, text)
    )


def _matches(table: Sequence[re.Pattern[str]], text: str) -> Iterator[re.Match[str]]:
    for pattern in table:
        yield from pattern.finditer(text)
