"""Promise kept here: the phone's engine answers as the server's does, to the cent and to the word.

Every shared vector and every made-up transaction goes through ``web/engine`` in Chromium.
Documents may leave out what stands at its default, so both answers are read with msgspec
before they are compared. The twin runs its own ``checkReceipt`` on each receipt.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Mapping
from fractions import Fraction
from typing import Any, cast

import msgspec
import pytest
from playwright.sync_api import Page

from counterfoil.engine.measure import UNITS, measure_in, show_unit_price, unit_price, worth_cents
from counterfoil.engine.money import EXPONENTS, NotMoney, exponent_of, parse, round_half_up, share, show
from counterfoil.engine.offers import HouseRules, Multiplying, Product, Size, StockUp, Trip
from counterfoil.engine.papers import Receipt, Refusal, Transaction
from counterfoil.engine.register import price
from counterfoil.engine.rules import RULES, say
from tests.engine.made_up import made_up
from tests.engine.vectors import differences, vectors
from tests.served import ROOT

SEEDS = range(1_500)


def asked(page: Page, function: str, *arguments: object, runners: str = "run_vectors.js") -> Any:
    """What a function of a file beside this one answers in the browser; as text, which travels faster."""
    source = """async ([runners, name, given]) => {
        const module = await import(`/tests/engine/${runners}`);
        return JSON.stringify(await module[name](...JSON.parse(given)));
    }"""
    return json.loads(page.evaluate(source, [runners, function, json.dumps(arguments)]))


def read(answer: dict[str, Any]) -> Receipt | Refusal:
    return msgspec.convert(answer, Refusal if "rule" in answer else Receipt)


def written_out(value: object) -> object:
    """A struct as a document with every default in it, as the twin fills documents."""
    if isinstance(value, msgspec.Struct):
        tag = value.__struct_config__.tag
        kind = {} if tag is None else {"kind": tag}
        return kind | {name: written_out(getattr(value, name)) for name in value.__struct_fields__}
    if isinstance(value, tuple):
        return [written_out(item) for item in cast("tuple[object, ...]", value)]
    if isinstance(value, Mapping):
        return {key: written_out(item) for key, item in cast("dict[str, object]", value).items()}
    return value


def test_twin_answers_every_story(module_page: Page) -> None:
    stories = vectors("register")

    answers = asked(module_page, "runRegister", [story["transaction"] for story in stories.values()])

    for (name, story), answer in zip(stories.items(), answers, strict=True):
        assert differences(story["expect"], answer) == [], name
        assert read(answer) == price(msgspec.convert(story["transaction"], Transaction)), name


def test_twin_answers_made_up_transactions(module_page: Page) -> None:
    transactions = [made_up(seed) for seed in SEEDS]

    answers = asked(module_page, "runRegister", [msgspec.to_builtins(one) for one in transactions])

    for seed, transaction, answer in zip(SEEDS, transactions, answers, strict=True):
        assert read(answer) == price(transaction), f"seed {seed}"


def test_twin_leaves_out_what_stands_at_its_default(module_page: Page) -> None:
    transactions = [made_up(seed) for seed in range(100)]

    answers = asked(module_page, "runRegister", [msgspec.to_builtins(one) for one in transactions])

    assert answers == [json.loads(msgspec.json.encode(price(one))) for one in transactions]


def test_twins_guard_bites(module_page: Page) -> None:
    story = vectors("register")["worked-13-tax-after-store-coupon"]["transaction"]
    (receipt,) = asked(module_page, "runRegister", [story])
    broken = [receipt | {field: 1} for field in receipt if field.endswith("_cents")]

    promises = asked(module_page, "runGuard", story, [receipt, *broken])

    assert promises[0] == ""
    assert all(promises[1:])


def test_twin_knows_the_default_of_every_field(module_page: Page) -> None:
    demo = msgspec.json.decode((ROOT / "demo" / "trip.json").read_bytes(), type=Trip)
    bare: dict[str, Any] = {"id": "t", "title": "", "day": "2026-03-14", "products": [], "prices": []}
    least = msgspec.convert({**bare, "stores": [{"id": "s", "name": "S"}]}, Trip)
    trips = [demo, least]
    stories = [msgspec.convert(story["transaction"], Transaction) for story in vectors("register").values()]

    filled = asked(
        module_page,
        "runFilled",
        [msgspec.to_builtins(trip) for trip in trips],
        [story["transaction"] for story in vectors("register").values()],
    )

    assert filled["trips"] == [written_out(trip) | {"format": "counterfoil-trip-1"} for trip in trips]  # type: ignore[operator]  # a struct is a dict
    assert filled["transactions"] == [written_out(story) for story in stories]


def test_twin_rounds_shows_and_reads_money_alike(module_page: Page) -> None:
    shown = [
        (cents, currency, exponent_of(currency))
        for cents in (0, 5, 237, -15, 123456, 9_999_999_999)
        for currency in ("USD", "EUR", "CHF", "JPY", "KWD", "CLF")
    ]
    texts = ("2.37", "$2.37", " $ 2.37 ", "USD 2.37", "2", ".59", "2.5", "2.500", "2.", "", ".", "-1", "1,99")
    texts += ("1.999", "€2.37", "1e3", "½", "٣", "298", "999999999", "9999999999", "$1000000000.5")
    reads = [(text, currency, exponent_of(currency)) for text in texts for currency in ("USD", "JPY", "KWD")]
    shares = [
        (total, parts, k)
        for total in (0, 1, 2, 100, 101, 9_999_999)
        for parts in (1, 3, 4, 7)
        for k in (1, 2, 3, 5)
    ]
    rounded = list(itertools.product((-16, -15, -3, -1, 0, 1, 2, 5, 1195, 10**14 + 5), (1, 2, 10, 10_000)))
    currencies = ["USD", *EXPONENTS]

    answer = asked(
        module_page,
        "runMoney",
        {"shown": shown, "read": reads, "shares": shares, "rounded": rounded, "currencies": currencies},
    )

    assert answer["shown"] == [show(*one) for one in shown]
    assert answer["read"] == [read_money(*one) for one in reads]
    assert answer["shares"] == [share(*one) for one in shares]
    assert answer["rounded"] == [round_half_up(*one) for one in rounded]
    assert answer["currencies"] == [exponent_of(one) for one in currencies]


def read_money(text: str, currency: str, exponent: int) -> int | str:
    try:
        return parse(text, currency, exponent)
    except NotMoney as refused:
        return refused.mend


def test_twin_measures_alike(module_page: Page) -> None:
    sizes = [
        ("16", "oz"),
        ("2.5", "l"),
        ("500", "g"),
        ("1", "gal"),
        ("450", "sq-ft"),
        ("12", "roll"),
        ("0", "oz"),
    ]
    money = itertools.cycle((("USD", 2), ("CHF", 2), ("JPY", 0), ("KWD", 3)))
    packs = [
        (
            Product(id="p", description="", size=Size(amount=amount, unit=unit), pieces=pieces),
            per,
            cents,
            *next(money),
        )
        for amount, unit in sizes
        for pieces in (1, 8)
        for per in (*UNITS, "furlong")
        for cents in (0, 349, 1249)
    ]

    answers = asked(
        module_page,
        "runMeasure",
        [
            {
                "product": msgspec.to_builtins(p),
                "per": per,
                "cents": c,
                "currency": currency,
                "exponent": exponent,
            }
            for p, per, c, currency, exponent in packs
        ],
    )

    for (product, per, cents, currency, exponent), answer in zip(packs, answers, strict=True):
        measure = measure_in(product, per)
        if measure is None:
            assert answer is None
            continue
        assert answer == {
            "measure": f"{measure.numerator}/{measure.denominator}",
            "worth": worth_cents(product, StockUp(cents="26.1875", per=per)),
            "shown": show_unit_price(unit_price(cents, product, per), per, currency, exponent),
        }


def test_twin_has_exact_fractions(module_page: Page) -> None:
    decimals = ("0", "1", "3.49", "28.349523125", "0.000001", "999999999.999999")
    pairs = [(left, right) for left in decimals for right in decimals if right != "0"]

    answers = asked(module_page, "runFractions", pairs)

    for (left, right), answer in zip(pairs, answers, strict=True):
        one, other = Fraction(left), Fraction(right)
        over = one / other
        tenths = round_half_up(10 * over.numerator, over.denominator)
        order = (one > other) - (one < other)
        floor = over.numerator // over.denominator
        assert answer == [f"{over.numerator}/{over.denominator}", floor, tenths, order]


@pytest.mark.parametrize(
    "rules",
    [
        HouseRules(),
        HouseRules(
            manufacturer_coupons_per_unit=0,
            store_coupons_per_unit=2,
            percent_offers_per_unit=2,
            store_with_manufacturer=False,
            like_coupons_per_transaction=None,
            coupons_no_more_than_items=False,
            slip_counts_as_manufacturer_coupon=True,
            percent_base="left",
            percent_rounding="line",
            multiplying=Multiplying(times=3, up_to_cents=75, per_transaction=2),
            overage="basket",
            basket_coupons_per_transaction=0,
            slips_buy_gift_cards=True,
            transactions_per_visit=1,
        ),
        HouseRules(overage="refuse", multiplying=Multiplying()),
    ],
)
def test_twin_says_the_rules_alike(module_page: Page, rules: HouseRules) -> None:
    answer = asked(module_page, "runRules", [written_out(rules)])

    assert answer["table"] == [[field, rule.plain, rule.default] for field, rule in RULES.items()]
    assert answer["said"] == [[say(field, rules, show) for field in RULES]]
