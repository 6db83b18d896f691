"""``site.json``: what a published folder holds. The publisher goes by it, and so does a reader's phone."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Literal

import msgspec

from ...engine.offers import Id
from ...intake.bad_input import BadInput, Finding, shorten

SITE_FILE = "site.json"


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One published trip.

    ``key``: a hash by which the publisher knows the household's trip again. ``id``: its permanent IRI in the
    feed. ``digest``: of everything that was told; ``look``: of the templates that its page was made with.
    ``lines``: its deals in a line each."""

    slug: Id
    key: str
    id: str
    title: str
    day: str
    published: datetime
    updated: datetime
    digest: str
    look: str
    summary: str
    lines: tuple[str, ...] = ()


class LeftApp(msgspec.Struct, frozen=True, kw_only=True):
    """An app that a newer one has replaced at ``left``; pages that were open then may still ask for it."""

    hash: str
    left: datetime


class SiteList(msgspec.Struct, frozen=True, kw_only=True):
    """The whole site. ``id``: the feed's permanent IRI; ``app``: the hash of the readers' app of today."""

    format: Literal["counterfoil-site-1"] = "counterfoil-site-1"
    id: str
    address: str
    title: str
    author: str
    updated: datetime
    app: str = ""
    left_apps: tuple[LeftApp, ...] = ()
    trips: tuple[Entry, ...] = ()

    @property
    def newest_first(self) -> tuple[Entry, ...]:
        """By the day of the trip, then by when it came out."""
        return tuple(sorted(self.trips, key=lambda each: (each.day, each.published, each.slug), reverse=True))


def read_site(folder: Path) -> SiteList | None:
    """What the folder holds; None where nothing was published. Raises ``BadInput`` if it cannot be read."""
    path = folder / SITE_FILE
    if not path.exists():
        return None
    try:
        return msgspec.json.decode(path.read_bytes(), type=SiteList)
    except (OSError, msgspec.DecodeError) as error:
        mend = "This folder's list of trips cannot be read: name another folder, or remove this file."
        raise BadInput(Finding(field="folder", value=shorten(str(path)), mend=f"{mend} ({error})")) from error
