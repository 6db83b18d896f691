"""Files on their way in: kept between a preview and its confirmation, for one device and one day.

Each is one file of the data folder, readable by its owner alone and named by a token that nobody can guess.
They are no part of the household: no backup has them, and what is old is cleared away.
"""

from __future__ import annotations

import re
import secrets
import time
from collections.abc import Callable
from pathlib import Path

import msgspec

KEPT_SECONDS = 24 * 3600
MOST_KEPT = 20  # of all devices; the oldest goes first
_TOKEN = re.compile(r"[A-Za-z0-9_-]{22}")


class Passing(msgspec.Struct, frozen=True, kw_only=True):
    """A file that was sent: by which ``device``, its ``name`` there, the ``kind`` of its rows ("" to be told
    by the columns), its bytes."""

    device: str
    name: str
    kind: str
    data: bytes


class PassingFiles:
    """The files in ``folder``, which is made when the first one comes."""

    def __init__(self, folder: Path, *, now: Callable[[], float] = time.time) -> None:
        self._folder = folder
        self._now = now

    def keep(self, file: Passing) -> str:
        """Keeps a file; the token that it is asked for by. Raises ``OSError`` where the disk is full."""
        self._folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        self._clear(MOST_KEPT - 1)
        token = secrets.token_urlsafe(16)
        part = self._folder / f"{token}.part"
        part.touch(mode=0o600)
        part.write_bytes(msgspec.msgpack.encode(file))
        part.replace(self._folder / token)
        return token

    def get(self, token: str, device: str) -> Passing | None:
        """The file, or None: there is no such one, it is too old, or it is another device's."""
        if not _TOKEN.fullmatch(token):
            return None
        path = self._folder / token
        try:
            if path.stat().st_mtime < self._now() - KEPT_SECONDS:
                return None
            file = msgspec.msgpack.decode(path.read_bytes(), type=Passing)
        except (OSError, msgspec.DecodeError):
            return None
        return file if file.device == device else None

    def drop(self, token: str) -> None:
        """Forgets a file."""
        if _TOKEN.fullmatch(token):
            (self._folder / token).unlink(missing_ok=True)

    def _clear(self, most: int) -> None:
        ages = sorted(
            ((path.stat().st_mtime, path) for path in self._folder.iterdir() if path.is_file()), reverse=True
        )
        for place, (at, path) in enumerate(ages):
            if place >= most or at < self._now() - KEPT_SECONDS:
                path.unlink(missing_ok=True)
