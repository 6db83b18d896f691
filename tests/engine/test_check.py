"""Promise kept here: a trip that cannot be meant is refused before any arithmetic, and each
finding names the field as it stands in the file, the value found there, and the mend.

``SOUND`` is a small trip with every kind of record in it; each test spoils one thing.
"""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import msgspec
import pytest

from counterfoil.engine.check import Problem, check_transaction, check_trip
from counterfoil.engine.gtin import check_digit_holds
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Transaction

SOUND: dict[str, Any] = {
    "id": "week",
    "title": "A small week",
    "day": "2026-12-05",
    "stores": [
        {"id": "brindlewick", "name": "Brindlewick Foods"},
        {"id": "ostrel", "name": "Ostrel Pharmacy"},
    ],
    "products": [
        {
            "id": "nimbelle-12",
            "description": "Nimbelle bath tissue, 12 rolls",
            "size": {"amount": "12", "unit": "roll"},
            "pieces": 12,
        },
        {"id": "suddry", "description": "Suddry dish liquid", "size": {"amount": "19", "unit": "fl-oz"}},
    ],
    "prices": [
        {"store": "brindlewick", "product": "nimbelle-12", "cents": 749},
        {"store": "brindlewick", "product": "suddry", "cents": 199},
        {"store": "ostrel", "product": "suddry", "cents": 179},
    ],
    "wants": [
        {
            "id": "tissue",
            "products": ["nimbelle-12"],
            "need": 1,
            "welcome": 2,
            "stock_up": {"cents": "30", "per": "roll"},
        },
        {"id": "dishes", "products": ["suddry"], "need": 1, "stock_up": {"cents": "6", "per": "fl-oz"}},
    ],
    "coupons": [
        {
            "id": "suddry-25",
            "description": "$0.25 off one Suddry",
            "issuer": "manufacturer",
            "form": "insert",
            "gives": {"kind": "cents_off", "cents": 25},
            "asks": [{"products": ["suddry"]}],
        },
        {
            "id": "basket-300",
            "description": "$3.00 off $15.00 at Ostrel",
            "issuer": "store",
            "form": "register",
            "gives": {"kind": "basket_off", "cents": 300, "from_cents": 1500},
            "asks": [{"products": []}],
            "stores": ["ostrel"],
        },
    ],
    "percent_offers": [
        {"id": "ten", "store": "ostrel", "description": "10 % off Suddry", "bp": 1000, "products": ["suddry"]}
    ],
    "rewards": [
        {
            "id": "tiers",
            "store": "ostrel",
            "description": "Spend $10.00, get $1.00; $20.00, get $3.00",
            "kind": "slip",
            "by": "spend",
            "tiers": [{"threshold": 1000, "cents": 100}, {"threshold": 2000, "cents": 300}],
        },
        {
            "id": "card",
            "store": "ostrel",
            "description": "Buy 2 Suddry, get a $1.00 card",
            "kind": "gift_card",
            "tiers": [{"threshold": 2, "cents": 100}],
            "products": ["suddry"],
        },
    ],
    "rebates": [
        {"id": "back-a", "description": "$0.50 back", "cents": 50, "products": ["suddry"]},
        {"id": "back-b", "description": "$0.75 back", "cents": 75, "products": ["nimbelle-12"]},
    ],
    "set_bonuses": [
        {"id": "both", "description": "$1.00 for both", "cents": 100, "rebates": ["back-a", "back-b"]}
    ],
    "wallet": {
        "slips": [{"id": "slip", "store": "ostrel", "cents": 300, "offer": "tiers"}],
        "gift_cards": [{"id": "card", "store": "ostrel", "cents": 700}],
        "rain_checks": [{"id": "rain", "store": "ostrel", "product": "suddry", "cents": 150, "units": 1}],
    },
}

BELT: dict[str, Any] = {
    "store": {"id": "brindlewick", "name": "Brindlewick Foods"},
    "day": "2026-12-05",
    "products": SOUND["products"],
    "prices": SOUND["prices"][:2],
    "lines": [{"product": "suddry", "units": 2}],
    "coupons": SOUND["coupons"][:1],
    "uses": [{"coupon": "suddry-25", "units": [0]}],
}


def findings(spoil: Callable[[dict[str, Any]], object]) -> list[Problem]:
    document = copy.deepcopy(SOUND)
    spoil(document)
    return check_trip(msgspec.convert(document, Trip))


def belt_findings(spoil: Callable[[dict[str, Any]], object]) -> list[Problem]:
    document = copy.deepcopy(BELT)
    spoil(document)
    return check_transaction(msgspec.convert(document, Transaction))


def test_a_sound_trip_has_no_findings() -> None:
    assert findings(lambda trip: None) == []


def test_a_sound_transaction_has_no_findings() -> None:
    assert belt_findings(lambda belt: None) == []


def test_all_findings_are_reported_at_once() -> None:
    def spoil(trip: dict[str, Any]) -> None:
        trip["day"] = "2026-02-30"
        trip["prices"][2]["store"] = "nowhere"
        trip["exponent"] = 0

    assert [finding.field for finding in findings(spoil)] == ["exponent", "day", "prices[2].store"]


# --- identity and references --------------------------------------------------------


@pytest.mark.parametrize(
    "section",
    ["stores", "products", "wants", "coupons", "percent_offers", "rewards", "rebates", "set_bonuses"],
)
def test_two_records_of_one_kind_need_two_ids(section: str) -> None:
    found = findings(lambda trip: trip[section].append(trip[section][0]))
    index = len(SOUND[section])
    assert found[0] == Problem(
        f"{section}[{index}].id", SOUND[section][0]["id"], f"give it another id: {section}[0] has this one"
    )


@pytest.mark.parametrize("section", ["slips", "gift_cards", "rain_checks"])
def test_two_papers_in_the_wallet_need_two_ids(section: str) -> None:
    found = findings(lambda trip: trip["wallet"][section].append(trip["wallet"][section][0]))
    assert [finding.field for finding in found] == [f"wallet.{section}[1].id"]


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("stores[1].channel_of", "store"),
        ("prices[0].store", "store"),
        ("prices[0].product", "product"),
        ("wants[1].products[0]", "product"),
        ("coupons[0].asks[0].products[0]", "product"),
        ("coupons[1].stores[0]", "store"),
        ("percent_offers[0].store", "store"),
        ("percent_offers[0].products[0]", "product"),
        ("rewards[1].store", "store"),
        ("rewards[1].products[0]", "product"),
        ("rebates[0].products[0]", "product"),
        ("rebates[1].stores[0]", "store"),
        ("set_bonuses[0].rebates[1]", "rebate"),
        ("wallet.slips[0].store", "store"),
        ("wallet.slips[0].offer", "reward offer that prints slips"),
        ("wallet.gift_cards[0].store", "store"),
        ("wallet.rain_checks[0].store", "store"),
        ("wallet.rain_checks[0].product", "product"),
    ],
)
def test_a_name_that_nothing_bears_is_found(path: str, kind: str) -> None:
    found = findings(lambda trip: _put(trip, path, "nobody"))
    mend = f"there is no {kind} with this id: add it, or name one that is there"
    assert Problem(path, "nobody", mend) in found


def test_a_slip_comes_from_an_offer_that_prints_slips() -> None:
    found = findings(lambda trip: _put(trip, "wallet.slips[0].offer", "card"))
    assert [finding.field for finding in found] == ["wallet.slips[0].offer"]


def test_stores_that_are_channels_of_each_other_are_found() -> None:
    def spoil(trip: dict[str, Any]) -> None:
        trip["stores"][0]["channel_of"] = "ostrel"
        trip["stores"][1]["channel_of"] = "brindlewick"

    mend = "the stores name each other in a circle: leave channel_of out at the main store"
    assert findings(spoil) == [
        Problem("stores[0].channel_of", "ostrel", mend),
        Problem("stores[1].channel_of", "brindlewick", mend),
    ]


def test_a_store_that_leads_into_a_circle_is_not_blamed_for_it() -> None:
    def spoil(trip: dict[str, Any]) -> None:
        trip["stores"].append({"id": "online", "name": "Ostrel online", "channel_of": "ostrel"})
        trip["stores"][1]["channel_of"] = "ostrel"

    assert [finding.field for finding in findings(spoil)] == ["stores[1].channel_of"]


def test_a_set_bonus_names_each_rebate_once() -> None:
    found = findings(lambda trip: _put(trip, "set_bonuses[0].rebates[1]", "back-a"))
    assert found == [Problem("set_bonuses[0].rebates[1]", "back-a", "name it once only")]


# --- each record by itself ----------------------------------------------------------


@pytest.mark.parametrize(
    "path",
    [
        "day",
        "prices[0].from_date",
        "coupons[0].until",
        "percent_offers[0].until",
        "rewards[0].from_date",
        "rebates[1].until",
        "wallet.slips[0].until",
        "wallet.rain_checks[0].until",
    ],
)
def test_a_day_that_the_calendar_has_not_is_found(path: str) -> None:
    mend = "no such day in the calendar: write year-month-day, like 2026-12-05"
    assert findings(lambda trip: _put(trip, path, "2026-02-29")) == [Problem(path, "2026-02-29", mend)]


def test_a_coupon_that_ends_before_it_begins_is_found() -> None:
    found = findings(lambda trip: trip["coupons"][0].update(from_date="2026-12-06", until="2026-12-05"))
    mend = "it ends before it begins (2026-12-06): put the two in order"
    assert found == [Problem("coupons[0].until", "2026-12-05", mend)]


def test_a_coupon_for_a_single_day_is_sound() -> None:
    assert findings(lambda trip: trip["coupons"][0].update(from_date="2026-12-05", until="2026-12-05")) == []


def test_a_pack_without_content_is_found() -> None:
    found = findings(lambda trip: _put(trip, "products[1].size.amount", "0.00"))
    assert found == [Problem("products[1].size.amount", "0.00", "a pack holds something: write how much")]


def test_an_unknown_unit_of_measure_is_found() -> None:
    found = findings(lambda trip: _put(trip, "products[1].size.unit", "smidgen"))
    assert [finding.field for finding in found] == ["products[1].size.unit"]
    assert "fl-oz" in found[0].mend


def test_a_size_in_pieces_agrees_with_the_pieces() -> None:
    found = findings(lambda trip: _put(trip, "products[0].pieces", 6))
    assert found == [Problem("products[0].pieces", "6", "the size says 12 roll: make the two agree")]


def test_a_barcode_with_a_wrong_digit_is_found() -> None:
    found = findings(lambda trip: _put(trip, "products[1].gtin", "6291041500214"))
    assert found == [
        Problem("products[1].gtin", "6291041500214", "its check digit does not fit: read the number again")
    ]


@pytest.mark.parametrize("gtin", ["6291041500213", "7300011000017", "012345000065", "00012345000065"])
def test_published_sample_barcodes_hold(gtin: str) -> None:
    """GS1's and a reader manual's own examples; zeros on the left change nothing."""
    assert check_digit_holds(gtin)


def test_two_digits_in_each_others_place_do_not_hold() -> None:
    assert not check_digit_holds("7300011000071")


def test_a_range_that_the_tag_lies_outside_of_is_found() -> None:
    found = findings(lambda trip: trip["prices"][0].update(low_cents=750, high_cents=748))
    assert found == [
        Problem("prices[0].low_cents", "750", "at most the tag's 749 cents"),
        Problem("prices[0].high_cents", "748", "at least the tag's 749 cents"),
    ]


def test_a_regular_price_below_the_sale_price_is_found() -> None:
    found = findings(lambda trip: trip["prices"][0].update(regular_cents=748))
    assert [(finding.field, finding.value) for finding in found] == [("prices[0].regular_cents", "748")]


def test_a_deal_dearer_than_its_tag_is_found() -> None:
    """3 for $6.00 at a tag of $1.99: three tags are $5.97, so one of the numbers is not what it says."""
    found = findings(lambda trip: trip["prices"][1].update(deal={"kind": "n_for_m", "n": 3, "cents": 600}))
    assert [(finding.field, finding.value) for finding in found] == [("prices[1].deal.cents", "600")]


def test_two_tags_for_one_product_on_the_same_day_are_found() -> None:
    def spoil(trip: dict[str, Any]) -> None:
        trip["prices"][1]["until"] = "2026-12-05"
        trip["prices"].append(
            {"store": "brindlewick", "product": "suddry", "cents": 249, "from_date": "2026-12-05"}
        )

    found = findings(spoil)
    assert [(finding.field, finding.value) for finding in found] == [("prices[3]", "suddry at brindlewick")]


def test_next_weeks_tag_may_follow_this_weeks() -> None:
    def spoil(trip: dict[str, Any]) -> None:
        trip["prices"][1]["until"] = "2026-12-05"
        trip["prices"].append(
            {"store": "brindlewick", "product": "suddry", "cents": 249, "from_date": "2026-12-06"}
        )

    assert findings(spoil) == []


def test_a_store_coupon_names_its_store() -> None:
    found = findings(lambda trip: _put(trip, "coupons[1].stores", []))
    assert found == [
        Problem("coupons[1].stores", "[]", "a store's coupon is taken at that store only: name it")
    ]


def test_a_basket_coupon_asks_for_one_thing() -> None:
    found = findings(lambda trip: trip["coupons"][1]["asks"].append({"products": ["suddry"]}))
    assert [(finding.field, finding.value) for finding in found] == [("coupons[1].asks", "2 entries")]


def test_a_free_item_is_one_that_the_coupon_asks_for() -> None:
    found = findings(lambda trip: _put(trip, "coupons[0].gives", {"kind": "free_item", "leg": 1}))
    assert found == [
        Problem("coupons[0].gives.leg", "1", "asks has 1 entries, counted from 0: name one of them")
    ]


def test_a_rewards_steps_go_upward() -> None:
    found = findings(lambda trip: _put(trip, "rewards[0].tiers[1]", {"threshold": 1000, "cents": 100}))
    assert [finding.field for finding in found] == [
        "rewards[0].tiers[1].threshold",
        "rewards[0].tiers[1].cents",
    ]


# --- wants and the whole trip -------------------------------------------------------


def test_a_wanted_product_without_a_price_anywhere_is_found() -> None:
    found = findings(lambda trip: trip["prices"].pop(0))
    mend = "no store has a price for it: add a line under prices, or take it off this list"
    assert found == [Problem("wants[0].products[0]", "nimbelle-12", mend)]


def test_a_want_names_each_product_once() -> None:
    found = findings(lambda trip: trip["wants"][1]["products"].append("suddry"))
    assert found == [Problem("wants[1].products[1]", "suddry", "name it once only")]


def test_welcoming_fewer_than_needed_is_found() -> None:
    found = findings(lambda trip: trip["wants"][0].update(need=3, welcome=2))
    assert found == [Problem("wants[0].welcome", "2", "at least the 3 needed, or leave it out")]


def test_welcome_left_out_means_as_many_as_needed() -> None:
    assert findings(lambda trip: trip["wants"][0].update(need=3, welcome=0)) == []


def test_an_unknown_unit_of_a_stock_up_price_is_found() -> None:
    found = findings(lambda trip: _put(trip, "wants[1].stock_up.per", "smidgen"))
    assert [(finding.field, finding.value) for finding in found] == [("wants[1].stock_up.per", "smidgen")]


def test_ounces_of_weight_do_not_measure_fluid_ounces() -> None:
    found = findings(lambda trip: _put(trip, "wants[1].stock_up.per", "oz"))
    mend = "suddry: it is sold by 19 fl-oz; name a unit that measures the same thing"
    assert found == [Problem("wants[1].stock_up.per", "oz", mend)]


def test_a_stock_up_price_too_high_to_count_is_found() -> None:
    found = findings(lambda trip: _put(trip, "wants[0].stock_up.cents", "100000000"))
    assert [finding.field for finding in found] == ["wants[0].stock_up.cents"]


def test_a_currencys_digits_are_those_of_iso_4217() -> None:
    found = findings(lambda trip: trip.update(currency="JPY"))
    assert found == [Problem("exponent", "2", "JPY has 0 digits after the point")]


def test_a_trip_too_dear_to_count_is_found() -> None:
    found = findings(
        lambda trip: (_put(trip, "prices[0].cents", 10_000_000), _put(trip, "wants[0].welcome", 201))
    )
    assert [(finding.field, finding.value) for finding in found] == [
        ("wants", "2010000199 cents at the dearest tags")
    ]


# --- a transaction's own ------------------------------------------------------------


def test_a_pin_names_a_store_and_a_product_of_the_trip_once() -> None:
    def spoil(trip: dict[str, Any]) -> None:
        pin = {"store": "ostrel", "product": "suddry", "units": 2}
        trip["pinned"] = [pin, {**pin, "units": 3}, {"store": "nowhere", "product": "nothing", "units": 1}]

    found = findings(spoil)
    assert [finding.field for finding in found] == ["pinned[1]", "pinned[2].store", "pinned[2].product"]


def test_a_line_for_an_unknown_product_is_found() -> None:
    found = belt_findings(lambda belt: _put(belt, "lines[0].product", "nobody"))
    assert [(finding.field, finding.value) for finding in found] == [("lines[0].product", "nobody")]


def test_a_line_without_a_price_is_found() -> None:
    found = belt_findings(lambda belt: belt["prices"].pop(1))
    mend = "this store has no price for it: add a line under prices"
    assert found == [Problem("lines[0].product", "suddry", mend)]


def test_a_line_paid_by_a_rain_check_needs_that_rain_check() -> None:
    found = belt_findings(lambda belt: _put(belt, "lines[0].rain_check", "nobody"))
    assert [(finding.field, finding.value) for finding in found] == [("lines[0].rain_check", "nobody")]


def test_a_coupon_handed_over_is_one_of_the_coupons() -> None:
    found = belt_findings(lambda belt: _put(belt, "uses[0].coupon", "nobody"))
    assert [(finding.field, finding.value) for finding in found] == [("uses[0].coupon", "nobody")]


def test_a_percent_offer_applied_is_one_of_the_offers() -> None:
    found = belt_findings(lambda belt: _put(belt, "offer_uses", [{"offer": "nobody", "units": [0]}]))
    assert [(finding.field, finding.value) for finding in found] == [("offer_uses[0].offer", "nobody")]


def test_a_coupon_on_the_belt_may_name_goods_that_are_not_there() -> None:
    assert belt_findings(lambda belt: belt["coupons"][0]["asks"][0]["products"].append("elsewhere")) == []


def test_a_belt_too_long_is_found() -> None:
    found = belt_findings(lambda belt: _put(belt, "lines", [{"product": "suddry", "units": 5001}] * 2))
    assert found == [Problem("lines", "10002 units", "at most 10000 units lie on one belt")]


def test_a_belt_too_dear_to_count_is_found() -> None:
    def spoil(belt: dict[str, Any]) -> None:
        belt["prices"][1]["cents"] = 10_000_000
        belt["lines"][0]["units"] = 201

    assert [finding.value for finding in belt_findings(spoil)] == ["2010000000 cents at the tags"]


def _put(document: dict[str, Any], path: str, value: object) -> None:
    """Set what stands at a path like ``prices[3].cents``, making a missing list on the way."""
    at: Any = document
    *way, last = path.replace("]", "").replace("[", ".").split(".")
    for step in way:
        at = at[int(step)] if step.isdigit() else at.setdefault(step, [None])
    at[int(last) if last.isdigit() else last] = value
