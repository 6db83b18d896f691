"""Transactions made up from a seed, for what must hold of every receipt and of both engines.

Small belts with many papers on few goods, so that rules meet; about half of them are refused,
which is as much a part of the answer. Equal seeds make equal transactions.
"""

from __future__ import annotations

from random import Random
from typing import Any

import msgspec

from counterfoil.engine.papers import Transaction

DAY = "2026-03-14"
GOODS = ("soap", "tea", "jam", "card")
MEASURES = ("before_coupons", "after_store_coupons", "after_all_coupons")


def made_up(seed: int) -> Transaction:
    """The transaction of this seed."""
    chance = Random(seed)
    coupons = [_coupon(chance, number) for number in range(chance.randint(0, 5))]
    offers = [_offer(chance, number) for number in range(chance.randint(0, 2))]
    lines = [_line(chance) for _ in range(chance.randint(1, 4))]
    belt = [line["product"] for line in lines for _ in range(line["units"])]
    document = {
        "store": {"id": "corner", "name": "Corner", "rules": _rules(chance), "tax": _tax(chance)},
        "day": DAY,
        "products": [_product(chance, good) for good in GOODS],
        "prices": [_tag(chance, good) for good in GOODS],
        "lines": lines,
        "coupons": coupons,
        "percent_offers": offers,
        "rewards": [_reward(chance, number) for number in range(chance.randint(0, 2))],
        "rain_checks": [
            {"id": "check", "store": "corner", "product": "tea", "cents": chance.randint(0, 400), "units": 3}
        ],
        "uses": _uses(chance, coupons, belt),
        "offer_uses": [_offer_use(chance, offer, belt) for offer in offers if chance.random() < 0.8],
        "tenders": _tenders(chance),
        "earned_before": {"reward-0": chance.randint(0, 2)},
        "region": chance.choice(("", "north")),
    }
    return msgspec.convert(document, Transaction)


def _rules(chance: Random) -> dict[str, Any]:
    rules: dict[str, Any] = {
        "manufacturer_coupons_per_unit": chance.choice((1, 1, 2, 2, 0)),
        "store_coupons_per_unit": chance.choice((1, 2, 2)),
        "percent_offers_per_unit": chance.choice((1, 2)),
        "store_with_manufacturer": chance.random() < 0.9,
        "like_coupons_per_transaction": chance.choice((None, 4, 2)),
        "coupons_no_more_than_items": chance.random() < 0.7,
        "slip_counts_as_manufacturer_coupon": chance.random() < 0.3,
        "percent_base": chance.choice(("shelf", "left")),
        "percent_rounding": chance.choice(("unit", "line")),
        "overage": chance.choice(("cut", "cut", "basket", "basket", "refuse")),
        "basket_coupons_per_transaction": chance.choice((1, 2)),
        "slips_buy_gift_cards": chance.random() < 0.5,
    }
    if chance.random() < 0.5:
        rules["multiplying"] = {
            "times": chance.choice((2, 3)),
            "up_to_cents": chance.choice((50, 100, 200)),
            "per_transaction": chance.choice((None, 1, 2)),
        }
    return rules


def _tax(chance: Random) -> dict[str, Any]:
    return {
        "rates": {"general": chance.choice((7000, 8875, 6625)), "food": chance.choice((0, 2000))},
        "treatment": chance.choice(("store_funded", "all", "none")),
        "basis": chance.choice(("invoice", "item")),
    }


def _product(chance: Random, good: str) -> dict[str, Any]:
    category = "gift card" if good == "card" else ""
    tax_class = chance.choice(("general", "food", ""))
    return {"id": good, "description": good, "category": category, "tax_class": tax_class}


def _tag(chance: Random, good: str) -> dict[str, Any]:
    cents = chance.randint(20, 700)
    tag: dict[str, Any] = {"store": "corner", "product": good, "cents": cents}
    kind = chance.random()
    if kind < 0.25:
        n = chance.randint(2, 4)
        must_buy = chance.random() < 0.5
        price = chance.randint(cents, cents * n)
        tag["deal"] = {"kind": "n_for_m", "n": n, "cents": price, "must_buy": must_buy}
    elif kind < 0.5:
        off_bp = chance.choice((10_000, 5_000))
        tag["deal"] = {"kind": "buy_one_get_one", "off_bp": off_bp, "mix": chance.choice(("", "spring"))}
    if chance.random() < 0.1:
        tag["per_transaction"] = 3
    return tag


def _line(chance: Random) -> dict[str, Any]:
    line: dict[str, Any] = {"product": chance.choice(GOODS), "units": chance.randint(1, 3)}
    if line["product"] == "tea" and chance.random() < 0.3:
        line["rain_check"] = "check"
    return line


def _coupon(chance: Random, number: int) -> dict[str, Any]:
    gives: dict[str, Any] = chance.choice(
        (
            {"kind": "cents_off", "cents": chance.randint(5, 400), "regional_cents": {"north": 55}},
            {"kind": "cents_off", "cents": chance.choice((50, 100))},
            {"kind": "percent_off", "bp": chance.choice((1500, 2500, 3333, 10_000))},
            {
                "kind": "free_item",
                "off_bp": chance.choice((10_000, 5_000)),
                "leg": chance.choice((None, 0, 1)),
            },
            {"kind": "free_item", "up_to_cents": 150},
            {"kind": "fixed_price", "cents": chance.randint(0, 500)},
            {
                "kind": "basket_off",
                "cents": chance.randint(1, 500),
                "from_cents": chance.randint(0, 900),
                "measure": chance.choice(MEASURES),
            },
        )
    )
    legs = 1 if gives["kind"] == "basket_off" else chance.choice((1, 1, 1, 2))
    products = [[], list(GOODS[:3]), ["tea", "jam"]]
    coupon: dict[str, Any] = {
        "id": f"coupon-{number}",
        "description": f"Coupon {number}",
        "issuer": chance.choice(("manufacturer", "manufacturer", "store")),
        "form": "insert",
        "gives": gives,
        "asks": [
            {"products": chance.choice(products), "units": chance.choice((1, 1, 2))} for _ in range(legs)
        ],
        "copies": chance.randint(1, 3),
        "may_multiply": chance.random() < 0.8,
    }
    if chance.random() < 0.05:
        coupon["until"] = "2026-03-13"
    return coupon


def _uses(chance: Random, coupons: list[dict[str, Any]], belt: list[str]) -> list[dict[str, Any]]:
    """Mostly legal claims: eligible items, those with fewest claims so far first."""
    claims = [0.0] * len(belt)
    uses: list[dict[str, Any]] = []
    for coupon in coupons:
        for _ in range(chance.choice((0, 1, 1, 1, 2))):
            units: list[int] = []
            legs: list[dict[str, Any]] = [] if coupon["gives"]["kind"] == "basket_off" else coupon["asks"]
            for leg in legs:
                fit = [
                    i
                    for i, p in enumerate(belt)
                    if i not in units and (not leg["products"] or p in leg["products"])
                ]
                fit.sort(key=lambda i: claims[i] + chance.random())
                units += fit[: leg["units"]]
            if len(units) < sum(leg["units"] for leg in legs) and chance.random() < 0.95:
                continue
            for unit in units:
                claims[unit] += 1
            uses.append({"coupon": coupon["id"], "units": units})
    chance.shuffle(uses)
    return uses


def _offer(chance: Random, number: int) -> dict[str, Any]:
    return {
        "id": f"offer-{number}",
        "store": "corner",
        "description": f"Offer {number}",
        "bp": chance.choice((1000, 1500, 2500, 10_000)),
        "products": chance.choice(([], ["tea", "soap"])),
        "units_per_transaction": chance.choice((None, None, 2)),
    }


def _offer_use(chance: Random, offer: dict[str, Any], belt: list[str]) -> dict[str, Any]:
    fit = [unit for unit, product in enumerate(belt) if not offer["products"] or product in offer["products"]]
    most = min(len(fit), offer["units_per_transaction"] or 4)
    return {"offer": offer["id"], "units": chance.sample(fit, most)}


def _reward(chance: Random, number: int) -> dict[str, Any]:
    by = chance.choice(("units", "spend"))
    thresholds = (
        chance.choice(((2,), (2, 4), (3, 5))) if by == "units" else chance.choice(((500,), (300, 900)))
    )
    return {
        "id": f"reward-{number}",
        "store": "corner",
        "description": f"Reward {number}",
        "kind": chance.choice(("slip", "gift_card", "points")),
        "tiers": [{"threshold": t, "cents": 100 * (i + 1)} for i, t in enumerate(thresholds)],
        "by": by,
        "measure": chance.choice(MEASURES),
        "products": chance.choice(([], ["tea"], list(GOODS[:3]))),
        "per_transaction": chance.choice((1, None, 2)),
        "per_household": chance.choice((None, 2)),
        "rolls": chance.random() < 0.5,
    }


def _tenders(chance: Random) -> list[dict[str, Any]]:
    tenders: list[dict[str, Any]] = []
    if chance.random() < 0.3:
        tenders.append({"kind": "slip", "cents": chance.randint(50, 300), "id": "s", "offer": "reward-0"})
    if chance.random() < 0.3:
        tenders.append({"kind": "gift_card", "cents": chance.randint(0, 500), "id": "g"})
    if chance.random() < 0.3:
        products = chance.choice(([], ["tea", "jam"]))
        tenders.append({"kind": "food_benefit", "cents": chance.randint(0, 900), "products": products})
    chance.shuffle(tenders)
    return [*tenders, {"kind": "cash"}] if chance.random() < 0.95 else tenders
