"""Promise kept here: at an empty shelf every way out is named, best first, with its change to the cent.

Soap is needed twice. The lavender scent stands at Ostrel for 2.00, the pine scent there for 2.50, the
lavender at Brindlewick for 2.20. A coupon gives 0.60 off one pine soap. The plan buys lavender and, for
1.90, pine; where the coupon is left out, two lavender for 4.00.
"""

from __future__ import annotations

from typing import Any

import msgspec

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Report
from counterfoil.engine.planner import home_units, plan
from counterfoil.engine.replan import and_then, break_even, swaps

Document = dict[str, Any]

SOAP: Document = {
    "id": "soap",
    "title": "Soap",
    "day": "2026-12-05",
    "stores": [{"id": "ostrel", "name": "Ostrel"}, {"id": "brindlewick", "name": "Brindlewick"}],
    "products": [
        {"id": "lavender", "description": "Lathrin lavender"},
        {"id": "pine", "description": "Lathrin pine"},
    ],
    "prices": [
        {"store": "ostrel", "product": "lavender", "cents": 200},
        {"store": "ostrel", "product": "pine", "cents": 250},
        {"store": "brindlewick", "product": "lavender", "cents": 220},
    ],
    "wants": [{"id": "soap", "products": ["lavender", "pine"], "need": 2}],
}
PINE_COUPON: Document = {
    "id": "pine-60",
    "description": "$0.60 off pine",
    "issuer": "manufacturer",
    "form": "printable",
    "gives": {"kind": "cents_off", "cents": 60},
    "asks": [{"products": ["pine"]}],
}


def soap(**more: Any) -> Trip:
    return msgspec.convert(SOAP | more, Trip)


def ranked(trip: Trip, happened: Happened | None = None) -> list[tuple[str, int, int]]:
    """What can be done about the empty lavender shelf at Ostrel: words, change of net and of value."""
    found = swaps(trip, happened or Happened(), "ostrel", "lavender")
    return [(each.words, each.net_change_cents, each.value_change_cents) for each in found]


def reports(*documents: Document) -> Happened:
    entries = [[f"event-{number}", document] for number, document in enumerate(documents)]
    return Happened(msgspec.convert(entries, tuple[tuple[str, Report], ...]))


def test_both_are_short_leaving_is_least_then_the_other_store_then_the_other_scent() -> None:
    """Two lavender for 4.00 are short: nothing, 2 x 2.20 = 4.40 or 2 x 2.50 = 5.00."""
    assert ranked(soap()) == [
        ("Leave it: the trip costs $4.00 less", -400, -400),
        ("2 x Lathrin lavender at Brindlewick: the trip costs $0.40 more", 40, 40),
        ("2 x Lathrin pine: the trip costs $1.00 more", 100, 100),
    ]


def test_worth_of_what_is_bought_counts_against_leaving_it() -> None:
    """A soap is worth 3.00: leaving two for 4.00 loses 6.00 of worth."""
    wants = [SOAP["wants"][0] | {"stock_up": {"cents": "300", "per": "piece"}}]

    assert ranked(soap(wants=wants)) == [
        ("2 x Lathrin lavender at Brindlewick: the trip costs $0.40 more", 40, 40),
        ("2 x Lathrin pine: the trip costs $1.00 more", 100, 100),
        ("Leave it: the trip costs $4.00 less", -400, 200),
    ]


def test_a_swap_comes_on_top_of_what_is_planned_of_it_anyway() -> None:
    """Lavender 2.00 and pine 2.50 - 0.60 are 3.90. The lavender is short: Brindlewick's is 2.20, and
    another pine, besides the one that is planned, 2.50."""
    assert ranked(soap(coupons=[PINE_COUPON])) == [
        ("Leave it: the trip costs $2.00 less", -200, -200),
        ("1 x Lathrin lavender at Brindlewick: the trip costs $0.20 more", 20, 20),
        ("1 x Lathrin pine: the trip costs $0.50 more", 50, 50),
    ]


def test_what_lies_in_the_trolley_is_not_short() -> None:
    held = reports({"kind": "in_trolley", "store": "ostrel", "product": "lavender", "units": 1})

    assert ranked(soap(), held) == [
        ("Leave it: the trip costs $2.00 less", -200, -200),
        ("1 x Lathrin lavender at Brindlewick: the trip costs $0.20 more", 20, 20),
        ("1 x Lathrin pine: the trip costs $0.50 more", 50, 50),
    ]


def test_a_shelf_that_is_empty_too_is_not_named() -> None:
    empty = reports({"kind": "shelf_empty", "store": "brindlewick", "product": "lavender"})

    assert [words for words, _, _ in ranked(soap(), empty)] == [
        "Leave it: the trip costs $4.00 less",
        "2 x Lathrin pine: the trip costs $1.00 more",
    ]


def test_what_the_cash_ceiling_forbids_is_not_named() -> None:
    """4.50 in cash: two at Brindlewick for 4.40 will do, two pine for 5.00 will not."""
    assert [words for words, _, _ in ranked(soap(wallet={"cash_cents": 450}))] == [
        "Leave it: the trip costs $4.00 less",
        "2 x Lathrin lavender at Brindlewick: the trip costs $0.40 more",
    ]


def test_a_swap_that_she_picks_gives_the_change_that_was_promised() -> None:
    trip = soap(coupons=[PINE_COUPON])
    before = plan(trip)

    for swap in swaps(trip, Happened(), "ostrel", "lavender"):
        after = plan(trip, and_then(Happened(), *swap.reports))
        assert after.totals.net_cents - before.totals.net_cents == swap.net_change_cents
        if swap.store is not None and swap.product is not None:
            assert home_units(after)[(swap.store, swap.product)] >= swap.units


def test_break_even_is_exact_at_its_edge() -> None:
    """Two lavender at p or two at Brindlewick for 2.20 each: equal at 2.20, where the plan in hand stays
    as it is; at 2.21 they are bought there."""
    trip = soap(products=SOAP["products"][:1], prices=[SOAP["prices"][0], SOAP["prices"][2]])
    trip = msgspec.structs.replace(
        trip, wants=(msgspec.structs.replace(trip.wants[0], products=("lavender",)),)
    )

    edge = break_even(trip, Happened(), "ostrel", "lavender")

    def bought_at(cents: int) -> int:
        seen = {"kind": "price_seen", "store": "ostrel", "product": "lavender", "cents": cents}
        return home_units(plan(trip, reports(seen))).get(("ostrel", "lavender"), 0)

    assert edge == 220
    assert bought_at(edge) == 2
    assert bought_at(edge + 1) == 0
