"""200 phones sync 50 events each with one server on loopback: how long it takes, and that nothing is lost.

    python -m tests.bench.sync_bench [PHONES]

Two phones carry each trip, as a couple in two aisles. Three ways, each over fresh data, by phones
with keys of their own:

- *coming home*: every phone sends its 50 events in one sync, all within two seconds;
- *in the aisles*: every phone sends its 50 events in syncs of one or two as they happen, in one minute;
- *at one stroke*: every phone sends its 50 events in one sync, all at the same moment.

The server is a process of its own, as are the phones. Latency is from connecting to the whole answer.
"""

from __future__ import annotations

import asyncio
import json
import random
import sqlite3
import sys
import tempfile
import time
from collections.abc import AsyncIterator, Callable
from pathlib import Path

from counterfoil.store.keyring import SqliteKeyring
from counterfoil.store.sqlite import FILE_NAME, SqliteStore
from tests.bench.machine import machine, percentile, table
from tests.faults.carrier import Carrier
from tests.faults.victim import Victim, exchange
from tests.server.conftest import as_json, small_trip

EVENTS = 50
BUDGET_MS = 250

# A phone's plan: at how many seconds it notes how many events and syncs them.
Errands = list[tuple[float, int]]


def coming_home(dice: random.Random) -> Errands:
    return [(dice.random() * 2, EVENTS)]


def in_the_aisles(dice: random.Random) -> Errands:
    left, errands = EVENTS, Errands()
    while left:
        taken = min(left, dice.randint(1, 2))
        errands.append((dice.random() * 60, taken))
        left -= taken
    return sorted(errands)


def at_one_stroke(_: random.Random) -> Errands:
    return [(0.0, EVENTS)]


WAYS: dict[str, Callable[[random.Random], Errands]] = {
    "coming home": coming_home,
    "in the aisles": in_the_aisles,
    "at one stroke": at_one_stroke,
}


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    print(machine())
    rows = [measured(name, way, count) for name, way in WAYS.items()]
    head = (
        "",
        "phones",
        "syncs",
        "events",
        "lost",
        "doubled",
        "p50 ms",
        "p95 ms",
        "p99 ms",
        "max ms",
        "syncs/s",
    )
    print(table(head, rows))
    print(f"budget: nothing lost, p95 {BUDGET_MS} ms")


def measured(name: str, way: Callable[[random.Random], Errands], count: int) -> tuple[object, ...]:
    """One row of the table."""
    dice = random.Random(1)
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "data"
        victim = Victim(data).start()
        try:
            trips = [f"week-{n // 2}" for n in range(count)]
            for trip in dict.fromkeys(trips):
                document = as_json(small_trip()) | {"id": trip}
                assert exchange(victim.port, "/api/trips", json.dumps(document).encode())[0] == 201
            keys = asyncio.run(_keys(data, count))
            phones = [Carrier(f"phone-{n:03}", trip) for n, trip in enumerate(trips)]
            plans = [way(dice) for _ in phones]
            started = time.perf_counter()
            latencies = asyncio.run(_shop(victim.port, phones, keys, plans))
            seconds = time.perf_counter() - started
        finally:
            victim.kill()
        made = [event_id for phone in phones for event_id in phone.own]
        with sqlite3.connect(data / FILE_NAME) as connection:
            stored = [row[0] for row in connection.execute("SELECT id FROM events")]
    lost = len(set(made) - set(stored)) + sum(len(phone.outbox) for phone in phones)
    figures = (f"{percentile(latencies, part):.0f}" for part in (0.5, 0.95, 0.99, 1.0))
    return (
        name,
        count,
        len(latencies),
        len(made),
        lost,
        len(stored) - len(set(stored)),
        *figures,
        f"{len(latencies) / seconds:.0f}",
    )


async def _shop(port: int, phones: list[Carrier], keys: list[str], plans: list[Errands]) -> list[float]:
    latencies: list[float] = []
    start = asyncio.get_running_loop().time()

    async def one(phone: Carrier, key: str, errands: Errands) -> None:
        for at, events in errands:
            await asyncio.sleep(max(0.0, start + at - asyncio.get_running_loop().time()))
            for _ in range(events):
                phone.note()
            more = True
            while more:
                body = json.dumps(phone.batch()).encode()
                began = time.perf_counter()
                answer = await _sync(port, key, body)
                latencies.append((time.perf_counter() - began) * 1000)
                phone.settle(answer)
                more = bool(phone.outbox)

    await asyncio.gather(*(one(*each) for each in zip(phones, keys, plans, strict=True)))
    return latencies


async def _sync(port: int, key: str, body: bytes) -> dict[str, object]:
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    head = (
        f"POST /sync HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {key}\r\n"
        f"Accept: application/json\r\nContent-Type: application/json\r\n"
        f"Content-Length: {len(body)}\r\nConnection: close\r\n\r\n"
    )
    writer.write(head.encode() + body)
    whole = await reader.read()
    writer.close()
    first, _, rest = whole.partition(b"\r\n")
    assert b" 200 " in first, whole[:2000]
    return json.loads(rest.partition(b"\r\n\r\n")[2])


async def _keys(data: Path, count: int) -> list[str]:
    store = SqliteStore(data)
    await store.open()
    keyring = SqliteKeyring(store)
    try:
        return [key async for key in _pair(keyring, count)]
    finally:
        await store.close()


async def _pair(keyring: SqliteKeyring, count: int) -> AsyncIterator[str]:
    for n in range(count):
        redeemed = await keyring.redeem(await keyring.make_code("phone", 60), f"Phone {n}")
        assert redeemed is not None
        yield redeemed[0]


if __name__ == "__main__":
    main()
