"""The form of a coupon: every kind of value, up to four requirements."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from ....engine.money import NotMoney, parse
from ....engine.offers import (
    Asks,
    BasketOff,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    PercentOff,
)
from ....home.kinds import Record
from ....home.naming import id_from
from ....home.saying import FORMS, Gives, Saying
from ...fields import MOST_CENTS, Typed
from .form import Form, Written, optional, rows_of, texts, written_percent
from .goods import MEASURE_CHOICES, goods, saying_of
from .sheet import Sheet, Values

MOST_LEGS = 4
ISSUERS = (("manufacturer", "the manufacturer"), ("store", "the store"))
VALUES = (
    ("cents_off", "an amount off"),
    ("percent_off", "a percentage off"),
    ("free_item", "an item free, or for less"),
    ("fixed_price", "the items for a fixed price"),
    ("basket_off", "an amount off a whole spend"),
)
LEGS = (("", "whichever is cheapest"), *((str(leg), f"one of requirement {leg + 1}") for leg in range(4)))


def read(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The coupon of a sheet."""
    fields = sheet.fields
    gives = _gives(sheet)
    asks = _asks(sheet, basket=isinstance(gives, BasketOff))
    description = fields.text("description") or _description(gives, asks, saying_of(sheet))
    copies = fields.whole("copies")
    coupon = Coupon(
        id=id or id_from(description, sheet.snapshot.coupons, "coupon"),
        description=description,
        issuer=fields.choice("issuer", ("manufacturer", "store")),
        form=fields.choice("form", ("insert", "printable", "digital", "on_package", "register")),
        gives=gives,
        asks=asks,
        stores=sheet.stores("stores"),
        copies=1 if copies is None else copies,
        per_transaction=fields.whole("per_transaction"),
        per_day=fields.whole("per_day"),
        per_household=fields.whole("per_household"),
        from_date=fields.day("from_date"),
        until=fields.day("until"),
        may_multiply=fields.flag("may_multiply"),
        where=fields.text("where"),
        legible=fields.text("legible"),
    )
    return (coupon,)


def fill(coupon: Coupon, written: Written) -> Values:
    """A coupon as it is typed."""
    values: Values = {
        **texts(
            description=coupon.description,
            issuer=coupon.issuer,
            form=coupon.form,
            from_date=coupon.from_date,
            until=coupon.until,
            where=coupon.where,
            legible=coupon.legible,
            may_multiply="yes" if coupon.may_multiply else "",
        ),
        **fill_gives(coupon.gives, written),
        "stores": list(coupon.stores),
        "copies": [str(coupon.copies)],
        "per_transaction": optional(coupon.per_transaction),
        "per_day": optional(coupon.per_day),
        "per_household": optional(coupon.per_household),
        "legs": [str(len(coupon.asks))],
    }
    for leg, asked in enumerate(coupon.asks):
        values[f"units-{leg}"] = [str(asked.units)]
        values[f"products-{leg}"] = list(asked.products)
        if not asked.products:
            values[f"everything-{leg}"] = ["yes"]
    return values


def fill_gives(gives: Gives | None, written: Written) -> Values:
    """What a coupon takes off, as it is typed."""
    match gives:
        case CentsOff(cents=cents, regional_cents=regional):
            lines = "\n".join(f"{region} {written(off)}" for region, off in regional.items())
            return {"gives": ["cents_off"], "off": [written(cents)], "regional": [lines]}
        case PercentOff(bp=bp):
            return {"gives": ["percent_off"], "percent": [written_percent(bp)]}
        case FreeItem(off_bp=off_bp, up_to_cents=cap, leg=leg):
            return {
                "gives": ["free_item"],
                "free-percent": [written_percent(off_bp)],
                "free-up-to": [] if cap is None else [written(cap)],
                "free-leg": optional(leg),
            }
        case FixedPrice(cents=cents):
            return {"gives": ["fixed_price"], "fixed": [written(cents)]}
        case BasketOff(cents=cents, from_cents=spend, measure=measure):
            return {
                "gives": ["basket_off"],
                "basket-off": [written(cents)],
                "basket-from": [written(spend)],
                "basket-measure": [measure],
            }
        case None:
            return {}


def legs_of(typed: Typed) -> int:
    """How many requirements the form shows."""
    return rows_of(typed, "legs", 1, MOST_LEGS)


def _gives(sheet: Sheet) -> Gives:
    fields = sheet.fields
    match fields.choice("gives", [value for value, _ in VALUES]):
        case "percent_off":
            return PercentOff(bp=_positive_percent(sheet, "percent", "write how many percent", None))
        case "free_item":
            leg = fields.choice("free-leg", [value for value, _ in LEGS])
            return FreeItem(
                off_bp=_positive_percent(sheet, "free-percent", "", 10_000),
                up_to_cents=fields.cents("free-up-to", least=1),
                leg=int(leg) if leg else None,
            )
        case "fixed_price":
            return FixedPrice(cents=fields.cents("fixed", needed="write what the items cost together") or 0)
        case "basket_off":
            off = fields.cents("basket-off", needed="write what it takes off", least=1)
            spend = fields.cents("basket-from", needed="write the spend that it asks for")
            return BasketOff(
                cents=off or 1,
                from_cents=spend or 0,
                measure=fields.choice("basket-measure", [value for value, _ in MEASURE_CHOICES]),  # pyright: ignore[reportArgumentType]  # the table has every measure and no other
            )
        case _:
            off = fields.cents("off", needed="write what it takes off", least=1)
            return CentsOff(cents=off or 1, regional_cents=_regional(sheet))


def _positive_percent(sheet: Sheet, name: str, needed: str, default: int | None) -> int:
    bp = sheet.fields.percent(name, needed=needed)
    if bp == 0:
        sheet.fields.wrong(name, "more than nothing")
    return bp or default or 1


def _regional(sheet: Sheet) -> dict[str, int]:
    """Lines of a region and its amount: ``coast 0.50``."""
    fields, settings = sheet.fields, sheet.snapshot.settings
    amounts: dict[str, int] = {}
    for line in fields.text("regional", longest=4_000).splitlines():
        region, _, amount = line.strip().rpartition(" ")
        if not line.strip():
            continue
        try:
            cents = parse(amount, settings.currency, settings.exponent)
        except NotMoney as wrong:
            fields.wrong("regional", f"a region and its amount on each line: {wrong.mend}", line)
            continue
        region = region.strip()
        if not region or region in amounts or not 1 <= cents <= MOST_CENTS:
            fields.wrong("regional", "each region once, with an amount above nothing: “coast 0.50”", line)
            continue
        amounts[region] = cents
    return amounts


def _asks(sheet: Sheet, *, basket: bool) -> tuple[Asks, ...]:
    fields = sheet.fields
    asks: list[Asks] = []
    for leg in range(legs_of(fields.typed)):
        name, everything = f"products-{leg}", fields.flag(f"everything-{leg}")
        before = len(fields.findings)
        products = sheet.products(name)
        units = fields.whole(f"units-{leg}", low=1, high=100) or 1
        if products and everything:
            fields.wrong(name, "either the chosen products, or everything", "both")
        if not products and not everything and len(fields.findings) == before:
            if leg > 0:
                continue  # a requirement that was left empty is none
            mend = "choose the products, or say that everything counts"
            fields.wrong(name, mend, "nothing")
        asks.append(Asks(products=products, units=1 if basket else units))
    return tuple(asks)


def _description(gives: Gives, asks: Sequence[Asks], saying: Saying) -> str:
    if isinstance(gives, BasketOff):
        return f"{saying.gives(gives)} on {saying.goods(asks[0].products)}"[:400]
    of = " and ".join(f"{asked.units} {goods(saying, asked.products)}" for asked in asks)
    return f"{saying.gives(gives)} on {of}".replace(",, ", ", ")[:400]


def _context(sheet: Sheet) -> Mapping[str, object]:
    return {
        "legs": legs_of(sheet.fields.typed),
        "most_legs": MOST_LEGS,
        "issuers": ISSUERS,
        "forms_of": tuple(FORMS.items()),
        "values": VALUES,
        "free_legs": LEGS,
        "measures": MEASURE_CHOICES,
    }


_FIELDS = {
    "id": "description",
    "gives.cents": "off",
    "gives.bp": "percent",
    "gives.leg": "free-leg",
    "gives.off_bp": "free-percent",
    "gives.up_to_cents": "free-up-to",
    "gives.from_cents": "basket-from",
    "asks": "products-0",
}


def _field_of(path: str) -> str:
    if asked := re.match(r"asks\[(\d)\]\.(products|units)", path):
        return f"{asked[2]}-{asked[1]}"
    return _FIELDS.get(path, "stores" if path.startswith("stores") else path)


FORM = Form(
    kind="coupon",
    template="offers/coupon.html",
    read=read,
    fill=fill,
    field_of=_field_of,
    blank={
        "gives": ["cents_off"],
        "issuer": ["manufacturer"],
        "form": ["insert"],
        "copies": ["1"],
        "may_multiply": ["yes"],
        "free-percent": ["100"],
        **{f"units-{leg}": ["1"] for leg in range(MOST_LEGS)},
    },
    choosers=lambda typed: [f"products-{leg}" for leg in range(legs_of(typed))],
    more=("legs", MOST_LEGS, "units-"),
    context=_context,
)
