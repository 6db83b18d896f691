"""The forms of a rebate and of a bonus for a set of them."""

from __future__ import annotations

from collections.abc import Sequence

from ....engine.offers import Rebate, SetBonus
from ....home.kinds import Record
from ....home.naming import id_from
from .form import Form, Written, texts
from .goods import goods, of_products, saying_of
from .sheet import Sheet, Values


def read_rebate(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The rebate of a sheet."""
    fields, saying = sheet.fields, saying_of(sheet)
    cents = fields.cents("cents", needed="write what comes back", least=1)
    products = sheet.products("products", needed="choose the products that it is for")
    units = fields.whole("units", low=1)
    description = fields.text("description")
    description = description or f"{saying.money(cents or 0)} back on {goods(saying, products)}"[:400]
    limit, deadline = fields.whole("limit"), fields.whole("deadline_days", high=3_650)
    return (
        Rebate(
            id=id or id_from(description, sheet.snapshot.rebates, "rebate"),
            description=description,
            cents=cents or 1,
            products=products,
            units=units or 1,
            limit=1 if limit is None else limit,
            stores=sheet.stores("stores"),
            from_receipt_cents=fields.cents("from_receipt") or 0,
            needs_receipt=fields.flag("needs_receipt"),
            deadline_days=7 if deadline is None else deadline,
            from_date=fields.day("from_date"),
            until=fields.day("until"),
        ),
    )


def fill_rebate(rebate: Rebate, written: Written) -> Values:
    """A rebate as it is typed."""
    return {
        **texts(
            description=rebate.description,
            from_date=rebate.from_date,
            until=rebate.until,
            needs_receipt="yes" if rebate.needs_receipt else "",
        ),
        "cents": [written(rebate.cents)],
        "products": list(rebate.products),
        "units": [str(rebate.units)],
        "limit": [str(rebate.limit)],
        "stores": list(rebate.stores),
        "from_receipt": [written(rebate.from_receipt_cents)] if rebate.from_receipt_cents else [],
        "deadline_days": [str(rebate.deadline_days)],
    }


def _rebate_field(path: str) -> str:
    known = {"id": "description", "from_receipt_cents": "from_receipt"}
    return known.get(path, "stores" if path.startswith("stores") else of_products(path))


REBATE = Form(
    kind="rebate",
    template="offers/rebate.html",
    read=read_rebate,
    fill=fill_rebate,
    field_of=_rebate_field,
    blank={"units": ["1"], "limit": ["1"], "deadline_days": ["7"], "needs_receipt": ["yes"]},
    choosers=lambda typed: ("products",),
)


def read_set_bonus(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The set bonus of a sheet."""
    fields, there = sheet.fields, sheet.snapshot.rebates
    rebates = tuple(dict.fromkeys(fields.lines("rebates")))
    if gone := [rebate for rebate in rebates if rebate not in there]:
        fields.wrong("rebates", "there is no such rebate any more: choose others", gone[0])
    elif not 2 <= len(rebates) <= 40:
        fields.wrong("rebates", "choose 2 to 40 rebates: all of them earn it", f"{len(rebates)} chosen")
    cents = fields.cents("cents", needed="write what comes back on top", least=1)
    description = fields.text("description")
    description = description or f"{saying_of(sheet).money(cents or 0)} more for {len(rebates)} rebates"
    return (
        SetBonus(
            id=id or id_from(description, sheet.snapshot.set_bonuses, "set-bonus"),
            description=description,
            cents=cents or 1,
            rebates=rebates,
        ),
    )


def fill_set_bonus(bonus: SetBonus, written: Written) -> Values:
    """A set bonus as it is typed."""
    return {
        "description": [bonus.description],
        "cents": [written(bonus.cents)],
        "rebates": list(bonus.rebates),
    }


SET_BONUS = Form(
    kind="set_bonus",
    template="offers/set_bonus.html",
    read=read_set_bonus,
    fill=fill_set_bonus,
    field_of=lambda path: "rebates" if path.startswith("rebates") else path,
)
