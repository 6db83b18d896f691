"""``counterfoil pair``, ``backup``, ``restore``, ``export``, ``import``, ``rebuild``: care for the data."""

from __future__ import annotations

import argparse
import asyncio
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any, TypeVar

from ..exports import EXPORT, export_all, import_all
from ..homes import Home
from ..intake.bad_input import BadInput, Finding, shorten
from ..ledger import Ledger
from ..notebook import Notebook
from ..press import PUBLISHED
from ..store.copies import back_up, restore
from ..store.interface import StoreUnavailable, StoreUnusable
from ..store.keyring import SqliteKeyring, readable_code
from ..store.notes import SqliteNotes
from ..store.reckoned import forget_reckoned_facts, reckoned_facts
from ..store.records import SqliteRecords
from ..store.sqlite import FILE_NAME, SqliteStore
from ..store.sqlite_facts import SqliteFacts

CODE_MINUTES = 10

T = TypeVar("T")
Commands = Any  # argparse keeps the type of its subparsers to itself


def add_commands(commands: Commands, data: Path) -> None:
    """The commands, each with ``--data`` (``data`` if left out)."""

    def add(name: str, does: str, run: Callable[[argparse.Namespace], int]) -> argparse.ArgumentParser:
        command: argparse.ArgumentParser = commands.add_parser(
            name, help=does, description=f"{does[0].upper()}{does[1:]}."
        )
        command.add_argument(
            "--data", type=Path, default=data, metavar="FOLDER", help=f"where the data lie ({data})"
        )
        command.set_defaults(run=run)
        return command

    pairing = add("pair", "print a code that lets one more device in", _pair)
    pairing.add_argument("--owner", action="store_true", help="the device may also pair and revoke others")
    backing = add("backup", "copy all data to a file, also while the server runs", _back_up)
    backing.add_argument("file", type=Path, metavar="FILE")
    restoring = add("restore", "put a backup in the place of the data, which are set aside", _restore)
    restoring.add_argument("file", type=Path, metavar="FILE")
    exporting = add("export", "write everything as JSON and CSV", _export)
    exporting.add_argument("folder", type=Path, metavar="FOLDER")
    importing = add("import", "add what an export holds to the data", _import)
    importing.add_argument("folder", type=Path, metavar="FOLDER")
    add("rebuild", "reckon from the events again what was reckoned from them", _rebuild)


def _pair(chosen: argparse.Namespace) -> int:
    async def pair(store: SqliteStore) -> str:
        return await SqliteKeyring(store).make_code("owner" if chosen.owner else "phone", CODE_MINUTES * 60)

    code = _with_data(chosen.data, pair)
    print(
        f"Open /pair on the device and type (good for {CODE_MINUTES} minutes, once):  {readable_code(code)}"
    )
    return 0


def _back_up(chosen: argparse.Namespace) -> int:
    copied = _told(chosen.data, lambda: back_up(chosen.data, chosen.file))
    print(f"{chosen.file}: {copied.trips} trips, {copied.events} events. It holds what the household buys.")
    return 0


def _restore(chosen: argparse.Namespace) -> int:
    copied = _told(chosen.data, lambda: restore(chosen.file, chosen.data))
    print(f"{chosen.data}: {copied.trips} trips, {copied.events} events.")
    if copied.set_aside:
        print(f"What was there before is now {copied.set_aside}.")
    if copied.pages and not (chosen.data / PUBLISHED).exists():
        print(f"{copied.pages} published pages are made again, at their addresses, when the server starts.")
    print("Devices that were paired after the backup was made pair again (counterfoil pair).")
    return 0


def _export(chosen: argparse.Namespace) -> int:
    whole = _with_data(chosen.data, lambda store: export_all(store, SqliteKeyring(store), chosen.folder))
    print(f"{chosen.folder / EXPORT}: {len(whole.trips)} trips, {len(whole.events)} events; CSV beside it.")
    return 0


def _import(chosen: argparse.Namespace) -> int:
    taken = _with_data(chosen.data, lambda store: import_all(store, chosen.folder), make=True)
    trips, home = taken.trips, taken.household
    print(f"{trips.trips} trips and {trips.events} events added; here before: {trips.trips_known} trips, "
          f"{trips.events_known} events.")  # fmt: skip
    print(f"{home.records} records, {home.prices} prices, {home.stock} stock moves, {home.notes} notes "
          f"added; here before: {home.records_known} records.")  # fmt: skip
    if home.pages and not (chosen.data / PUBLISHED).exists():
        print(f"{home.pages} published pages are made again, at their addresses, when the server starts.")
    if home.records_other:
        print(f"{home.records_other} records stand otherwise here and were left as they are.")
    return 0


def _rebuild(chosen: argparse.Namespace) -> int:
    async def rebuild(store: SqliteStore) -> tuple[int, bool]:
        def ledger() -> Ledger:
            return Ledger(
                store, SqliteFacts(store), Home(SqliteRecords(store)), Notebook(SqliteNotes(store)).rows
            )

        await ledger().refresh()  # what had not been reckoned yet was not off
        before = (await store.trips(), await store.look(reckoned_facts))
        count = await store.rebuild()
        await store.write(forget_reckoned_facts)
        await ledger().refresh()
        return count, before == (await store.trips(), await store.look(reckoned_facts))

    count, same = _with_data(chosen.data, rebuild)
    found = "nothing was off" if same else "something had been off and is mended"
    print(f"{count} trips reckoned again from their events; {found}.")
    return 0


def _with_data(data: Path, work: Callable[[SqliteStore], Awaitable[T]], *, make: bool = False) -> T:
    """``work`` over the data in a folder; ``make``: begin with none if there are none."""

    async def run() -> T:
        store = SqliteStore(data)
        await store.open()
        try:
            return await work(store)
        finally:
            await store.close()

    if not make and not (data / FILE_NAME).is_file():
        raise BadInput(
            Finding(field="--data", value=shorten(str(data)), mend="no data are there: name their folder")
        )
    return _told(data, lambda: asyncio.run(run()))


def _told(data: Path, work: Callable[[], T]) -> T:
    try:
        return work()
    except (StoreUnusable, StoreUnavailable) as error:
        raise BadInput(Finding(field="--data", value=shorten(str(data)), mend=str(error))) from error
