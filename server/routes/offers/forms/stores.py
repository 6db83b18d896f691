"""The form of a store: its house rules one by one, its tax rates by class."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import cast

import msgspec

from ....engine.money import show
from ....engine.offers import HouseRules, Multiplying, Store, Tax
from ....engine.rules import RULES, say
from ....home.kinds import Record
from ....home.naming import id_from
from .form import Form, Written, optional, rows_of, texts, written_percent
from .sheet import Sheet, Values

MOST_RATES = 40
# How each rule is answered: a number up to a limit, a tick, or one of several words.
COUNTS: Mapping[str, tuple[int, int]] = {
    "manufacturer_coupons_per_unit": (0, 2),
    "store_coupons_per_unit": (0, 2),
    "percent_offers_per_unit": (0, 2),
    "basket_coupons_per_transaction": (0, 3),
    "transactions_per_visit": (1, 6),
}
TICKS = (
    "store_with_manufacturer",
    "coupons_no_more_than_items",
    "slip_counts_as_manufacturer_coupon",
    "slips_buy_gift_cards",
)
WORDS: Mapping[str, Sequence[tuple[str, str]]] = {
    "percent_base": (("shelf", "of the shelf price"), ("left", "of what is left by then")),
    "percent_rounding": (("unit", "for each item"), ("line", "once for the line")),
    "overage": (
        ("cut", "cut to what is left of the items"),
        ("basket", "goes to the rest of the basket"),
        ("refuse", "the coupon is not taken"),
    ),
}
TREATMENTS = (
    ("store_funded", "store coupons and percent offers lower the taxed amount"),
    ("all", "all coupons lower the taxed amount"),
    ("none", "no coupon lowers the taxed amount"),
)
BASES = (("invoice", "once for each tax class"), ("item", "for each item"))


class RuleRow(msgspec.Struct, frozen=True, kw_only=True):
    """A house rule on the page: the ``control`` that answers it, and what the rule says ``now``."""

    field: str
    control: str
    plain: str
    now: str
    options: Sequence[tuple[str, str]] = ()


def read(sheet: Sheet, id: str | None) -> Sequence[Record]:
    """The store of a sheet."""
    fields = sheet.fields
    name = fields.text("name", needed="write what the store is called")
    channel_of = fields.known("channel_of", sheet.snapshot.stores, what="store")
    return (
        Store(
            id=id or id_from(name, sheet.snapshot.stores, "store"),
            name=name,
            rules=_rules(sheet),
            tax=Tax(
                rates=_rates(sheet),
                treatment=fields.choice("treatment", ("store_funded", "all", "none")),
                basis=fields.choice("basis", ("invoice", "item")),
            ),
            region=fields.text("region"),
            channel_of=channel_of,
            cash_ceiling_cents=fields.cents("cash_ceiling"),
            note=fields.text("note"),
        ),
    )


def fill(store: Store, written: Written) -> Values:
    """A store as it is typed."""
    rules = store.rules
    values: Values = {
        **texts(name=store.name, region=store.region, channel_of=store.channel_of, note=store.note),
        "cash_ceiling": [] if store.cash_ceiling_cents is None else [written(store.cash_ceiling_cents)],
        "treatment": [store.tax.treatment],
        "basis": [store.tax.basis],
        "like_coupons_per_transaction": optional(rules.like_coupons_per_transaction),
        **{field: [str(getattr(rules, field))] for field in (*COUNTS, *WORDS)},
        **{field: ["yes"] for field in TICKS if getattr(rules, field)},
        "rates": [str(len(store.tax.rates) + 2)],
    }
    if rules.multiplying:
        values |= {
            "multiplying": ["yes"],
            "multiplying-times": [str(rules.multiplying.times)],
            "multiplying-up-to": [written(rules.multiplying.up_to_cents)],
            "multiplying-first": optional(rules.multiplying.per_transaction),
        }
    for row, (tax_class, rate) in enumerate(store.tax.rates.items()):
        values[f"rate-class-{row}"] = [tax_class]
        values[f"rate-{row}"] = [written_percent(rate, 3)]
    return values


def rule_rows(rules: HouseRules, currency: str, exponent: int) -> list[RuleRow]:
    """Every house rule with its plain sentence, and what it says with these ``rules``."""

    def options(field: str) -> Sequence[tuple[str, str]]:
        if field in COUNTS:
            low, high = COUNTS[field]
            return [(str(number), str(number) if number else "none") for number in range(low, high + 1)]
        return WORDS.get(field, ())

    return [
        RuleRow(
            field=field,
            control="choice" if field in COUNTS or field in WORDS else "tick" if field in TICKS else field,
            plain=rule.plain,
            now=say(field, rules, lambda cents: show(cents, currency, exponent)),
            options=options(field),
        )
        for field, rule in RULES.items()
    ]


def _rules(sheet: Sheet) -> HouseRules:
    fields = sheet.fields
    answers: dict[str, object] = {
        field: int(fields.choice(field, [str(number) for number in range(low, high + 1)]))
        for field, (low, high) in COUNTS.items()
    }
    answers |= {field: fields.flag(field) for field in TICKS}
    answers |= {field: fields.choice(field, [word for word, _ in words]) for field, words in WORDS.items()}
    answers["like_coupons_per_transaction"] = fields.whole("like_coupons_per_transaction")
    if fields.flag("multiplying"):
        up_to = fields.cents("multiplying-up-to", needed="write the largest face value that is multiplied")
        answers["multiplying"] = Multiplying(
            times=fields.whole("multiplying-times", low=2, high=5) or 2,
            up_to_cents=up_to or 0,
            per_transaction=fields.whole("multiplying-first"),
        )
    return msgspec.convert(msgspec.to_builtins(answers), HouseRules)


def _rates(sheet: Sheet) -> dict[str, int]:
    fields = sheet.fields
    rates: dict[str, int] = {}
    for row in range(rows_of(fields.typed, "rates", 4, MOST_RATES)):
        tax_class = fields.text(f"rate-class-{row}", longest=80)
        rate = fields.percent(f"rate-{row}", places=3)
        if not tax_class and rate is None:
            continue
        if not tax_class:
            fields.wrong(f"rate-class-{row}", "write which class of goods has this rate", "nothing")
        elif rate is None and not any(found.field == f"rate-{row}" for found in fields.findings):
            fields.wrong(f"rate-{row}", "write the rate, like 6.625", "nothing")
        elif tax_class in rates:
            fields.wrong(f"rate-class-{row}", "a class has one rate: this one is above already")
        else:
            rates[tax_class] = rate or 0
    return rates


def _context(sheet: Sheet) -> Mapping[str, object]:
    typed, settings = sheet.fields.typed, sheet.snapshot.settings
    return {
        "rules": rule_rows(HouseRules(), settings.currency, settings.exponent),
        "treatments": TREATMENTS,
        "bases": BASES,
        "rate_rows": rows_of(typed, "rates", 4, MOST_RATES),
    }


def _field_of(path: str) -> str:
    if multiplying := re.fullmatch(r"rules\.multiplying\.(\w+)", path):
        return {
            "times": "multiplying-times",
            "up_to_cents": "multiplying-up-to",
            "per_transaction": "multiplying-first",
        }.get(cast("str", multiplying[1]), "multiplying")
    return {"id": "name", "cash_ceiling_cents": "cash_ceiling"}.get(path, path.removeprefix("rules."))


FORM = Form(
    kind="store",
    template="offers/store.html",
    read=read,
    fill=fill,
    field_of=_field_of,
    blank=fill(Store(id="new", name=""), str),
    more=("rates", MOST_RATES, "rate-class-"),
    context=_context,
)
