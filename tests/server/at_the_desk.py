"""A household with stores and products, and its planner at the Desk's forms."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Generator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from counterfoil.engine.offers import Product, ShelfPrice, Size, Store
from counterfoil.home.kinds import Record
from counterfoil.homes import Home, Snapshot
from counterfoil.store.records import SqliteRecords
from counterfoil.store.sqlite import SqliteStore

from .conftest import Client, paired

TODAY = "2026-12-05"
ALDER = Store(id="alder", name="Alder Row Grocers")
BIRCH = Store(id="birch", name="Birch Lane Market")
OATS = Product(id="oats", description="Wickel rolled oats", size=Size(amount="500", unit="g"))
HONEY_OATS = Product(id="honey-oats", description="Wickel oats, honey", size=Size(amount="500", unit="g"))
SOAP = Product(
    id="soap", description="Nimbelle bar soap", category="Bath", gtin="012345000065", tax_class="general"
)
OATS_TAG = ShelfPrice(store="alder", product="oats", cents=349)
BASICS: Sequence[Record] = (ALDER, BIRCH, OATS, HONEY_OATS, SOAP, OATS_TAG)
PAGE = {"Accept": "text/html"}


class Desk:
    """Somebody at the Desk: opens pages, fills in forms, reads what they say."""

    def __init__(self, client: Client, data: Path) -> None:
        self.client = client
        self._data = data

    def open(self, address: str, status: int = 200) -> str:
        """The page at an address, as it came."""
        answer = self.client.get(address, headers=PAGE)
        assert answer.status_code == status, answer.text
        return answer.text

    def says(self, address: str) -> str:
        """What a page says, in words."""
        return words(self.open(address))

    def send(self, address: str, fields: Mapping[str, Any], status: int = 200, **more: Any) -> str:
        """Sends a form; the page that follows, as it came."""
        answer = self.client.post(address, data=dict(fields), headers=PAGE, **more)
        assert answer.status_code == status, words(answer.text)
        return answer.text

    def kept(self) -> Snapshot:
        """The household as it is kept."""
        return asyncio.run(in_home(self._data))


async def in_home(data: Path, *records: Record) -> Snapshot:
    """The household in a folder, once some records are kept in it too."""
    store = SqliteStore(data)
    await store.open()
    try:
        home = Home(SqliteRecords(store))
        if records:
            await home.save(records, words="What was there", device="desk")
        return await home.snapshot()
    finally:
        await store.close()


@contextmanager
def at_the_desk(data: Path, records: Sequence[Record] = BASICS) -> Generator[Desk]:
    """A desk over a household that has some records, on the fifth of December."""
    asyncio.run(in_home(data, *records))
    with paired(data, today=lambda: TODAY) as client:
        yield Desk(client, data)


def words(page: str) -> str:
    """What the middle of a page says, without its marks."""
    middle = re.search(r"<main.*?</main>", page, re.DOTALL)
    assert middle, page
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", middle[0])).split())


def typed(page: str) -> dict[str, list[str]]:
    """What the fields of the page's largest form hold, as a browser would send them."""
    form = max(re.findall(r"<form.*?</form>", page, re.DOTALL), key=len)
    fields: dict[str, list[str]] = {}

    def put(name: str, value: str) -> None:
        fields.setdefault(name, []).append(html.unescape(value))

    for mark in re.findall(r"<input[^>]*>", form):
        name, value = (re.search(rf'\b{part}="([^"]*)"', mark) for part in ("name", "value"))
        ticked = 'type="checkbox"' not in mark and 'type="radio"' not in mark
        if name and (ticked or re.search(r"\schecked", mark)):
            put(name[1], value[1] if value else "")
    for name, options in re.findall(r'<select[^>]*name="([^"]*)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.findall(r'<option value="([^"]*)"[^>]*?\sselected', options)
        first = re.findall(r'<option value="([^"]*)"', options)
        put(name, (chosen or first)[0])
    for name, text in re.findall(r'<textarea[^>]*name="([^"]*)"[^>]*>(.*?)</textarea>', form, re.DOTALL):
        put(name, text)
    fields.pop("_csrf_token", None)
    return fields
