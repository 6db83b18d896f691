"""One step of the schema."""

from __future__ import annotations

import hashlib
from typing import NamedTuple


class Migration(NamedTuple):
    """One step: its number (1, 2, 3, ... without gaps), what it is for, its statements."""

    number: int
    name: str
    statements: tuple[str, ...]

    @property
    def digest(self) -> str:
        """SHA-256 of the statements (hex)."""
        return hashlib.sha256("\n".join(self.statements).encode()).hexdigest()
