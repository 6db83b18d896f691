"""The form of a tag: what a product costs at a store, the deal on it, and the days that it holds."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ....engine.offers import BuyOneGetOne, NForM, ShelfPrice
from ....home.kinds import Record, id_of
from .form import Form, Written, optional, texts, written_percent
from .sheet import Sheet, Values

KINDS = (("regular", "regular price"), ("sale", "sale"), ("clearance", "clearance"))
THERE = "there is a tag for this product at this store from that day already: change that one"
DEALS = (
    ("", "no deal: one unit’s price is all"),
    ("n_for_m", "so many for one price"),
    ("buy_one_get_one", "buy one, get one for less"),
)


def read(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The tags of a sheet: one for each product that was chosen; a tag that is changed has one product."""
    fields, there = sheet.fields, sheet.snapshot.prices
    store = fields.known(
        "store", sheet.snapshot.stores, what="store", needed="choose the store whose tag it is"
    )
    products = sheet.products("products", needed="choose the product that the tag is for")
    if id is not None and len(products) > 1:
        fields.wrong("products", "a tag that is changed is for one product: untick the others")
    deal = _deal(sheet)
    cents = fields.cents("cents", needed="write what one unit costs on the tag")
    tag = ShelfPrice(
        store=store or "",
        product="",
        cents=cents or 0,
        regular_cents=fields.cents("regular"),
        low_cents=fields.cents("low"),
        high_cents=fields.cents("high"),
        kind=fields.choice("kind", ("regular", "sale", "clearance")),
        deal=deal,
        from_date=fields.day("from_date"),
        until=fields.day("until"),
        place=fields.text("place"),
        place_note=fields.text("place_note"),
        per_transaction=fields.whole("per_transaction", low=1),
        per_visit=fields.whole("per_visit", low=1),
    )
    if id is None:
        taken = [
            product for product in products if id_of(msgspec.structs.replace(tag, product=product)) in there
        ]
        if taken:
            fields.wrong("from_date", THERE, tag.from_date or "no first day")
    if fields.findings:
        return ()
    return [msgspec.structs.replace(tag, product=product) for product in products]


def fill(tag: ShelfPrice, written: Written) -> Values:
    """A tag as it is typed."""

    def money(cents: int | None) -> list[str]:
        return [] if cents is None else [written(cents)]

    values: Values = {
        **texts(
            store=tag.store,
            kind=tag.kind,
            from_date=tag.from_date,
            until=tag.until,
            place=tag.place,
            place_note=tag.place_note,
        ),
        "products": [tag.product],
        "cents": money(tag.cents),
        "regular": money(tag.regular_cents),
        "low": money(tag.low_cents),
        "high": money(tag.high_cents),
        "per_transaction": optional(tag.per_transaction),
        "per_visit": optional(tag.per_visit),
    }
    match tag.deal:
        case NForM(n=n, cents=cents, must_buy=must_buy):
            values |= {"deal": ["n_for_m"], "n": [str(n)], "m": money(cents)}
            values |= {"must_buy": ["yes"]} if must_buy else {}
        case BuyOneGetOne(off_bp=off_bp, mix=mix):
            values |= {
                "deal": ["buy_one_get_one"],
                "off": [written_percent(off_bp)],
                **texts(mix=mix),
            }
        case None:
            pass
    return values


def _deal(sheet: Sheet) -> NForM | BuyOneGetOne | None:
    fields = sheet.fields
    match fields.choice("deal", ("", "n_for_m", "buy_one_get_one")):
        case "n_for_m":
            n = fields.whole("n", needed="write how many the price is for", low=2, high=100)
            cents = fields.cents("m", needed="write what they cost together", least=1)
            return NForM(n=n or 2, cents=cents or 1, must_buy=fields.flag("must_buy"))
        case "buy_one_get_one":
            off = fields.percent("off")
            if off == 0:
                fields.wrong("off", "more than nothing: 100 is free, 50 is half price")
            return BuyOneGetOne(off_bp=10_000 if off is None else off or 1, mix=fields.text("mix"))
        case _:
            return None


_FIELDS = {
    "product": "products",
    "regular_cents": "regular",
    "low_cents": "low",
    "high_cents": "high",
    "deal.n": "n",
    "deal.cents": "m",
    "deal.off_bp": "off",
    "deal.mix": "mix",
    "": "from_date",  # two tags whose days meet
}

FORM = Form(
    kind="price",
    template="offers/tag.html",
    read=read,
    fill=fill,
    field_of=lambda path: _FIELDS.get(path, path),
    blank={"kind": ["sale"], "off": ["100"]},
    choosers=lambda typed: ("products",),
    context=lambda sheet: {"kinds": KINDS, "deals": DEALS},
)
