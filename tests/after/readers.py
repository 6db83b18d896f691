"""What the tests of published pages share: a folder made of a small trip, and its files looked at.

The trip is that of ``tests/engine/test_alternatives.py``. For readers one pack of rolls is needed and one is
welcome: 6.00 on the tag less an insert of 1.00 is 5.00 at the register; a slip of 0.50 comes back, 4.50 net,
37.5 cents a roll, under the stock-up price of 40 cents.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec

from counterfoil.after.publishing.choices import PublishChoices
from counterfoil.after.publishing.site import Published, made_ready, publish
from counterfoil.engine.offers import Trip
from counterfoil.engine.planner import plan
from counterfoil.shipped import web_folder
from tests.engine.test_alternatives import ROLLS

MONDAY = datetime(2026, 11, 30, 9, 30, tzinfo=UTC)
TUESDAY = MONDAY + timedelta(days=1)
ADDRESS = "https://list.example/deals/"
WEB = web_folder()


def rolls(**more: Any) -> Trip:
    """The trip; ``more``: parts of the document that differ."""
    return msgspec.convert(ROLLS | more, Trip)


def choices(**more: Any) -> PublishChoices:
    """Published by Wren Tallow at list.example; ``more``: what else she chose."""
    return msgspec.convert({"address": ADDRESS, "author": "Wren Tallow"} | more, PublishChoices)


def published(
    trip: Trip, folder: Path, chosen: PublishChoices | None = None, now: datetime = MONDAY, web: Path = WEB
) -> Published:
    """Publishes a trip into a folder."""
    return publish(made_ready(trip, plan(trip), folder, chosen or choices(), now), web=web, now=now)


def files(folder: Path) -> dict[str, bytes]:
    """Every file of a folder by its path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
