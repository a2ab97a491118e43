"""Who may come in: a one-time key lets a device in, a cookie lets it come back.

Keys and cookies are random, and compared in a time that tells nothing. Of a cookie only its hash is kept, in a file
that nobody else may read, so a server that is started again knows its devices and the file lets nobody in.
"""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import json
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Any

from episodekit.outside.bench_server.disk import write_secret

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that looks like another
KEY_LENGTH = 16  # 79 bits
MOST_DEVICES = 40
LASTS = 30 * 86_400
"""Seconds after which a device has to enter again."""
_FREE_TRIES, _LONGEST_WAIT, _MOST_ADDRESSES = 5, 60.0, 2000


class Wait(Exception):
    """Too many wrong keys from that address; `seconds` until the next is looked at."""

    def __init__(self, seconds: int) -> None:
        super().__init__(f"Too many wrong keys. Wait {seconds} s.")
        self.seconds = seconds


class Entrance:
    """The door of one job's bench log. `clock` counts seconds since 1970; `renewed` is called with each new key."""

    def __init__(self, file: Path, clock: Callable[[], float], renewed: Callable[[str], None]) -> None:
        self._file = file
        self._clock = clock
        self._renewed = renewed
        self._lock = threading.Lock()
        self._devices = _devices_in(file)
        self._wrong: OrderedDict[str, tuple[int, float]] = OrderedDict()
        self.key = _new_key()

    def enter(self, key: str, address: str) -> str | None:
        """The secret of a new device's cookie, or None for a wrong key. Raises Wait, or OSError from the disk."""
        with self._lock:
            who, now = _network(address), self._clock()
            wrong, until = self._wrong.get(who, (0, 0.0))
            # A clock that is set back must not lock anybody out for longer than the longest wait.
            if now < until <= now + _LONGEST_WAIT:
                raise Wait(int(until - now) + 1)
            given = "".join(letter for letter in key.lower() if letter in LETTERS)
            if not hmac.compare_digest(given.encode(), self.key.replace("-", "").encode()):
                wait = (
                    min(_LONGEST_WAIT, 2.0 ** (wrong + 1 - _FREE_TRIES)) if wrong + 1 >= _FREE_TRIES else 0.0
                )
                self._wrong[who] = (min(wrong + 1, 100), now + wait)
                self._wrong.move_to_end(who)
                while len(self._wrong) > _MOST_ADDRESSES:
                    self._wrong.popitem(last=False)
                return None
            secret = secrets.token_urlsafe(32)
            devices = {**self._devices, _hash(secret): int(now)}
            devices = dict(list(devices.items())[-MOST_DEVICES:])
            write_secret(self._file, json.dumps({"devices": devices}))
            self._devices = devices
            self._wrong.pop(who, None)
            self.key = _new_key()
            key = self.key
        self._renewed(key)
        return secret

    def knows(self, secret: str) -> bool:
        """Whether a cookie is that of a device that was let in and whose time is not up."""
        if not secret or len(secret) > 200 or not secret.isascii():
            return False
        given, now, found = _hash(secret), self._clock(), False
        for known, since in tuple(self._devices.items()):
            found |= hmac.compare_digest(given, known) and now - since < LASTS
        return found


def _new_key() -> str:
    signs = "".join(secrets.choice(LETTERS) for _ in range(KEY_LENGTH))
    return "-".join(signs[at : at + 4] for at in range(0, KEY_LENGTH, 4))


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _network(address: str) -> str:
    """What one person's tries come from: an address, of IPv6 the network that a household is given."""
    try:
        parsed = ipaddress.ip_address(address.partition("%")[0])
    except ValueError:
        return address
    if parsed.version == 4:
        return str(parsed)
    return str(ipaddress.ip_network((int(parsed), 64), strict=False))


def _devices_in(file: Path) -> dict[str, int]:
    """The devices of an earlier run; none if the file is not there or damaged: then they enter again."""
    try:
        data: Any = json.loads(file.read_text(encoding="utf-8"))
        found = {str(known): int(since) for known, since in data["devices"].items()}
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}
    return {known: since for known, since in found.items() if len(known) == 64 and known.isascii()}
