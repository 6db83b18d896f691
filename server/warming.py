"""What the first to ask after a start would have to wait for, made ready while nobody asks.

Trips and notes are read at once. After a while, the reports of years, the pages and the planner follow, one
after the other, each in a thread and with as long a rest after it as it took: who asks meanwhile goes first.
"""

from __future__ import annotations

import asyncio
import importlib
import logging
import time
from collections.abc import Callable, Iterator
from contextlib import suppress

from jinja2 import Environment, TemplateError

from .after.balances import balances
from .after.books import Books
from .after.claims import claims_of
from .after.expiries import due
from .after.reports import reports
from .homes import Home
from .ledger import Ledger
from .store.interface import StoreUnavailable

WHILE_SECONDS = 2.0  # after the start: whoever waited for it comes first

log = logging.getLogger("counterfoil")


async def warm(ledger: Ledger, home: Home, pages: Environment, today: Callable[[], str]) -> None:
    """Makes everything ready. What the store does not let it do now, the pages do when they are asked for."""
    try:
        await ledger.warm()
        await asyncio.sleep(WHILE_SECONDS)
        books, snapshot = await ledger.books(), await home.snapshot()
        day = today()
        await ledger.larder(snapshot, day)
        for step in (*_reckoned(books, day), *_compiled(pages), _load_planner):
            began = time.monotonic()
            await asyncio.to_thread(step)
            await asyncio.sleep(time.monotonic() - began)
    except StoreUnavailable as error:
        log.info("not everything is ready yet: %s", error)


def _reckoned(books: Books, day: str) -> Iterator[Callable[[], object]]:
    """What stays with the books (``after/once.py``), in the household's own money."""
    money = (books.at_home.currency, books.at_home.exponent)
    yield lambda: claims_of(books, day)
    yield lambda: balances(books, day)
    yield lambda: due(books, day)
    yield lambda: reports(books, day, *money)


def _compiled(pages: Environment) -> Iterator[Callable[[], object]]:
    def compiled(name: str) -> None:
        with suppress(TemplateError):  # pages for readers have filters of their own
            pages.get_template(name)

    for name in pages.list_templates(extensions=["html"]):
        yield lambda name=name: compiled(name)


def _load_planner() -> None:
    """Brings the solver into the process."""
    importlib.import_module(".engine.planner", __package__)
