"""Bringing a table in: read and weighed against the household, then written as one batch or not at all.

``weigh_file`` and ``take_in`` are used by ``counterfoil import-table`` and, through ``Importing``, by the
Desk's page. The work on a large file is done beside the event loop, so that phones can sync meanwhile.
"""

from __future__ import annotations

import asyncio
import hashlib
from collections import OrderedDict
from collections.abc import Sequence

import msgspec

from .home.importing import Fate, Preview, weigh
from .home.tables import PRICE_HISTORY, STOCK, TABLE_KINDS, PriceOnADay, Rows, StockCount, read_rows
from .homes import Home, Snapshot, key_of
from .intake.bad_input import BadInput, Finding
from .intake.tables.cells import Currency
from .intake.tables.delimited import MOST_ROWS
from .passing import Passing, PassingFiles
from .store.facts import PriceRow, StockRow
from .store.imported import SqliteImports

PATIENCE_SECONDS = 0.7  # a page is there within a second, be it only to say that it goes on
MOST_WEIGHED = 4  # previews that are kept at hand


class Weighed(msgspec.Struct, frozen=True, kw_only=True):
    """A file's preview and the household that it was weighed against."""

    preview: Preview
    snapshot: Snapshot


def currency_of(snapshot: Snapshot) -> Currency:
    """The household's currency, for reading and writing amounts."""
    return Currency(snapshot.settings.currency, snapshot.settings.exponent)


async def weigh_file(
    home: Home, imports: SqliteImports, data: bytes, kind: str | None, *, most_rows: int = MOST_ROWS
) -> Weighed:
    """Each row's fate. Raises ``BadInput`` where the file as a whole cannot be read."""
    snapshot = await home.snapshot()
    currency = currency_of(snapshot)
    rows = await asyncio.to_thread(read_rows, data, kind, snapshot.records, currency, most_rows=most_rows)
    prices, stock = await _facts_kept(imports, rows)
    preview = await asyncio.to_thread(
        weigh, rows, snapshot.records, snapshot.known, currency, prices_kept=prices, stock_kept=stock
    )
    return Weighed(preview=preview, snapshot=snapshot)


async def take_in(home: Home, weighed: Weighed, *, name: str, device: str) -> int:
    """Writes what is new or changed as one batch; its number, 0 where nothing is.

    Raises ``BadInput`` where a record was changed since it was weighed; then nothing is written.
    """
    preview = weighed.preview
    if not preview.writes:
        return 0
    revisions = {
        key_of(record): weighed.snapshot.revisions.get(key_of(record), 0) for record in preview.records
    }
    return await home.save(
        preview.records,
        words=words_of(preview, name),
        device=device,
        revisions=revisions,
        prices=price_rows(preview.prices),
        stock=stock_rows(preview.stock),
    )


class Changed(msgspec.Struct, frozen=True, kw_only=True):
    """A row whose fate is another than the one that was shown."""

    was: Fate | None
    now: Fate


class Outcome(msgspec.Struct, frozen=True, kw_only=True):
    """What came of a confirmation: the ``batch`` written (0: nothing differed), or why nothing was."""

    batch: int = 0
    written: int = 0
    findings: tuple[Finding, ...] = ()
    changed: tuple[Changed, ...] = ()


class Importing:
    """Imports of the Desk between upload, preview and confirmation.

    What takes longer than ``PATIENCE_SECONDS`` goes on by itself: the page is told so (None) and asks again.
    """

    def __init__(self, home: Home, imports: SqliteImports, files: PassingFiles) -> None:
        self._home = home
        self._imports = imports
        self._files = files
        self._weighing: dict[tuple[str, int], asyncio.Task[Weighed]] = {}
        self._taking: dict[str, asyncio.Task[Outcome]] = {}
        self._shown: OrderedDict[str, Sequence[Fate]] = OrderedDict()

    async def begin(self, file: Passing) -> str:
        """Keeps an upload; the token that it goes by from now on."""
        return await asyncio.to_thread(self._files.keep, file)

    async def file(self, token: str, device: str) -> Passing | None:
        """The upload, as long as it is kept, for the device that sent it."""
        return await asyncio.to_thread(self._files.get, token, device)

    async def weighed(self, token: str, file: Passing) -> Weighed | None:
        """The preview against the household as it is now; None while it is worked out.

        Raises ``BadInput`` where the file as a whole cannot be read."""
        batch = (await self._home.snapshot()).batch
        task = self._weighing.get((token, batch))
        if task is None:
            while len(self._weighing) >= MOST_WEIGHED:
                self._weighing.pop(next(iter(self._weighing))).cancel()
            task = asyncio.create_task(weigh_file(self._home, self._imports, file.data, file.kind or None))
            self._weighing[token, batch] = task
        if not (await asyncio.wait({task}, timeout=PATIENCE_SECONDS))[0]:
            return None
        try:
            weighed = task.result()
        except BaseException:
            self._weighing.pop((token, batch), None)  # asked again, it may go well
            raise
        self._shown[digest_of(weighed.preview)] = weighed.preview.fates
        while len(self._shown) > MOST_WEIGHED:
            self._shown.popitem(last=False)
        return weighed

    async def take_in(self, token: str, file: Passing, *, seen: str, without_refused: bool) -> Outcome | None:
        """Writes the file if its rows still have the fates that were ``seen``; None while it is written."""
        task = self._taking.get(token)
        if task is None:
            for forgotten in [key for key, each in self._taking.items() if each.done()][:-MOST_WEIGHED]:
                del self._taking[forgotten]  # nobody asked what came of it; the list of changes tells
            task = asyncio.create_task(self._take(token, file, seen, without_refused))
            self._taking[token] = task
        return await self.taken(token)

    async def taken(self, token: str) -> Outcome | None:
        """What came of the confirmation; None while it is worked on. Told once."""
        task = self._taking[token]
        if not (await asyncio.wait({task}, timeout=PATIENCE_SECONDS))[0]:
            return None
        self._taking.pop(token, None)
        outcome = task.result()
        if not outcome.findings:
            self.drop(token)
        return outcome

    def is_being_taken(self, token: str) -> bool:
        """Whether a confirmation of this file is worked on, or was and has not been told."""
        return token in self._taking

    def drop(self, token: str) -> None:
        """Forgets a file and its preview."""
        self._files.drop(token)
        for key in [key for key in self._weighing if key[0] == token]:
            self._weighing.pop(key).cancel()

    async def _take(self, token: str, file: Passing, seen: str, without_refused: bool) -> Outcome:
        weighed = await weigh_file(self._home, self._imports, file.data, file.kind or None)
        preview = weighed.preview
        if digest_of(preview) != seen:
            mend = "the household was changed since the preview: look at the rows anew, then take them in"
            return Outcome(
                findings=(Finding(field="", value="", mend=mend),),
                changed=tuple(_changed(self._shown.get(seen, ()), preview.fates)),
            )
        refused = preview.count("refused")
        if refused and not without_refused:
            mend = (
                "mend them in the file and send it again, or tick that all others are taken in without them"
            )
            return Outcome(
                findings=(Finding(field="without", value=str(refused), mend=mend),),
            )
        try:
            batch = await take_in(self._home, weighed, name=file.name, device=file.device)
        except BadInput as error:
            return Outcome(findings=error.findings)
        return Outcome(batch=batch, written=preview.writes)


def digest_of(preview: Preview) -> str:
    """A name for what a preview shows: another one as soon as any row has another fate."""
    return hashlib.sha256(msgspec.json.encode(preview.fates)).hexdigest()


def _changed(shown: Sequence[Fate], now: Sequence[Fate]) -> list[Changed]:
    if len(shown) != len(now):
        return []
    return [Changed(was=was, now=new) for was, new in zip(shown, now, strict=True) if was != new]


def words_of(preview: Preview, name: str) -> str:
    """What an import is called among the changes: ``Brought in from offers.csv: 12 coupons, 1 store``."""
    written = [fate for fate in preview.fates if fate.fate in ("new", "changed")]
    counts = {kind: sum(1 for fate in written if fate.kind == kind) for kind in TABLE_KINDS}
    parts = [
        f"{count} {TABLE_KINDS[kind].one if count == 1 else _many(kind)}"
        for kind, count in counts.items()
        if count
    ]
    return f"Brought in{f' from {name}' if name else ''}: {', '.join(parts)}"


def _many(kind: str) -> str:
    return "prices seen" if kind == PRICE_HISTORY else TABLE_KINDS[kind].many


def price_rows(prices: Sequence[PriceOnADay]) -> list[PriceRow]:
    """Prices as the store keeps them."""
    return [
        PriceRow(
            product=price.product,
            store=price.store,
            day=price.day,
            cents=price.cents,
            each_cents=price.cents if price.each_cents is None else price.each_cents,
            how="import",
        )
        for price in prices
    ]


def stock_rows(stock: Sequence[StockCount]) -> list[StockRow]:
    """Counts as the store keeps them."""
    return [StockRow(product=row.product, day=row.day, units=row.units, how="counted") for row in stock]


async def _facts_kept(imports: SqliteImports, rows: Rows) -> tuple[set[PriceOnADay], set[StockCount]]:
    prices = [row.record for row in rows.rows if row.kind == PRICE_HISTORY and row.record is not None]
    stock = [row.record for row in rows.rows if row.kind == STOCK and row.record is not None]
    return (
        {prices[place] for place in await imports.prices_kept(price_rows(prices))},
        {stock[place] for place in await imports.counts_kept(stock_rows(stock))},
    )
