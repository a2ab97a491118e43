"""Connections that ask nothing, or are too many from one address, are hung up, so that nobody shuts others out."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_FROM_ONE = 40
"""A browser opens six to a server; several tabs and a reload stay far below."""
FIRST_WORD = 15.0
"""Seconds in which a new connection has to ask something."""


class Connection(H11Protocol):
    """A connection of the server; uvicorn itself waits without end for a first request."""

    def __init__(self, *values: Any, **named: Any) -> None:
        super().__init__(*values, **named)
        self._silent: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override] # as uvicorn's own
        """Somebody connects."""
        super().connection_made(transport)
        address = self.client[0] if self.client else ""
        if sum(_address(other) == address for other in self.connections) > MOST_FROM_ONE:
            transport.abort()
        else:
            self._silent = self.loop.call_later(FIRST_WORD, self._hang_up_on_the_silent)

    def connection_lost(self, exc: Exception | None) -> None:
        """Somebody is gone."""
        if self._silent is not None:
            self._silent.cancel()
        super().connection_lost(exc)

    def _hang_up_on_the_silent(self) -> None:
        if self.cycle is None and not self.transport.is_closing():
            self.transport.abort()


def _address(connection: Any) -> str:
    client = connection.client
    return client[0] if client else ""
