"""From where this server can be reached, as far as it knows itself."""

from __future__ import annotations

from pathlib import Path

import msgspec


class SecurePort(msgspec.Struct, frozen=True, kw_only=True):
    """The https side of ``serve --lan``: its port, the authority's certificate and its SHA-256 for eyes."""

    port: int
    authority: Path
    fingerprint: str


class Reach(msgspec.Struct, frozen=True, kw_only=True):
    """``beyond``: addresses for other machines (``https://192.168.1.20:8443``), the best first.

    ``secure``: set when the server speaks https itself; plain http then only leads there.
    """

    beyond: tuple[str, ...] = ()
    secure: SecurePort | None = None
