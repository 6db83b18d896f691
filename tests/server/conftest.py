"""A small trip, a server over an empty folder, and phones that report to it."""

from __future__ import annotations

import asyncio
from collections.abc import Generator, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, cast

import msgspec
import pytest
from litestar import Litestar
from litestar.testing import TestClient

from counterfoil import importing
from counterfoil.engine.offers import Asks, CentsOff, Coupon, Product, ShelfPrice, Store, Trip, Want
from counterfoil.engine.papers import Line, Transaction, Use
from counterfoil.store.interface import Role
from counterfoil.store.keyring import SqliteKeyring
from counterfoil.store.sqlite import SqliteStore
from counterfoil.web import create_app
from tests.remembered import remember_what_is_the_same

Client = TestClient[Litestar]
HERE = "http://desk.localhost"  # a name that browsers take for this machine

STORE = Store(id="alder", name="Alder Row Grocers")
OATS = Product(id="oats", description="Wickel rolled oats, 500 g")
OATS_TAG = ShelfPrice(store="alder", product="oats", cents=200, place="Aisle 3")
COUPON = Coupon(
    id="oats-50",
    description="50 cents off one Wickel oats",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=50),
    asks=(Asks(products=("oats",)),),
)


@pytest.fixture(scope="session", autouse=True)
def what_is_the_same_is_worked_out_once() -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patched:
        remember_what_is_the_same(patched)
        yield


@pytest.fixture(autouse=True)
def a_busy_machine_has_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """A table sent is answered with its preview, not a page that asks to wait, however busy the cores."""
    monkeypatch.setattr(importing, "PATIENCE_SECONDS", 60)


def small_trip(version: int = 1, title: str = "Oats for the week") -> Trip:
    """Two boxes of oats at $2.00 with one 50 cent coupon: $3.50 at the register."""
    return Trip(
        id="oats-week",
        title=title,
        day="2026-12-05",
        version=version,
        stores=(STORE,),
        products=(OATS,),
        prices=(OATS_TAG,),
        wants=(Want(id="breakfast", products=("oats",), name="Breakfast", need=2, welcome=2),),
        coupons=(COUPON,),
    )


def transaction() -> Transaction:
    """The small trip at the register: $3.50."""
    return Transaction(
        store=STORE,
        day="2026-12-05",
        products=(OATS,),
        prices=(OATS_TAG,),
        lines=(Line(product="oats", units=2),),
        coupons=(COUPON,),
        uses=(Use(coupon="oats-50", units=(0,)),),
    )


def as_json(document: msgspec.Struct) -> dict[str, Any]:
    """A document as it comes out of JSON."""
    return msgspec.json.decode(msgspec.json.encode(document))


class Phone:
    """A phone in a test: makes events with ids that sort in the order of their making."""

    def __init__(self, client: Client | None, device: str, trip: str = "oats-week") -> None:
        self.client = client
        self.device = device
        self.trip = trip
        self.cursor: int | None = None
        self.counter = 0

    def event(self, what: dict[str, Any], **changed: Any) -> dict[str, Any]:
        """One event, as a phone would write it, but for what is ``changed``."""
        self.counter += 1
        event = {
            "id": f"01943f00-0000-7{self.counter:03x}-8000-{self.device.encode().hex()[-12:]:0>12}",
            "device": self.device,
            "counter": self.counter,
            "at": f"2026-12-05T10:00:{self.counter:02d}.000Z",
            "trip": self.trip,
            "what": what,
        }
        return event | changed

    def in_trolley(self, units: int = 1) -> dict[str, Any]:
        """So many boxes of oats put in the trolley."""
        return self.event({"kind": "in_trolley", "store": "alder", "product": "oats", "units": units})

    def send(self, *events: dict[str, Any], **changed: Any) -> Any:
        """The server's answer to a sync, whatever its status."""
        batch = {
            "protocol": 1,
            "device": self.device,
            "trip": self.trip,
            "cursor": self.cursor,
            "events": events,
        }
        assert self.client is not None, "a phone without a network"
        return self.client.post("/sync", json=batch | changed)

    def sync(self, *events: dict[str, Any]) -> dict[str, Any]:
        """A sync that must succeed; the cursor moves on."""
        answer = self.send(*events)
        assert answer.status_code == 200, answer.text
        self.cursor = answer.json()["cursor"]
        return answer.json()


def key_for(data: Path, role: Role = "owner", name: str = "A device of the tests") -> str:
    """The key of a device that is paired with the server over ``data``."""

    async def pair() -> str:
        store = SqliteStore(data)
        await store.open()
        try:
            keyring = SqliteKeyring(store)
            redeemed = await keyring.redeem(await keyring.make_code(role, 60), name)
        finally:
            await store.close()
        assert redeemed is not None
        return redeemed[0]

    return asyncio.run(pair())


@contextmanager
def paired(data: Path, role: Role = "owner", **options: Any) -> Generator[Client]:
    """A server over ``data`` and a device that may come in, its forms signed."""
    app = create_app(data, **options)
    key = key_for(data, role)
    with TestClient(app, base_url=HERE, raise_server_exceptions=False) as client:
        client.headers["Authorization"] = f"Bearer {key}"
        client.get("/pair")
        client.headers["X-CSRFToken"] = client.cookies["counterfoil-form"]
        yield client


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    """A server over an empty folder, asked by its owner."""
    with paired(tmp_path / "data") as client:
        yield client


@pytest.fixture
def stranger(client: Client) -> Client:
    """Somebody in the same network, at the server of ``client``."""
    app = cast("Litestar", client.app)  # pyright: ignore[reportUnknownMemberType]  # the client's own looseness
    return TestClient(app, base_url=HERE, raise_server_exceptions=False)


@pytest.fixture
def home(client: Client) -> Client:
    """A server that has the small trip."""
    answer = client.post("/api/trips", content=msgspec.json.encode(small_trip()))
    assert answer.status_code == 201, answer.text
    return client
