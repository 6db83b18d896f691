"""The shorthand as a table: what is written, and what is read from it, on Saturday 2026-12-05.

Each case: the text; the fields of its one draft that are not at their defaults, by the struct's own names
(``gives`` and ``deal`` as one short word, see ``short``); the words left over; the fields asked about.
"""

from __future__ import annotations

from typing import Any, NamedTuple

TODAY = "2026-12-05"


class Case(NamedTuple):
    text: str
    kind: str
    fields: dict[str, Any]
    words: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()


def off(gives: str, units: int = 1, **fields: Any) -> dict[str, Any]:
    """A coupon's fields: what it gives and how many units it asks for."""
    return {"gives": gives, "units": units, **fields}


CASES = (
    # --- cents off ---
    Case(
        "$1/2 any flavour exp 12/31 limit 4",
        "coupon",
        off("100 off", 2, until="2026-12-31", per_transaction=4),
        ("any flavour",),
        ("per_transaction",),
    ),
    Case("$1/2", "coupon", off("100 off", 2)),
    Case("$1.50/1", "coupon", off("150 off")),
    Case("$ 1/2", "coupon", off("100 off", 2)),
    Case(".75/2 peelie", "coupon", off("75 off", 2, form="on_package")),
    Case("0.55/1 soap", "coupon", off("55 off"), ("soap",)),
    Case("75c/2", "coupon", off("75 off", 2)),
    Case("75¢ off 2", "coupon", off("75 off", 2)),
    Case("75 cents off 3", "coupon", off("75 off", 3)),
    Case("save 75c on ONE", "coupon", off("75 off")),
    Case("SAVE $1.00 ON TWO oat bars", "coupon", off("100 off", 2), ("oat bars",)),
    Case("Save $1 when you buy any 2 oat bars", "coupon", off("100 off", 2), ("oat bars",)),
    Case("save $1 wyb 3", "coupon", off("100 off", 3)),
    Case("$1 off oat bars 10.5 oz", "coupon", off("100 off"), ("oat bars 10.5 oz",)),
    Case("$1off 2", "coupon", off("100 off", 2)),
    Case("buy 2 get $1 off", "coupon", off("100 off", 2)),
    Case("buy 3 jam save $2", "coupon", off("200 off", 3), ("jam",)),
    Case("5 dollars off 1 coat", "coupon", off("500 off"), ("coat",)),
    Case("$1 off 12 oz oat bars", "coupon", off("100 off"), ("12 oz oat bars",)),
    Case("$1 off one 12 roll pack", "coupon", off("100 off"), ("12 roll pack",)),
    Case("$1 off 3 each", "coupon", off("300 off", 3), (), ("gives",)),
    Case("buy 5 save $1 each", "coupon", off("500 off", 5), (), ("gives",)),
    Case("$2 digital", "coupon", off("200 off", form="digital"), (), ("gives",)),
    Case("Save $3.00 off TWO (2) soap", "coupon", off("300 off", 2), ("soap",)),
    Case("save up to $5 jam", "coupon", off("500 off"), ("jam",), ("gives",)),
    Case("$1 coupon", "coupon", off("100 off")),
    Case("$1/1 12 pack", "coupon", off("100 off"), ("12 pack",)),
    # --- off a transaction ---
    Case("$5 off $25", "coupon", off("500 off from 2500")),
    Case("$5/$25", "coupon", off("500 off from 2500")),
    Case("$5 off your purchase of $25 or more", "coupon", off("500 off from 2500")),
    Case("$10 off a $50+ order", "coupon", off("1000 off from 5000")),
    Case("$10 off your order", "coupon", off("1000 off from 0")),
    Case("spend $25 save $5", "coupon", off("500 off from 2500")),
    Case("spend $30 on soap get $10 off", "coupon", off("1000 off from 3000"), ("on soap",)),
    Case("$5/25", "coupon", off("500 off from 2500"), (), ("gives",)),
    # --- percent ---
    Case("20% off", "percent_offer", {"bp": 2000}),
    Case("save 20% on jam", "percent_offer", {"bp": 2000}, ("on jam",)),
    Case("12.5% off jam", "percent_offer", {"bp": 1250}, ("jam",)),
    Case("20 percent off 2", "percent_offer", {"bp": 2000, "units_per_transaction": 2}),
    Case("20% off 2 liter soda", "percent_offer", {"bp": 2000}, ("2 liter soda",)),
    Case("up to 50% off lamps", "percent_offer", {"bp": 5000}, ("lamps",), ("bp",)),
    Case("half price soap", "percent_offer", {"bp": 5000}, ("soap",)),
    Case("1/2 off soap", "percent_offer", {"bp": 5000}, ("soap",)),
    Case("25% off entire purchase", "percent_offer", {"bp": 2500}, (), ("products",)),
    Case("20% off your $50 purchase", "coupon", off("nothing"), (), ("gives",)),
    Case("20% off coupon", "coupon", off("2000bp")),
    Case("25% off digital jam", "coupon", off("2500bp", form="digital"), ("jam",)),
    Case("buy 2 save 20%", "coupon", off("2000bp", 2)),
    # --- free ---
    Case("free (up to $3.99)", "coupon", off("free up to 399")),
    Case("FREE oat bars max $2", "coupon", off("free up to 200"), ("oat bars",)),
    Case("free wyb 2 pasta", "coupon", off("free", 3), ("pasta",), ("asks",)),
    Case("free jam w/ purchase of 2 bread", "coupon", off("free 1 of 1 and 2"), ("jam", "bread")),
    Case("free tea", "coupon", off("free"), ("tea",), ("gives",)),
    Case("gluten free bread $1/1", "coupon", off("100 off"), ("gluten free bread",)),
    # --- buy so many, get so many ---
    Case("B1G1", "deal", {"deal": "second 10000bp off"}),
    Case("BOGO", "deal", {"deal": "second 10000bp off"}),
    Case("b1g1 free soap", "deal", {"deal": "second 10000bp off"}, ("soap",)),
    Case("BOGO 50%", "deal", {"deal": "second 5000bp off"}),
    Case("BOGO 50% off mix and match", "deal", {"deal": "second 5000bp off", "mixes": True}),
    Case("BOGO50%", "deal", {"deal": "second 5000bp off"}),
    Case("tea $3.49 B1G1 50%", "deal", {"deal": "second 5000bp off", "cents": 349}, ("tea",)),
    Case("bogo 40", "deal", {"deal": "second 4000bp off"}, (), ("deal",)),
    Case("bogo half off", "deal", {"deal": "second 5000bp off"}),
    Case("buy one get one free", "deal", {"deal": "second 10000bp off"}),
    Case("buy-one-get-one half off jam", "deal", {"deal": "second 5000bp off"}, ("jam",)),
    Case("Buy 1 get the 2nd 50% off", "deal", {"deal": "second 5000bp off"}),
    Case("buy 1 get 1 for $1", "deal", {}, (), ("deal",)),
    Case("B2G1", "coupon", off("free", 3), (), ("kind",)),
    Case("Buy 2 oat bars get 1 free", "coupon", off("free", 3), ("oat bars",), ("kind",)),
    Case("B1G1 insert 11/22", "coupon", off("free", 2, form="insert", where="insert 11/22")),
    Case("B1G1 free up to $4", "coupon", off("free up to 400", 2)),
    Case("B1G2", "coupon", off("nothing", 3), (), ("gives",)),
    # --- prices ---
    Case("2/$5", "deal", {"deal": "2 for 500"}),
    Case("3/$1", "deal", {"deal": "3 for 100"}),
    Case("10 for $10 must buy 10", "deal", {"deal": "10 for 1000 whole groups"}),
    Case("10/$10 must buy 5", "deal", {"deal": "10 for 1000 whole groups"}, (), ("deal",)),
    Case("2 for 5", "deal", {"deal": "2 for 500"}, (), ("deal",)),
    Case("buy 2 for $5", "deal", {"deal": "2 for 500"}),
    Case("2/$5 or $2.69 each", "deal", {"deal": "2 for 500", "cents": 269}),
    Case("1/$3", "deal", {"cents": 300}),
    Case("$2.99 each when you buy 3", "deal", {"deal": "3 for 897 whole groups"}),
    Case("oat bars 2.99 ea", "deal", {"cents": 299}, ("oat bars",)),
    Case("reg $3.99 sale $2.50 jam", "deal", {"cents": 250, "regular_cents": 399}, ("jam",)),
    Case("clearance $1", "deal", {"cents": 100, "clearance": True}),
    Case("$2.99", "deal", {"cents": 299}, (), ("cents",)),
    Case("99¢ soup", "deal", {"cents": 99}, ("soup",), ("cents",)),
    Case("$1.99/lb apples", "deal", {}, ("apples",), ("cents",)),
    Case("$2.49-$2.99 jam", "deal", {}, ("jam",), ("cents",)),
    Case("$1.99 with digital coupon", "coupon", off("for 199", form="digital")),
    Case("2/$5 with store coupon", "coupon", off("for 500", 2, issuer="store")),
    # --- rewards ---
    Case("buy 3 get a $4 gift card", "reward", {"reward": "gift_card", "threshold": 3, "cents": 400}),
    Case("$5 gc wyb 3 towels", "reward", {"reward": "gift_card", "threshold": 3, "cents": 500}, ("towels",)),
    Case("buy 2 jam earn $1 back", "reward", {"reward": "slip", "threshold": 2, "cents": 100}, ("jam",)),
    Case(
        "spend $30 get $10 back limit 1 per household",
        "reward",
        {"reward": "slip", "by": "spend", "threshold": 3000, "cents": 1000, "per_household": 1},
    ),
    Case(
        "$3 off your next order wyb 2 does not roll",
        "reward",
        {"reward": "slip", "threshold": 2, "cents": 300, "rolls": False},
    ),
    Case(
        "get $10 reward when you spend $40",
        "reward",
        {"reward": "slip", "by": "spend", "threshold": 4000, "cents": 1000},
    ),
    Case(
        "buy 2 get 500 points", "reward", {"reward": "points", "threshold": 2, "points": 500}, (), ("cents",)
    ),
    Case("$2 slip", "reward", {"reward": "slip", "cents": 200}, (), ("threshold",)),
    Case("buy 2 get $4", "reward", {"reward": "slip", "threshold": 2, "cents": 400}, (), ("reward",)),
    # --- dates ---
    Case("$1/1 exp 1/15/27", "coupon", off("100 off", until="2027-01-15")),
    Case("$1/1 x2 exp12/31", "coupon", off("100 off", until="2026-12-31"), ("x2",)),
    Case("$1/1 expires on Dec 31, 2026", "coupon", off("100 off", until="2026-12-31")),
    Case("$1/1 valid thru 2026-12-31", "coupon", off("100 off", until="2026-12-31")),
    Case("$1/1 exp 12-31-26", "coupon", off("100 off", until="2026-12-31")),
    Case("2/$5 thru Sat 12/5", "deal", {"deal": "2 for 500", "until": "2026-12-05"}),
    Case("2/$5 thru Sat", "deal", {"deal": "2 for 500", "until": "2026-12-05"}),
    Case("2/$5 thru Tuesday", "deal", {"deal": "2 for 500", "until": "2026-12-08"}),
    Case("2/$5 ends 12/31", "deal", {"deal": "2 for 500", "until": "2026-12-31"}),
    Case("2/$5 12/5-12/11", "deal", {"deal": "2 for 500", "from_date": "2026-12-05", "until": "2026-12-11"}),
    Case(
        "sale 11/29 thru 12/5 99c soup",
        "deal",
        {"cents": 99, "from_date": "2026-11-29", "until": "2026-12-05"},
        ("soup",),
    ),
    Case("2/$5 starts 12/6", "deal", {"deal": "2 for 500", "from_date": "2026-12-06"}),
    Case("$1/1 exp 2/29", "coupon", off("100 off", until="2028-02-29"), (), ("until",)),
    Case("$1/1 exp 11/20", "coupon", off("100 off", until="2027-11-20"), (), ("until",)),
    Case("$1/1 exp 1/15/25", "coupon", off("100 off", until="2025-01-15"), (), ("until",)),
    Case("2/$5 thru Fri 12/5", "deal", {"deal": "2 for 500", "until": "2026-12-05"}, (), ("until",)),
    Case("$1/1 12/31", "coupon", off("100 off", until="2026-12-31"), (), ("until",)),
    Case("$1/1 exp 2/30", "coupon", off("100 off"), ("exp 2/30",), ("until",)),
    Case("$1/1 exp 31/12", "coupon", off("100 off"), ("exp 31/12",), ("until",)),
    Case("$1/2 1/2 gal milk", "coupon", off("100 off", 2), ("1/2 gal milk",)),
    # --- other terms ---
    Case("$1/1 DND", "coupon", off("100 off", may_multiply=False)),
    Case("$1/1 do not double", "coupon", off("100 off", may_multiply=False)),
    Case("$1/1 may be doubled", "coupon", off("100 off", may_multiply=True)),
    Case("$1/1 digital", "coupon", off("100 off", form="digital")),
    Case("printable $1/1", "coupon", off("100 off", form="printable")),
    Case(
        "$1/1 from Sunday insert 11/22",
        "coupon",
        off("100 off", form="insert", where="insert 11/22"),
        ("from Sunday",),
    ),
    Case("$1/1 tear pad", "coupon", off("100 off", where="tear pad")),
    Case("$1/1 mfr coupon", "coupon", off("100 off", issuer="manufacturer")),
    Case("$1/1 limit 1 per transaction", "coupon", off("100 off", per_transaction=1)),
    Case("$1/1 limit one per household", "coupon", off("100 off", per_household=1)),
    Case("$1/1 one per person per day", "coupon", off("100 off", per_day=1)),
    Case("$1/1 no more than 4 like coupons", "coupon", off("100 off", per_transaction=4)),
    Case("$1/1 limit 2 per shopping trip", "coupon", off("100 off", per_day=2), (), ("per_day",)),
    Case("$1/1 4 copies", "coupon", off("100 off", copies=4)),
    Case("2/$5 limit 4", "deal", {"deal": "2 for 500", "per_transaction": 4}, (), ("per_transaction",)),
    Case("2/$5 no limit", "deal", {"deal": "2 for 500"}),
    Case("2/$5 do not double", "deal", {"deal": "2 for 500"}, ("do not double",)),
)

# A paste of several offers: the text, then (kind, words) of each draft, then the lines without an offer.
PASTES: tuple[tuple[str, list[tuple[str, tuple[str, ...]]], tuple[str, ...]], ...] = (
    ("Oat bars 2/$5, jam 3/$4", [("deal", ("Oat bars",)), ("deal", ("jam",))], ()),
    (
        "$1/2 oat bars; B1G1 soap\n20% off tea",
        [("coupon", ("oat bars",)), ("deal", ("soap",)), ("percent_offer", ("tea",))],
        (),
    ),
    ("oat bars 2/$5, $1/2 coupon", [("deal", ("oat bars",)), ("coupon", ())], ()),
    ("This week\n$1/2 soap\nexp 12/31, limit 4", [("coupon", ("soap",))], ("This week",)),
    ("12 oz oat bars\nweek of 12/6", [], ("12 oz oat bars", "week of 12/6")),
    ("exp 12/31", [], ("exp 12/31",)),
    ("", [], ()),
)
