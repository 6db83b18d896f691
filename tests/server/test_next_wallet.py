"""Promise kept here: what the phone tells of one trip is in the wallet of the next that is made at the Desk.

The first trip, on the fifth: two oats at $2.00 print a slip of $1.00, good for 14 days; a gift card of $10.00
pays the $4.00; tea is out, and a rain check over two at $2.50 is taken. On the twelfth the next trip to Alder
Row carries the slip, the card with $6.00 left and the rain check.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from counterfoil.engine.offers import (
    GiftCard,
    Product,
    RewardOffer,
    ShelfPrice,
    Slip,
    Store,
    Tier,
    Trip,
    Wallet,
    Want,
)
from counterfoil.engine.papers import (
    Line,
    PayByCash,
    PayByGiftCard,
    RainCheckTaken,
    Transaction,
    TransactionDone,
)
from counterfoil.home.household import Needed, Staple, TripDraft
from counterfoil.home.kinds import Record

from .conftest import Client, Phone, paired
from .households import keep
from .test_desk import words

ALDER = Store(id="alder", name="Alder Row Grocers")
BIRCH = Store(id="birch", name="Birch Lane Market")
OATS = Product(id="oats", description="Wickel rolled oats")
TEA = Product(id="tea", description="Lowtide black tea")
TAGS = (
    ShelfPrice(store="alder", product="oats", cents=200),
    ShelfPrice(store="alder", product="tea", cents=250),
)
AT_BIRCH = ShelfPrice(store="birch", product="oats", cents=210)
CARD = GiftCard(id="card", store="alder", cents=1_000)
REWARD = RewardOffer(
    id="oats-reward",
    store="alder",
    description="Two oats, a dollar back",
    kind="slip",
    tiers=(Tier(threshold=2, cents=100),),
    products=("oats",),
    valid_days=14,
)
FIRST = Trip(
    id="first",
    title="The first",
    day="2026-12-05",
    stores=(ALDER,),
    products=(OATS, TEA),
    prices=TAGS,
    wants=(
        Want(id="breakfast", products=("oats",), need=2, welcome=2),
        Want(id="pot", products=("tea",), need=2, welcome=2),
    ),
    rewards=(REWARD,),
    wallet=Wallet(gift_cards=(CARD,)),
)
NEXT = TripDraft(
    id="next",
    title="The next",
    day="2026-12-12",
    stores=("alder",),
    needs=(Needed(staple="breakfast", need=2, welcome=2), Needed(staple="pot", need=2, welcome=2)),
)
HOUSEHOLD: tuple[Record, ...] = (
    ALDER,
    BIRCH,
    OATS,
    TEA,
    *TAGS,
    AT_BIRCH,
    CARD,
    Staple(id="breakfast", name="Breakfast", products=("oats",), stock_up_cents="150"),
    Staple(id="pot", name="Tea", products=("tea",), stock_up_cents="200"),
    NEXT,
    msgspec.structs.replace(NEXT, id="elsewhere", stores=("birch",)),
    msgspec.structs.replace(NEXT, id="later", day="2026-12-26"),
)
DONE = TransactionDone(
    transaction=Transaction(
        store=ALDER,
        day="2026-12-05",
        products=(OATS,),
        prices=(TAGS[0],),
        lines=(Line(product="oats", units=2),),
        rewards=(REWARD,),
        tenders=(PayByGiftCard(cents=1_000, id="card"), PayByCash()),
    ),
    shown_total_cents=400,
    printed=(
        Slip(id="oats-reward.alder.1.1", store="alder", cents=100, until="2026-12-19", offer="oats-reward"),
    ),
)
OWED = RainCheckTaken(store="alder", product="tea", cents=250, units=2, until="2026-12-20")


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Client]:
    """The Desk on the evening of the first trip."""
    keep(tmp_path / "data", HOUSEHOLD)
    with paired(tmp_path / "data", today=lambda: "2026-12-06") as client:
        assert client.post("/api/trips", content=msgspec.json.encode(FIRST)).status_code == 201
        yield client


def report(desk: Client, *reports: msgspec.Struct) -> None:
    phone = Phone(desk, "phone-1", trip="first")
    phone.sync(*(phone.event(msgspec.to_builtins(each)) for each in reports))


def built(desk: Client, draft: str = "next") -> Trip:
    """The trip of a draft, as a phone gets it once it is sent."""
    page = desk.get(f"/desk/drafts/{draft}/plan", headers={"Accept": "text/html"}).text
    seen = re.search(r'name="of" value="([0-9a-f]{64})"', page)
    assert seen is not None, page
    sent = desk.post(f"/desk/drafts/{draft}/send", data={"of": seen[1]}, headers={"Accept": "text/html"})
    assert sent.status_code == 200, sent.text
    return msgspec.convert(desk.get(f"/api/trips/{draft}").json()["trip"], Trip)


def test_before_the_first_trip_only_what_was_there_already_is_carried(desk: Client) -> None:
    wallet = built(desk).wallet
    assert (wallet.slips, wallet.rain_checks) == ((), ())
    assert [(card.id, card.cents) for card in wallet.gift_cards] == [("card", 1_000)]


def test_a_slip_the_cards_rest_and_a_rain_check_go_with_her_to_the_next_trip(desk: Client) -> None:
    report(desk, DONE, OWED)
    wallet = built(desk).wallet
    assert [(slip.store, slip.cents, slip.until) for slip in wallet.slips] == [("alder", 100, "2026-12-19")]
    assert [(card.id, card.cents) for card in wallet.gift_cards] == [("card", 600)]
    assert [(check.product, check.cents, check.units, check.until) for check in wallet.rain_checks] == [
        ("tea", 250, 2, "2026-12-20")
    ]
    # It is spent there: the plan pays with it.
    plan = desk.get("/api/trips/next").json()["plan"]
    tenders = [tender for each in plan["transactions"] for tender in each["transaction"]["tenders"]]
    assert ("slip", 100) in [(tender["kind"], tender.get("cents")) for tender in tenders]


def test_settle_proposes_just_what_the_desk_then_takes(desk: Client) -> None:
    report(desk, DONE, OWED)
    settle = words(desk, "/desk/settle")
    assert "The next trip to its store that is made at the Desk takes each of them along by itself" in settle
    assert "Slip of $1.00 , Alder Row Grocers" in settle
    assert "$6.00" in settle
    assert "2 × Lowtide black tea at $2.50" in settle


def test_a_report_taken_back_takes_its_papers_back(desk: Client) -> None:
    phone = Phone(desk, "phone-1", trip="first")
    done = phone.event(msgspec.to_builtins(DONE))
    phone.sync(done)
    phone.sync(phone.event({"kind": "undone", "event": done["id"]}))
    wallet = built(desk).wallet
    assert (wallet.slips, [card.cents for card in wallet.gift_cards]) == ((), [1_000])


def test_what_has_lapsed_or_is_of_another_store_stays_at_home(desk: Client) -> None:
    report(desk, DONE, OWED)
    assert built(desk, "elsewhere").wallet == Wallet()
    later = built(desk, "later").wallet
    assert (later.slips, later.rain_checks) == ((), ())
    assert [card.cents for card in later.gift_cards] == [600]
