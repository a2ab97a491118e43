"""A read's deal in the words of the plan, for pages that repeat it."""

from __future__ import annotations

from episodekit.base.text import counted
from episodekit.base.time import Ms
from episodekit.job.contract import Read


def terms_of(read: Read) -> tuple[tuple[str, str], ...]:
    """What is asked, key by key as a creator writes them; what is left out is not told.

    Disclosure and talking points are left to the caller, who shows them beside the read's words.
    """
    keys = {
        "length": f"{_short(read.length.low)} to {_short(read.length.high)}" if read.length else "",
        "starts": str(read.starts or ""),
        "never say": "; ".join(read.never_say),
        "code": read.code or "",
        "code shown": _short(read.code_shown) if read.code_shown else "",
        "link": read.link or "",
        "link pays": "yes" if read.link_pays else "",
        "link stays": counted(read.link_stays, "day") if read.link_stays else "",
        "goods": read.goods or "",
        "keep clear of": ", ".join(
            f"{what} {_short(ms)}" for what, ms in read.keep_clear_of.distances().items()
        ),
        "approval": counted(read.approval, "working day") if read.approval else "",
        "revisions": str(read.revisions or ""),
    }
    return tuple((key, value) for key, value in keys.items() if value)


def _short(ms: Ms) -> str:
    """A length as it is written in the plan: seconds below two minutes, exact to the millisecond.

    >>> _short(Ms(45_500)), _short(Ms(240_000)), _short(Ms(150_000))
    ('45.5 s', '4 min', '2:30')
    """
    if ms < 120_000:
        return f"{ms / 1000:.3f}".rstrip("0").rstrip(".") + " s"
    minutes, rest = divmod(ms, 60_000)
    if not rest:
        return f"{minutes} min"
    return f"{minutes}:{rest // 1000:02d}"
