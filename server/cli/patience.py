"""HTTP that does not wait for ever for the head of a request.

uvicorn closes connections that are idle between requests, but one that sends its first line in
drips, or nothing at all, it would keep. ``security.body_in_time`` does the same for bodies.
"""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_SECONDS = 20  # for the whole head; a phone on a bad network needs a few


class PatientProtocol(H11Protocol):
    """uvicorn's own, with a deadline for each head."""

    _head_deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]  # as uvicorn's
        """The first head may begin."""
        super().connection_made(transport)
        self._expect_head()

    def data_received(self, data: bytes) -> None:
        """A head that is not whole yet keeps its deadline; a whole one has none."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE:
            self._expect_head()
        else:
            self._forget_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Nobody is waited for any more."""
        self._forget_head()
        super().connection_lost(exc)

    def _expect_head(self) -> None:
        if self._head_deadline is None:
            self._head_deadline = self.loop.call_later(HEAD_SECONDS, self.transport.close)

    def _forget_head(self) -> None:
        if self._head_deadline is not None:
            self._head_deadline.cancel()
            self._head_deadline = None
