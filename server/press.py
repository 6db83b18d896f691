"""Publishes trips for the Desk, one at a time, aside from whatever the server answers meanwhile.

Weighing every alternative of a week takes the planner a minute, so a page is made in a thread and the Desk
is told how far it is. What was published before stays as it is until the new page is whole.

The data keep a copy of what the pages are made of. Where the folder is gone, after a restore on another
machine, it is made again of that, with the same addresses and days, without weighing anything.
"""

from __future__ import annotations

import asyncio
import logging
from datetime import UTC, datetime
from http import HTTPStatus
from pathlib import Path

import msgspec

from .after.publishing.archive import archive_of
from .after.publishing.choices import PublishChoices
from .after.publishing.editions import documents_of, put_back, read_documents
from .after.publishing.site import Ready, made_ready, publish, withdraw
from .after.publishing.site_list import SiteList, read_site
from .engine.offers import Trip
from .engine.papers import Plan
from .errors import not_taken
from .intake.bad_input import BadInput
from .store.interface import StoreUnavailable
from .store.published import Published

log = logging.getLogger("counterfoil")
PUBLISHED = "published"  # the folder, among the data


class Progress(msgspec.Struct, kw_only=True):
    """A page that is being made, or the last that was. ``trouble``: why it could not be, "" if it could."""

    title: str
    slug: str
    done: int = 0
    of: int = 0
    running: bool = True
    changed: bool = False
    trouble: str = ""


class _Closing(Exception):
    """The server stops: the page that is being made is given up."""


class Press:
    """The household's published folder. ``web``: the project's files for browsers; ``kept``: the data's copy
    of what the pages are made of."""

    def __init__(self, folder: Path, web: Path, kept: Published) -> None:
        self._folder = folder
        self._web = web
        self._kept = kept
        self._task: asyncio.Task[None] | None = None
        self._looking: asyncio.Task[None] | None = None
        self._last: Progress | None = None
        self._closing = False

    @property
    def last(self) -> Progress | None:
        """What is being made, or was made last since the server started, as it stands at this moment."""
        return None if self._last is None else msgspec.structs.replace(self._last)

    def open(self) -> None:
        """Begins to look whether the folder is there, and to make it again where it is not. Whoever asks for
        the folder meanwhile waits for that."""
        self._looking = asyncio.create_task(self._look_after())

    async def site(self) -> SiteList | None:
        """What is published; None where nothing is."""
        await self._looked()
        return await asyncio.to_thread(read_site, self._folder)

    async def start(self, trip: Trip, plan: Plan, choices: PublishChoices) -> None:
        """Begins to publish. Raises ``BadInput`` with every finding that can be had at once."""
        await self._looked()
        self._not_while_running()
        ready = await asyncio.to_thread(made_ready, trip, plan, self._folder, choices, _now())
        self._not_while_running()
        progress = Progress(title=ready.trip.title, slug=ready.trip.id)
        self._last = progress
        self._task = asyncio.create_task(self._publish(ready, progress))

    async def close(self) -> None:
        """Gives up what is being made, at its next step: what was published before stays as it is."""
        self._closing = True
        await self.finished()

    async def finished(self) -> None:
        """Waits for what is being made."""
        await self._looked()
        if self._task is not None:
            await self._task

    async def withdraw(self, slug: str) -> None:
        """Takes a trip off the site."""
        await self._looked()
        self._not_while_running()
        await asyncio.to_thread(withdraw, slug, self._folder, web=self._web, now=_now())
        await self._keep_copy()

    async def archive(self) -> bytes:
        """The whole folder as a zip file."""
        await self._looked()
        self._not_while_running()
        return await asyncio.to_thread(archive_of, self._folder)

    async def _looked(self) -> None:
        if self._looking is not None:
            await self._looking

    async def _look_after(self) -> None:
        """The folder is the truth where it is there: a trip withdrawn since a backup does not come back."""
        try:
            there = await asyncio.to_thread(read_site, self._folder)
            documents = await self._kept.documents() if there is None else {}
            if documents:
                site, editions = read_documents(documents)
                again = await asyncio.to_thread(
                    put_back, site, editions, self._folder, web=self._web, now=_now()
                )
                log.info("the folder of %d published pages was made again", len(again.trips))
            await self._keep_copy()
        except (BadInput, OSError, StoreUnavailable) as error:
            log.warning("the published folder was not looked after: %s", error)

    async def _keep_copy(self) -> None:
        """Lets the data's copy be as the folder is; where that fails the next start does it."""
        try:
            found = await asyncio.to_thread(documents_of, self._folder)
            if found is not None:
                await self._kept.keep(*found)
        except (BadInput, OSError, StoreUnavailable) as error:
            log.warning("what is published is not in backups yet: %s", error)

    def _not_while_running(self) -> None:
        if self._last is not None and self._last.running:
            raise not_taken(
                "trip",
                self._last.title,
                "It is still being made: see how far it is under Published, and try again when it is done.",
                status=HTTPStatus.CONFLICT,
            )

    async def _publish(self, ready: Ready, progress: Progress) -> None:
        def told(done: int, of: int) -> None:
            if self._closing:
                raise _Closing
            progress.done, progress.of = done, of

        try:
            published = await asyncio.to_thread(publish, ready, web=self._web, now=_now(), progress=told)
            progress.changed = published.changed
            await self._keep_copy()
        except _Closing:
            progress.trouble = "The server was stopped. What was published before stays: publish it again."
        except BadInput as error:
            progress.trouble = " ".join(finding.mend for finding in error.findings)
        except OSError as error:
            log.warning("publishing %s: %s", ready.trip.id, error)
            progress.trouble = f"The folder could not be written ({error.strerror}). What was there stays."
        except Exception:
            log.exception("publishing %s failed", ready.trip.id)
            progress.trouble = "The fault is the server's. What was published before stays; its log says why."
        finally:
            progress.running = False


def _now() -> datetime:
    return datetime.now(UTC).replace(microsecond=0)
