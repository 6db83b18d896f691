"""Promise kept here: a published page tells the offers, and nothing of the household unless she says so.

A word that occurs nowhere else is put wherever a household may write, a figure wherever it may count, and
every byte of the published folder is searched for them.
"""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from counterfoil.after.publishing.public_trip import TOLD
from counterfoil.engine.offers import (
    Coupon,
    GiftCard,
    Pinned,
    Product,
    RainCheck,
    Settings,
    ShelfPrice,
    Slip,
    StockUp,
    Store,
    Trip,
    Wallet,
    Want,
    Worth,
)
from counterfoil.engine.papers import Plan

from .readers import choices, files, published, rolls

SECRET = "zwiebelfisch"  # in no file of the project
FIGURES = ("8431", "7219", "6353", "5477", "91537", "82469", "73291", "61483")


def secretive() -> Trip:
    """The rolls, with a secret in every place that is the household's own."""
    trip = rolls()
    insert = trip.coupons[0]
    return msgspec.structs.replace(
        trip,
        id=f"{SECRET}-week",
        title=f"Trip of the {SECRET}s",
        region=f"{SECRET}-town",
        stores=tuple(
            msgspec.structs.replace(store, note=f"{SECRET} works here", cash_ceiling_cents=91_537)
            for store in trip.stores
        ),
        products=(
            *(msgspec.structs.replace(each, note=f"{SECRET} likes it") for each in trip.products),
            Product(id="private", description=f"For {SECRET}'s ailment"),
        ),
        prices=(
            *(msgspec.structs.replace(each, place_note=f"ask {SECRET}") for each in trip.prices),
            ShelfPrice(store="ostrel", product="private", cents=100, place_note=SECRET),
        ),
        wants=(
            Want(
                id=f"want-of-{SECRET}",
                name=f"Rolls for {SECRET}",
                products=("rolls-12", "rolls-6"),
                need=5,
                welcome=7,
                stock_up=StockUp(cents="40.625", per="roll"),
            ),
            Want(id=f"private-{SECRET}", name=SECRET, products=("private",), need=1),
        ),
        coupons=(
            msgspec.structs.replace(insert, copies=9, where=f"{SECRET}'s binder", legible=f"{SECRET} 4711"),
            msgspec.structs.replace(
                insert, id="till", description=f"Thank you, {SECRET}", form="register", copies=1
            ),
        ),
        pinned=(Pinned(store="ostrel", product="rolls-12", units=2),),
        wallet=Wallet(
            slips=(Slip(id=f"slip-{SECRET}", store="ostrel", cents=82_469),),
            gift_cards=(GiftCard(id=f"card-{SECRET}", store="ostrel", cents=73_291),),
            rain_checks=(
                RainCheck(id=f"check-{SECRET}", store="ostrel", product="rolls-12", cents=499, units=1),
            ),
            cash_cents=61_483,
        ),
        settings=Settings(
            worth=Worth(slip_bp=8431, gift_card_bp=7219, points_bp=6353, rebate_bp=5477),
            further_transaction_cents=3,
        ),
    )


def told(folder: Path) -> str:
    """All that a folder says: every path and every text. The solver is no text."""
    return "\n".join(
        f"{path}\n{body.decode()}"
        for path, body in files(folder).items()
        if not path.endswith((".wasm", ".png"))
    )


@pytest.fixture(scope="module")
def cautious(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Published as the choices stand at first, the private want left out."""
    folder = tmp_path_factory.mktemp("cautious")
    published(secretive(), folder, choices(wants=[f"want-of-{SECRET}"]))
    return folder


def test_no_word_of_the_household_is_in_any_file(cautious: Path) -> None:
    assert SECRET not in told(cautious).lower()


def test_no_figure_of_the_household_is_in_the_pages_or_the_trip(cautious: Path) -> None:
    ours = {
        path: body.decode()
        for path, body in files(cautious).items()
        if not path.startswith(("app/", "icons/"))
    }
    for figure in FIGURES:
        assert [path for path, text in ours.items() if figure in text] == [], figure


def test_what_readers_carry_has_neither_her_copies_nor_her_numbers(cautious: Path) -> None:
    carried = msgspec.json.decode((cautious / "trips/2026-12-05/trip.json").read_bytes())
    trip = msgspec.convert(carried["trip"], Trip)
    assert trip.wallet == Wallet()
    assert trip.settings == Settings()
    assert trip.pinned == ()
    assert [(want.id, want.name, want.need, want.welcome) for want in trip.wants] == [
        ("deal-1", "Wendle rolls, 12, or another kind", 1, 1)
    ]
    assert [(coupon.id, coupon.copies) for coupon in trip.coupons] == [("insert", 1)]


def test_the_plan_that_is_published_is_the_readers_and_not_hers(cautious: Path) -> None:
    """Hers pays with a slip and a gift card, and buys five packs."""
    carried = msgspec.json.decode((cautious / "trips/2026-12-05/trip.json").read_bytes())
    plan = msgspec.convert(carried["plan"], Plan)
    assert [(deal.product, deal.units, deal.net_cents) for deal in plan.deals] == [("rolls-12", 1, 450)]
    assert {line.kind for each in plan.transactions for line in each.receipt.tenders} == {"cash"}


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("notes", f"{SECRET} works here"),
        ("notes", f"{SECRET} likes it"),
        ("where", f"{SECRET}'s binder"),
        ("register_coupons", f"Thank you, {SECRET}"),
        ("counts", '"need":5'),
    ],
)
def test_what_she_chooses_to_tell_is_told(tmp_path: Path, option: str, words: str) -> None:
    published(secretive(), tmp_path, choices(wants=[f"want-of-{SECRET}"], **{option: True}))
    assert words in (tmp_path / "trips/2026-12-05/trip.json").read_text("utf-8")


def test_how_many_she_bought_is_told_only_if_she_says_so(tmp_path: Path, cautious: Path) -> None:
    published(secretive(), tmp_path, choices(wants=[f"want-of-{SECRET}"], counts=True))
    assert "The planner bought" in (tmp_path / "trips/2026-12-05/index.html").read_text("utf-8")
    assert "The planner bought" not in told(cautious)


def test_stock_up_prices_stay_at_home_if_she_wants(tmp_path: Path) -> None:
    published(secretive(), tmp_path, choices(wants=[f"want-of-{SECRET}"], stock_up=False))
    assert "the stock-up price of" not in (tmp_path / "trips/2026-12-05/index.html").read_text("utf-8")
    assert "40.625" not in (tmp_path / "trips/2026-12-05/trip.json").read_text("utf-8")


def test_a_want_that_is_not_told_takes_its_goods_and_prices_with_it(cautious: Path) -> None:
    carried = msgspec.json.decode((cautious / "trips/2026-12-05/trip.json").read_bytes())
    assert {product["id"] for product in carried["trip"]["products"]} == {"rolls-12", "rolls-6"}
    assert {price["product"] for price in carried["trip"]["prices"]} == {"rolls-12", "rolls-6"}


# Fields that readers never get, or that are worked out anew for them.
KEPT_BACK: dict[type[msgspec.Struct], set[str]] = {
    Trip: {
        *("format", "id", "title", "version", "region", "stores", "products", "prices", "wants", "coupons"),
        *("percent_offers", "rewards", "rebates", "set_bonuses", "wallet", "settings", "pinned"),
    },
    Store: {"cash_ceiling_cents", "note"},
    Product: {"note"},
    ShelfPrice: {"place_note"},
    Coupon: {"asks", "stores", "copies", "where", "legible"},
}


@pytest.mark.parametrize("kind", TOLD, ids=lambda kind: kind.__name__)
def test_every_field_of_a_document_was_decided_on(kind: type[msgspec.Struct]) -> None:
    """A new field stays at home by itself; whoever adds it says here that it was meant."""
    fields = set(kind.__struct_fields__)
    lists = {"products", "stores"} & fields  # narrowed to what is told
    assert fields - set(TOLD[kind]) - lists == KEPT_BACK.get(kind, set()) - lists
    assert set(TOLD[kind]) <= fields


def test_alternatives_speak_of_the_readers_trip_alone(cautious: Path) -> None:
    """Their words name coupons and counts: none of hers."""
    page = (cautious / "trips/2026-12-05/index.html").read_text("utf-8")
    assert "without the insert" in page
    assert "instead of 5" not in page
