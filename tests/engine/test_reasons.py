"""Promise kept here: a need that cannot be met is told with what is in the way, and with that alone.

Ostrel and Brindlewick are stores, soap and tea the goods, Saturday 5 December 2026 the day.
"""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Plan, Report, TransactionDone
from counterfoil.engine.planner import plan

Document = dict[str, Any]

OSTREL: Document = {"id": "ostrel", "name": "Ostrel"}
BRINDLEWICK: Document = {"id": "brindlewick", "name": "Brindlewick"}


def tag(store: str, product: str, cents: int, **more: Any) -> Document:
    return {"store": store, "product": product, "cents": cents, **more}


def trip(prices: list[Document], *, needs: dict[str, int], **more: Any) -> Trip:
    """A trip with one want for each product that is needed."""
    document: Document = {
        "id": "saturday",
        "title": "Saturday",
        "day": "2026-12-05",
        "stores": [OSTREL],
        "products": [
            {"id": "soap", "description": "Lathrin hand soap"},
            {"id": "tea", "description": "Perrin tea"},
        ],
        "prices": prices,
        "wants": [{"id": product, "products": [product], "need": need} for product, need in needs.items()],
    }
    return msgspec.convert(document | more, Trip)


def happened(*reports: Document) -> Happened:
    entries = [[f"event-{number}", report] for number, report in enumerate(reports)]
    return Happened(msgspec.convert(entries, tuple[tuple[str, Report], ...]))


def why(answer: Plan) -> dict[str, tuple[int, str]]:
    """Per want what is missing and what is in the way."""
    return {unmet.want: (unmet.missing, unmet.because) for unmet in answer.unmet}


def test_no_store_has_a_price() -> None:
    answer = plan(trip([tag("ostrel", "tea", 300)], needs={"soap": 1, "tea": 1}))

    assert why(answer) == {"soap": (1, "no store of this trip has a price for any product that would do")}


def test_tags_hold_on_other_days() -> None:
    answer = plan(
        trip(
            [
                tag("ostrel", "soap", 300, until="2026-12-04"),
                tag("ostrel", "soap", 250, from_date="2026-12-06", until="2026-12-12"),
            ],
            needs={"soap": 1},
        )
    )

    said = "no price holds on 2026-12-05 (the tags hold 2026-12-06 to 2026-12-12, … to 2026-12-04)"
    assert why(answer) == {"soap": (1, said)}


def test_shelf_is_empty() -> None:
    saturday = trip([tag("ostrel", "soap", 300)], needs={"soap": 2})
    report = {"kind": "shelf_empty", "store": "ostrel", "product": "soap"}

    answer = plan(saturday, happened(report))

    assert why(answer) == {"soap": (2, "the shelf is empty wherever it is sold")}


def test_shelf_is_empty_after_the_first_one_was_taken() -> None:
    saturday = trip([tag("ostrel", "soap", 300)], needs={"soap": 2})
    spot = {"store": "ostrel", "product": "soap"}

    answer = plan(
        saturday, happened({"kind": "in_trolley", "units": 1, **spot}, {"kind": "shelf_empty", **spot})
    )

    assert why(answer) == {"soap": (1, "the shelf is empty wherever it is sold")}
    assert answer.totals.net_cents == 300


@pytest.mark.parametrize(
    ("limit", "left"), [({"per_visit": 2}, 2), ({"per_transaction": 1}, 2), ({"per_visit": 1}, 1)]
)
def test_purchase_limit_of_the_visit_or_of_each_of_two_transactions(limit: Document, left: int) -> None:
    answer = plan(trip([tag("ostrel", "soap", 300, **limit)], needs={"soap": 4}))

    assert why(answer) == {"soap": (4 - left, f"the stores' purchase limits leave {left} of 4 units")}


def test_a_channel_shares_the_limit_of_its_store() -> None:
    pick_up: Document = {"id": "ostrel-pick-up", "name": "Ostrel pick-up", "channel_of": "ostrel"}
    answer = plan(
        trip([tag("ostrel", "soap", 300, per_visit=1)], needs={"soap": 2}, stores=[OSTREL, pick_up])
    )

    assert why(answer) == {"soap": (1, "the stores' purchase limits leave 1 of 2 units")}


def test_a_limit_at_one_store_and_an_empty_shelf_at_the_other() -> None:
    saturday = trip(
        [tag("ostrel", "soap", 300, per_visit=1), tag("brindlewick", "soap", 310)],
        needs={"soap": 2},
        stores=[OSTREL, BRINDLEWICK],
    )

    answer = plan(saturday, happened({"kind": "shelf_empty", "store": "brindlewick", "product": "soap"}))

    said = "the stores' purchase limits leave 1 of 2 units; the shelf is empty at Brindlewick"
    assert why(answer) == {"soap": (1, said)}


def test_two_wants_meet_at_one_limit() -> None:
    """Two soaps are all there is: the bathroom or the kitchen goes without one."""
    answer = plan(
        trip(
            [tag("ostrel", "soap", 300, per_visit=2)],
            needs={},
            wants=[
                {"id": "bath", "name": "Soap for the bath", "products": ["soap"], "need": 2},
                {"id": "kitchen", "name": "Soap for the kitchen", "products": ["soap"], "need": 1},
            ],
        )
    )

    ((want, (missing, because)),) = why(answer).items()
    other = {"bath": "Soap for the kitchen", "kitchen": "Soap for the bath"}[want]
    assert missing == 1
    assert because == f"the stores' purchase limits leave too few for it beside {other}"


def test_more_cash_than_the_ceiling_of_the_trip() -> None:
    """Soap 4.00 and tea 3.00, 5.00 in cash: the tea comes home."""
    answer = plan(
        trip(
            [tag("ostrel", "soap", 400), tag("ostrel", "tea", 300)],
            needs={"soap": 1, "tea": 1},
            wallet={"cash_cents": 500},
        )
    )

    assert why(answer) == {"soap": (1, "it would take more cash than the ceiling of $5.00 on the trip")}


def test_more_cash_than_the_ceiling_of_a_store() -> None:
    answer = plan(
        trip([tag("ostrel", "soap", 400)], needs={"soap": 1}, stores=[OSTREL | {"cash_ceiling_cents": 350}])
    )

    assert why(answer) == {"soap": (1, "it would take more cash than the ceiling of $3.50 at Ostrel")}


def test_a_stores_ceiling_above_the_trips_is_not_blamed() -> None:
    answer = plan(
        trip(
            [tag("ostrel", "soap", 400)],
            needs={"soap": 1},
            stores=[OSTREL | {"cash_ceiling_cents": 2_000}],
            wallet={"cash_cents": 350},
        )
    )

    assert why(answer) == {"soap": (1, "it would take more cash than the ceiling of $3.50 on the trip")}


def test_a_ceiling_that_would_do_is_not_blamed_for_a_limit() -> None:
    """20.00 would pay for five soaps; the tag allows two."""
    answer = plan(
        trip([tag("ostrel", "soap", 400, per_visit=2)], needs={"soap": 3}, wallet={"cash_cents": 2_000})
    )

    assert why(answer) == {"soap": (1, "the stores' purchase limits leave 2 of 3 units")}


def test_no_transaction_is_left() -> None:
    """One transaction a visit, and it is done: the limit on the tag and the cash are not to blame."""
    saturday = trip(
        [tag("ostrel", "soap", 400), tag("ostrel", "tea", 300, per_transaction=1)],
        needs={"soap": 1, "tea": 2},
        stores=[OSTREL | {"rules": {"transactions_per_visit": 1}}],
        wallet={"cash_cents": 5_000},
    )
    home = plan(saturday)
    assert why(home) == {"tea": (1, "the stores' purchase limits leave 1 of 2 units")}
    done = TransactionDone(transaction=home.transactions[0].transaction)

    answer = plan(saturday, happened(msgspec.to_builtins(done)))

    assert why(answer) == {"tea": (1, "no transaction is left at Ostrel")}


@pytest.mark.parametrize("spoilt", [{"until": "2026-12-04"}, {"copies": 0}])
def test_a_coupon_that_lapsed_or_is_not_in_hand_is_never_in_the_way(spoilt: Document) -> None:
    """The need comes home at the tag's price."""
    coupon: Document = {
        "id": "soap-100",
        "description": "$1.00 off soap",
        "issuer": "manufacturer",
        "form": "insert",
        "gives": {"kind": "cents_off", "cents": 100},
        "asks": [{"products": ["soap"]}],
    }
    answer = plan(trip([tag("ostrel", "soap", 300)], needs={"soap": 1}, coupons=[coupon | spoilt]))

    assert why(answer) == {}
    assert answer.totals.net_cents == 300
