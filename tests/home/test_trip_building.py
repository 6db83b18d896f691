"""A trip is built from the records as a person would write it by hand: what matters is on it, what does
not is left out, and what she would ask for is told with its reason.

The demo household's trip is taken apart into records and built again; it must plan to the same cents.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
import pytest

from counterfoil.demo_household import demo_household
from counterfoil.engine.check import check_trip
from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    GiftCard,
    PercentOffer,
    Pinned,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    Settings,
    ShelfPrice,
    Slip,
    Store,
    Tier,
    Trip,
    Wallet,
)
from counterfoil.engine.papers import Plan
from counterfoil.engine.planner import plan
from counterfoil.home.household import (
    Forbidden,
    HouseholdSettings,
    Needed,
    Staple,
    TransactionsAt,
    TripDraft,
)
from counterfoil.home.kinds import Record
from counterfoil.home.larder import states
from counterfoil.home.trip_building import BuiltTrip, build_trip
from counterfoil.homes import Snapshot
from counterfoil.intake.bad_input import BadInput
from tests.home.households import household_of

DAY = "2026-12-05"
BEFORE, AFTER = "2026-12-04", "2026-12-06"

ALDER = Store(id="alder", name="Alder Row Grocers")
ALDER_PICKUP = Store(id="alder-pickup", name="Alder Row, pick-up", channel_of="alder")
BIRCH = Store(id="birch", name="Birch Lane Market")
OATS = Product(id="oats", description="Wickel rolled oats")
RYE = Product(id="rye", description="Wickel rye flakes")
TEA = Product(id="tea", description="Lowtide black tea")
BREAKFAST = Staple(id="breakfast", name="Breakfast", products=("oats", "rye"), stock_up_cents="150")
POT = Staple(id="pot", name="Tea", products=("tea",))
RECORDS: tuple[Record, ...] = (
    ALDER,
    BIRCH,
    OATS,
    RYE,
    TEA,
    BREAKFAST,
    POT,
    ShelfPrice(store="alder", product="oats", cents=200),
    ShelfPrice(store="birch", product="oats", cents=210),
    ShelfPrice(store="alder", product="tea", cents=300),
)
DRAFT = TripDraft(id="week", title="This week", day=DAY, stores=("alder", "birch"))
WANTED = {"breakfast": (2, 3)}


def coupon(
    id: str = "oats-50", cents: int = 50, products: tuple[str, ...] = ("oats",), **more: Any
) -> Coupon:
    return Coupon(
        id=id,
        description=f"{cents} cents off {' or '.join(products)}",
        issuer="manufacturer",
        form="insert",
        gives=CentsOff(cents=cents),
        asks=(Asks(products=products),),
        **more,
    )


def built(*more: Record, draft: TripDraft = DRAFT, **options: Any) -> BuiltTrip:
    """The trip of the small household with these records besides; always sound."""
    found = build_trip(household(*more), draft, options.pop("larder", WANTED), **options)
    assert check_trip(found.trip) == []
    return found


def household(*more: Record) -> Snapshot:
    return household_of((*RECORDS, *more))


def tags(trip: Trip) -> Sequence[tuple[str, str, int]]:
    return sorted((tag.store, tag.product, tag.cents) for tag in trip.prices)


# --- wants -----------------------------------------------------------------------------


def test_the_larder_says_what_is_wanted_and_only_that_comes_along() -> None:
    trip = built(coupon("tea-40", 40, ("tea",))).trip
    [want] = trip.wants
    assert (want.id, want.name, want.need, want.welcome) == ("breakfast", "Breakfast", 2, 3)
    assert want.stock_up is not None
    assert want.stock_up.cents == "150"
    assert tags(trip) == [("alder", "oats", 200), ("birch", "oats", 210)]
    assert trip.coupons == ()  # it is on tea, which nobody asked for


def test_her_own_numbers_go_before_the_larders() -> None:
    draft = msgspec.structs.replace(DRAFT, needs=(Needed(staple="breakfast", need=1, welcome=1),))
    [want] = built(draft=draft).trip.wants
    assert (want.need, want.welcome) == (1, 1)


def test_a_staple_left_out_or_not_wanted_is_no_want() -> None:
    assert built(draft=msgspec.structs.replace(DRAFT, left_out=("breakfast",))).trip.wants == ()
    assert built(larder={"breakfast": (0, 0)}).trip.wants == ()


def test_a_staple_without_a_stock_up_price_that_is_only_welcome_is_a_filler() -> None:
    wants = built(larder={"pot": (0, 2)}).trip.wants
    assert [(want.need, want.welcome, want.stock_up) for want in wants] == [(0, 2, None)]


def test_a_variant_without_a_tag_is_known_for_the_aisle_but_not_wanted_from_the_shelf() -> None:
    trip = built(coupon(products=("oats", "rye"))).trip
    assert [want.products for want in trip.wants] == [("oats",)]
    assert {product.id for product in trip.products} == {"oats", "rye"}
    assert trip.coupons[0].asks[0].products == ("oats", "rye")


def test_a_staple_that_no_store_of_the_trip_sells_is_told() -> None:
    draft = msgspec.structs.replace(DRAFT, stores=("birch",))
    found = built(draft=draft, larder={"pot": (1, 1)})
    assert found.trip.wants == ()
    assert found.notes == ("1 staple has no tag on the day at any of the stores: Tea.",)


def test_without_a_store_there_is_no_trip_and_the_mend_says_so() -> None:
    with pytest.raises(BadInput, match="choose at least one store"):
        build_trip(household(), msgspec.structs.replace(DRAFT, stores=()), WANTED)


# --- tags ------------------------------------------------------------------------------


def test_a_dated_tag_goes_before_one_that_stands_even_if_it_is_dearer() -> None:
    dear = ShelfPrice(store="alder", product="oats", cents=230, from_date=DAY, until=AFTER)
    assert ("alder", "oats", 230) in tags(built(dear).trip)


def test_a_tag_of_another_week_is_not_in_force() -> None:
    cheap = ShelfPrice(store="alder", product="oats", cents=99, from_date=AFTER, until="2026-12-12")
    assert ("alder", "oats", 200) in tags(built(cheap).trip)


def test_a_forbidden_product_has_no_tag_there_or_anywhere() -> None:
    here = msgspec.structs.replace(DRAFT, forbidden=(Forbidden(what="product", id="oats", store="alder"),))
    assert tags(built(draft=here).trip) == [("birch", "oats", 210)]
    anywhere = msgspec.structs.replace(DRAFT, forbidden=(Forbidden(what="product", id="oats"),))
    found = built(draft=anywhere)
    assert (found.trip.wants, found.trip.prices) == ((), ())


# --- channels --------------------------------------------------------------------------


def test_a_channel_shares_its_stores_tag_when_she_goes_to_both() -> None:
    draft = msgspec.structs.replace(DRAFT, stores=("alder", "alder-pickup"))
    trip = built(ALDER_PICKUP, draft=draft).trip
    assert trip.stores[1].channel_of == "alder"
    assert tags(trip) == [("alder", "oats", 200)]


def test_a_channel_alone_takes_over_its_stores_tags_slips_and_gift_cards() -> None:
    draft = msgspec.structs.replace(DRAFT, stores=("alder-pickup",))
    slip = Slip(id="s1", store="alder", cents=100)
    card = GiftCard(id="c1", store="alder", cents=250)
    trip = built(ALDER_PICKUP, slip, card, draft=draft).trip
    assert [(store.id, store.channel_of) for store in trip.stores] == [("alder-pickup", None)]
    assert tags(trip) == [("alder-pickup", "oats", 200)]
    assert [paper.store for paper in (*trip.wallet.slips, *trip.wallet.gift_cards)] == ["alder-pickup"] * 2
    assert plan(trip).totals.out_of_pocket_cents == 400 - 100 - 250


def test_what_is_forbidden_at_the_store_is_still_had_from_its_channel() -> None:
    draft = msgspec.structs.replace(
        DRAFT,
        stores=("alder", "alder-pickup"),
        forbidden=(Forbidden(what="product", id="oats", store="alder"),),
    )
    assert tags(built(ALDER_PICKUP, draft=draft).trip) == [("alder-pickup", "oats", 200)]


def test_what_is_forbidden_at_a_channel_that_has_its_stores_tag_goes_at_both_and_is_told() -> None:
    draft = msgspec.structs.replace(
        DRAFT,
        stores=("alder", "alder-pickup"),
        forbidden=(Forbidden(what="product", id="oats", store="alder-pickup"),),
    )
    found = built(ALDER_PICKUP, draft=draft)
    assert found.trip.prices == ()
    assert any("whose tag its other channel shares: Wickel rolled oats." in note for note in found.notes)


# --- coupons, offers, rebates ------------------------------------------------------------


def test_three_coupons_that_end_before_the_day_are_counted_and_named() -> None:
    late = (coupon(f"late-{cents}", cents, until=BEFORE) for cents in (10, 20, 30))
    found = built(*late, coupon(until=DAY))
    assert [each.id for each in found.trip.coupons] == ["oats-50"]
    assert found.notes == (
        "3 coupons end before the day: 10 cents off oats; 20 cents off oats; 30 cents off oats.",
    )


def test_a_coupon_that_begins_later_or_has_no_copy_left_or_is_left_out_by_her_is_told() -> None:
    draft = msgspec.structs.replace(DRAFT, forbidden=(Forbidden(what="coupon", id="hers"),))
    found = built(
        coupon("later", 10, from_date=AFTER),
        coupon("gone", 20),
        coupon("hers", 30),
        draft=draft,
        copies={"gone": 0},
    )
    assert found.trip.coupons == ()
    assert found.notes == (
        "1 coupon begins after the day: 10 cents off oats.",
        "1 coupon has no copy left: 20 cents off oats.",
        "1 coupon is left out by you: 30 cents off oats.",
    )


def test_the_copies_left_count_not_those_once_typed() -> None:
    trip = built(coupon(copies=4), copies={"oats-50": 2}).trip
    assert trip.coupons[0].copies == 2


def test_a_coupon_of_a_store_elsewhere_stays_at_home_without_a_word() -> None:
    draft = msgspec.structs.replace(DRAFT, stores=("alder",))
    found = built(coupon(stores=("birch",)), draft=draft)
    assert (found.trip.coupons, found.notes) == ((), ())


def test_offers_rewards_rebates_and_bonuses_come_along_where_they_hold() -> None:
    offer = PercentOffer(id="o", store="alder", description="a fifth", bp=2000, products=("oats", "tea"))
    reward = RewardOffer(
        id="r", store="birch", description="two, get 1.00", kind="slip", tiers=(Tier(threshold=2, cents=100),)
    )
    lapsed = msgspec.structs.replace(reward, id="lapsed", until=BEFORE)
    rebate = Rebate(id="b", description="40 back", cents=40, products=("oats", "tea"))
    other = Rebate(id="c", description="tea back", cents=30, products=("tea",))
    bonus = SetBonus(id="both", description="both", cents=50, rebates=("b", "c"))
    found = built(offer, reward, lapsed, rebate, other, bonus)
    trip = found.trip
    assert [each.products for each in trip.percent_offers] == [("oats",)]
    assert [each.id for each in trip.rewards] == ["r"]
    assert [(each.id, each.products) for each in trip.rebates] == [("b", ("oats",))]
    assert trip.set_bonuses == ()
    assert found.notes == (
        "1 reward ends before the day: two, get 1.00.",
        "1 set bonus needs a rebate that is not on this trip: both.",
    )


def test_the_wallet_holds_what_pays_on_the_day_and_no_offer_that_is_not_there() -> None:
    slips = (
        Slip(id="good", store="alder", cents=100, until=DAY, offer="unknown-here"),
        Slip(id="lapsed", store="alder", cents=100, until=BEFORE),
        Slip(id="elsewhere", store="cedar", cents=100),
    )
    checks = (
        RainCheck(id="for-oats", store="alder", product="oats", cents=150, units=1),
        RainCheck(id="for-tea", store="alder", product="tea", cents=150, units=1),
    )
    draft = msgspec.structs.replace(DRAFT, cash_cents=900)
    wallet = Wallet(
        slips=slips, rain_checks=checks, gift_cards=(GiftCard(id="bare", store="alder", cents=0),)
    )
    found = built(draft=draft, wallet=wallet)
    held = found.trip.wallet
    assert [(slip.id, slip.offer) for slip in held.slips] == [("good", None)]
    assert [check.id for check in held.rain_checks] == ["for-oats"]
    assert (held.gift_cards, held.cash_cents) == ((), 900)
    assert found.notes == ("1 slip ends before the day: lapsed.", "1 gift card has nothing left on it: bare.")


# --- her decisions -----------------------------------------------------------------------


def test_a_pin_is_bought_at_its_store_though_it_is_dearer() -> None:
    draft = msgspec.structs.replace(DRAFT, pinned=(Pinned(store="birch", product="oats", units=2),))
    made = plan(built(draft=draft).trip)
    assert [(deal.store, deal.units) for deal in made.deals] == [("birch", 2)]
    assert made.totals.net_cents == 420


def test_a_pin_without_a_tag_is_told_and_given_up() -> None:
    draft = msgspec.structs.replace(DRAFT, pinned=(Pinned(store="birch", product="tea", units=1),))
    found = built(draft=draft)
    assert found.trip.pinned == ()
    assert found.notes == (
        "1 pin cannot be kept: the store has no tag for it on the day: Lowtide black tea.",
    )


def test_so_many_transactions_as_she_says_and_settings_of_the_draft() -> None:
    drive = Settings(further_store_cents=300)
    draft = msgspec.structs.replace(
        DRAFT, transactions=(TransactionsAt(store="alder", transactions=4),), settings=drive
    )
    trip = built(HouseholdSettings(region="vale"), draft=draft).trip
    assert [store.rules.transactions_per_visit for store in trip.stores] == [4, 2]
    assert (trip.settings, trip.region) == (drive, "vale")


# --- the demo household --------------------------------------------------------------------


def test_the_larder_of_the_demo_household_asks_for_what_its_trip_wants_but_for_the_filler() -> None:
    demo = demo_household()
    wanted = {want.id: (want.need, max(want.need, want.welcome)) for want in demo.trip.wants}
    assert larder_of_the_demo() == wanted | {"filler": (0, 0)}


def test_the_built_trip_plans_to_the_same_cents_as_the_trip_written_by_hand() -> None:
    demo = demo_household()
    found = build_trip(household_of(demo.records), demo.draft, larder_of_the_demo())
    here, there = plan(found.trip), plan(demo.trip)
    assert there.totals.net_cents == 4236
    assert _figures(here) == _figures(there)
    assert found.notes == (
        "1 coupon begins after the day: $1.00 off one Dabwick paper towels, from Sunday.",
        "1 coupon ends before the day: $2.00 off one Pearlip toothpaste, until Friday.",
    )


def larder_of_the_demo() -> dict[str, tuple[int, int]]:
    """What the demo's larder asks for on the day of its trip."""
    demo = demo_household()
    snapshot = household_of(demo.records)
    found = states(snapshot.staples.values(), snapshot.products, demo.stock, 1, demo.draft.day)
    return {state.staple.id: (state.need, state.welcome) for state in found}


def _figures(made: Plan) -> object:
    """All that a shopper sees of a plan."""
    return made.totals, made.deals, [(each.store, each.hand_over, each.prints) for each in made.transactions]
