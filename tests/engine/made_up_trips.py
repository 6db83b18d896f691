"""Trips made up from a seed, for what must hold of every plan and of both planners.

Small, so that a plan takes a moment, but rich in rules that meet: few goods, many papers on each.
Every trip is sound (``check_trip`` finds nothing). Equal seeds make equal trips. ``happened_on``
makes up what the shopper reported.
"""

from __future__ import annotations

from random import Random
from typing import Any

import msgspec

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Plan, Report

DAY = "2026-12-05"
STORES = ("ostrel", "brindlewick", "fennmart")
GOODS = ("soap", "tea", "jam", "oats", "bulbs", "card")
MEASURES = ("before_coupons", "after_store_coupons", "after_all_coupons")
FORMS = ("insert", "printable", "digital", "on_package", "register")


def made_up_trip(seed: int) -> Trip:
    """The trip of this seed."""
    return msgspec.convert(trip_document(seed), Trip)


def trip_document(seed: int) -> dict[str, Any]:
    """The same as a document, as it would stand in a file."""
    chance = Random(seed)
    stores = [_store(chance, name) for name in STORES[: chance.choice((1, 1, 2, 2, 3))]]
    names: list[str] = [store["id"] for store in stores]
    if len(names) > 1 and chance.random() < 0.3:
        stores[1]["channel_of"] = names[0]
    goods: list[str] = list(GOODS[: chance.randint(2, 5)])
    prices = _prices(chance, names, goods)
    rebates = [_rebate(chance, number, names, goods) for number in range(chance.choice((0, 0, 1, 2)))]
    rewards = [_reward(chance, number, names, goods) for number in range(chance.choice((0, 1, 1, 2)))]
    document: dict[str, Any] = {
        "id": f"made-up-{seed}",
        "title": f"Made-up trip {seed}",
        "day": DAY,
        "region": chance.choice(("", "", "north")),
        "stores": stores,
        "products": [_product(chance, good) for good in goods],
        "prices": prices,
        "wants": _wants(chance, [good for good in goods if any(tag["product"] == good for tag in prices)]),
        "coupons": [
            _coupon(chance, number, names, goods) for number in range(chance.choice((0, 1, 2, 2, 3)))
        ],
        "percent_offers": [
            _percent_offer(chance, number, names, goods) for number in range(chance.choice((0, 0, 1)))
        ],
        "rewards": rewards,
        "rebates": rebates,
        "wallet": _wallet(chance, names, goods, rewards),
        "settings": _settings(chance),
    }
    if len(rebates) > 1 and chance.random() < 0.6:
        bonus = {"id": "bonus", "description": "Both", "cents": chance.randint(20, 300)}
        document["set_bonuses"] = [bonus | {"rebates": [rebate["id"] for rebate in rebates]}]
    return document


def happened_on(seed: int, trip: Trip, home: Plan | None = None) -> Happened:
    """Up to three reports that fit a trip, sometimes after the first transaction of its plan (``home``)."""
    chance = Random(f"happened {seed}")
    entries: list[list[Any]] = []
    if home is not None and home.transactions and chance.random() < 0.4:
        first = home.transactions[0]
        done: dict[str, Any] = {"kind": "transaction_done"}
        done["transaction"] = msgspec.to_builtins(first.transaction)
        done["shown_total_cents"] = first.receipt.total_cents + chance.choice((0, 0, 1))
        entries.append(["done", done])
        if first.receipt.earned and chance.random() < 0.3:
            lost = first.receipt.earned[0].offer
            entries.append(["lost", {"kind": "not_printed", "done": "done", "offer": lost}])
    for number in range(chance.randint(1, 3)):
        tag = chance.choice(trip.prices)
        spot = {"store": tag.store, "product": tag.product}
        want = chance.choice(trip.wants)
        reports: list[dict[str, Any]] = [
            spot | {"kind": "in_trolley", "units": chance.randint(1, 2)},
            spot | {"kind": "shelf_empty"},
            spot | {"kind": "price_seen", "cents": max(tag.cents + chance.randint(-80, 80), 0)},
            spot | {"kind": "price_seen", "cents": tag.cents, "without_deal": True},
            spot | {"kind": "found", "want": want.id, "cents": tag.cents},
            spot | {"kind": "chosen", "units": 1},
            {"kind": "need_changed", "want": want.id, "need": chance.randint(0, 2), "welcome": 2},
        ]
        if trip.coupons:
            copies = chance.choice((-1, 1))
            reports.append(
                {"kind": "coupon_copies", "coupon": chance.choice(trip.coupons).id, "copies": copies}
            )
        if entries:
            reports.append({"kind": "undone", "event": entries[-1][0]})
        entries.append([f"event-{number}", chance.choice(reports)])
    return Happened(msgspec.convert(entries, tuple[tuple[str, Report], ...]))


def _store(chance: Random, name: str) -> dict[str, Any]:
    rules: dict[str, Any] = {
        "manufacturer_coupons_per_unit": chance.choice((1, 1, 1, 1, 2)),
        "store_coupons_per_unit": chance.choice((1, 1, 1, 2)),
        "percent_offers_per_unit": chance.choice((1, 1, 1, 2)),
        "store_with_manufacturer": chance.random() < 0.85,
        "like_coupons_per_transaction": chance.choice((None, 4, 2, 1)),
        "coupons_no_more_than_items": chance.random() < 0.8,
        "slip_counts_as_manufacturer_coupon": chance.random() < 0.2,
        "percent_base": chance.choice(("shelf", "left")),
        "percent_rounding": chance.choice(("unit", "unit", "line")),
        "overage": chance.choice(("cut", "cut", "basket", "refuse")),
        "transactions_per_visit": chance.choice((1, 2, 2, 3)),
    }
    if chance.random() < 0.3:
        rules["multiplying"] = {
            "times": chance.choice((2, 3)),
            "up_to_cents": chance.choice((50, 100, 200)),
            "per_transaction": chance.choice((None, 1, 2)),
        }
    store: dict[str, Any] = {"id": name, "name": name.capitalize(), "rules": rules}
    if chance.random() < 0.5:
        store["tax"] = {
            "rates": {"general": chance.choice((7000, 8875, 6625)), "food": chance.choice((0, 2000))},
            "treatment": chance.choice(("store_funded", "all", "none")),
            "basis": chance.choice(("invoice", "invoice", "item")),
        }
    if chance.random() < 0.1:
        store["cash_ceiling_cents"] = chance.randint(0, 1500)
    if chance.random() < 0.2:
        store["region"] = chance.choice(("north", "south"))
    return store


def _product(chance: Random, good: str) -> dict[str, Any]:
    size = chance.choice(({"amount": "12", "unit": "roll"}, {"amount": "16.5", "unit": "oz"}, None))
    tax_class = chance.choice(("general", "general", "food", ""))
    product = {"id": good, "description": f"Some {good}", "tax_class": tax_class}
    return product | ({"size": size} if size else {})


def _prices(chance: Random, stores: list[str], goods: list[str]) -> list[dict[str, Any]]:
    prices = [_tag(chance, store, good) for store in stores for good in goods if chance.random() < 0.8]
    return prices or [_tag(chance, stores[0], goods[0])]


def _tag(chance: Random, store: str, good: str) -> dict[str, Any]:
    cents = chance.randint(20, 700)
    tag: dict[str, Any] = {"store": store, "product": good, "cents": cents, "place": f"row {cents % 9}"}
    kind = chance.random()
    if kind < 0.2:
        n = chance.randint(2, 3)
        price = chance.randint(cents, cents * n)
        tag["deal"] = {"kind": "n_for_m", "n": n, "cents": price, "must_buy": chance.random() < 0.5}
    elif kind < 0.35:
        off_bp = chance.choice((10_000, 5_000))
        tag["deal"] = {"kind": "buy_one_get_one", "off_bp": off_bp, "mix": chance.choice(("", "spring"))}
    if chance.random() < 0.08:
        tag["per_transaction"] = chance.randint(1, 3)
    if chance.random() < 0.08:
        tag["per_visit"] = chance.randint(1, 3)
    if chance.random() < 0.03:
        tag["until"] = "2026-12-04"
    return tag


def _wants(chance: Random, goods: list[str]) -> list[dict[str, Any]]:
    wants: list[dict[str, Any]] = []
    for number in range(chance.randint(2, 4)):
        products = chance.sample(goods, min(chance.choice((1, 1, 2, 3)), len(goods)))
        want: dict[str, Any] = {"id": f"want-{number}", "products": products}
        want["need"] = chance.choice((0, 1, 1, 2))
        want["welcome"] = max(want["need"], chance.choice((0, 1, 2, 3)))
        if chance.random() < 0.6:
            want["stock_up"] = {"cents": f"{chance.randint(5, 60)}.{chance.choice(('5', '25', '0'))}"}
        wants.append(want)
    for want in wants:
        if "stock_up" in want and want["products"][0] == "tea":
            want["stock_up"]["cents"] = str(chance.randint(50, 400))
    return wants


def _some(chance: Random, goods: list[str]) -> list[str]:
    return sorted(chance.sample(goods, chance.randint(1, len(goods))))


def _coupon(chance: Random, number: int, stores: list[str], goods: list[str]) -> dict[str, Any]:
    gives: dict[str, Any] = chance.choice(
        (
            {"kind": "cents_off", "cents": chance.randint(20, 300)},
            {"kind": "cents_off", "cents": chance.randint(20, 150), "regional_cents": {"north": 75}},
            {"kind": "cents_off", "cents": chance.randint(20, 600)},
            {"kind": "percent_off", "bp": chance.choice((1000, 2500, 3300, 5000))},
            {"kind": "free_item", "up_to_cents": chance.choice((None, 250))},
            {"kind": "free_item", "off_bp": 5000, "leg": 0},
            {"kind": "fixed_price", "cents": chance.randint(0, 400)},
            {
                "kind": "basket_off",
                "cents": chance.randint(20, 500),
                "from_cents": chance.randint(0, 1200),
                "measure": chance.choice(MEASURES),
            },
        )
    )
    basket = gives["kind"] == "basket_off"
    legs = 1 if basket else chance.choice((1, 1, 1, 2))
    asks: list[dict[str, Any]] = [
        {"products": chance.choice(([], _some(chance, goods), _some(chance, goods)))} for _ in range(legs)
    ]
    if not basket:
        for ask in asks:
            ask["units"] = chance.choice((1, 1, 1, 2))
    issuer = chance.choice(("manufacturer", "manufacturer", "store"))
    coupon: dict[str, Any] = {
        "id": f"coupon-{number}",
        "description": f"Coupon {number}",
        "issuer": issuer,
        "form": chance.choice(FORMS),
        "gives": gives,
        "asks": asks,
        "stores": [chance.choice(stores)] if issuer == "store" or chance.random() < 0.1 else [],
        "copies": chance.randint(1, 3),
        "may_multiply": chance.random() < 0.8,
    }
    for limit in ("per_transaction", "per_day", "per_household"):
        if chance.random() < 0.15:
            coupon[limit] = chance.randint(1, 2)
    if chance.random() < 0.05:
        coupon["until"] = "2026-12-04"
    return coupon


def _percent_offer(chance: Random, number: int, stores: list[str], goods: list[str]) -> dict[str, Any]:
    return {
        "id": f"offer-{number}",
        "store": chance.choice(stores),
        "description": f"Offer {number}",
        "bp": chance.choice((1000, 1500, 2500, 10_000)),
        "products": chance.choice(([], _some(chance, goods))),
        "units_per_transaction": chance.choice((None, None, 1, 2)),
        "transactions": chance.choice((None, None, 1, 2)),
    }


def _reward(chance: Random, number: int, stores: list[str], goods: list[str]) -> dict[str, Any]:
    by = chance.choice(("units", "spend"))
    steps = ((1,), (2,), (2, 4)) if by == "units" else ((300,), (700,), (300, 900))
    return {
        "id": f"reward-{number}",
        "store": chance.choice(stores),
        "description": f"Reward {number}",
        "kind": chance.choice(("slip", "slip", "gift_card", "points")),
        "tiers": [
            {"threshold": threshold, "cents": chance.randint(50, 200) + 150 * step}
            for step, threshold in enumerate(chance.choice(steps))
        ],
        "by": by,
        "measure": chance.choice(MEASURES),
        "products": chance.choice(([], _some(chance, goods))),
        "per_transaction": chance.choice((1, 1, 2, None)),
        "per_household": chance.choice((None, None, 1, 2)),
        "rolls": chance.random() < 0.5,
        "valid_days": chance.choice((0, 14)),
    }


def _rebate(chance: Random, number: int, stores: list[str], goods: list[str]) -> dict[str, Any]:
    return {
        "id": f"rebate-{number}",
        "description": f"Rebate {number}",
        "cents": chance.randint(20, 250),
        "products": _some(chance, goods),
        "units": chance.choice((1, 1, 2)),
        "limit": chance.choice((1, 1, 2)),
        "stores": chance.choice(([], [], [chance.choice(stores)])),
        "from_receipt_cents": chance.choice((0, 0, 500)),
    }


def _wallet(
    chance: Random, stores: list[str], goods: list[str], rewards: list[dict[str, Any]]
) -> dict[str, Any]:
    wallet: dict[str, Any] = {}
    slip_offers = [reward["id"] for reward in rewards if reward["kind"] == "slip"]
    if chance.random() < 0.3:
        slip: dict[str, Any] = {"id": "slip", "store": chance.choice(stores)}
        slip["cents"] = chance.randint(50, 400)
        slip["until"] = chance.choice((None, "2026-12-05", "2026-12-04"))
        slip["offer"] = chance.choice([None, *slip_offers])
        wallet["slips"] = [slip]
    if chance.random() < 0.2:
        wallet["gift_cards"] = [
            {"id": "gift", "store": chance.choice(stores), "cents": chance.randint(0, 600)}
        ]
    if chance.random() < 0.15:
        check = {"id": "check", "store": chance.choice(stores), "product": chance.choice(goods)}
        wallet["rain_checks"] = [check | {"cents": chance.randint(0, 300), "units": chance.randint(1, 2)}]
    if chance.random() < 0.15:
        wallet["cash_cents"] = chance.randint(0, 2500)
    return wallet


def _settings(chance: Random) -> dict[str, Any]:
    settings: dict[str, Any] = {"days_to_next_visit": chance.choice((0, 7))}
    if chance.random() < 0.3:
        settings["further_transaction_cents"] = chance.choice((25, 100))
    if chance.random() < 0.3:
        settings["further_store_cents"] = chance.choice((50, 300))
    if chance.random() < 0.4:
        settings["worth"] = {"slip_bp": 9000, "points_bp": chance.choice((0, 5000)), "rebate_bp": 7500}
    return settings
