"""Promise kept here: what is set beside the plan is the whole trip planned again, to the cent.

The trip, worked by hand. Rolls, 12 to the pack, stand at Ostrel for 6.00 (5.00 to 7.00 by region); 6 to
the pack at Brindlewick for 3.50. One pack is needed, two are welcome, a roll is worth 0.40, so a pack of 12
is worth 4.80 and a pack of 6 is worth 2.40. Two inserts give 1.00 off the large pack; "buy 1, get 0.50"
prints once in a transaction. Two large packs in two transactions cost 12.00 - 2.00 - 1.00 = 9.00 net,
worth 9.60: better by 0.60 than nothing at all.
"""

from __future__ import annotations

from typing import Any

import msgspec

from counterfoil.engine.alternatives import alternatives, in_words, price_table
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import Happened, Report, TransactionDone
from counterfoil.engine.planner import plan
from counterfoil.engine.replan import break_even

Document = dict[str, Any]

ROLLS: Document = {
    "id": "rolls",
    "title": "Rolls",
    "day": "2026-12-05",
    "stores": [{"id": "ostrel", "name": "Ostrel"}, {"id": "brindlewick", "name": "Brindlewick"}],
    "products": [
        {"id": "rolls-12", "description": "Wendle rolls, 12", "size": {"amount": "12", "unit": "roll"}},
        {"id": "rolls-6", "description": "Wendle rolls, 6", "size": {"amount": "6", "unit": "roll"}},
    ],
    "prices": [
        {"store": "ostrel", "product": "rolls-12", "cents": 600, "low_cents": 500, "high_cents": 700},
        {"store": "brindlewick", "product": "rolls-6", "cents": 350},
    ],
    "wants": [
        {
            "id": "rolls",
            "products": ["rolls-12", "rolls-6"],
            "need": 1,
            "welcome": 2,
            "stock_up": {"cents": "40", "per": "roll"},
        }
    ],
    "coupons": [
        {
            "id": "insert",
            "description": "the insert",
            "issuer": "manufacturer",
            "form": "insert",
            "copies": 2,
            "gives": {"kind": "cents_off", "cents": 100},
            "asks": [{"products": ["rolls-12"]}],
        }
    ],
    "rewards": [
        {
            "id": "back",
            "store": "ostrel",
            "description": "the reward",
            "kind": "slip",
            "tiers": [{"threshold": 1, "cents": 50}],
            "products": ["rolls-12"],
        }
    ],
}


def rolls(**more: Any) -> Trip:
    return msgspec.convert(ROLLS | more, Trip)


def figures(trip: Trip, happened: Happened | None = None) -> dict[str, tuple[int, int, int, int]]:
    """Per alternative: units, net cents, change of the trip's net, change of its value."""
    found = alternatives(trip, happened or Happened(), "ostrel", "rolls-12")
    return {
        each.words: (
            each.units,
            each.net_cents,
            each.trip_net_change_cents,
            each.trip_value_change_cents,
        )
        for each in found
    }


def test_plan_and_what_could_be_done_instead_side_by_side() -> None:
    found = figures(rolls())

    assert found == {
        "as planned": (2, 900, 0, 0),
        # 6.00 - 0.50: one, because at 5.50 the second is not worth its 4.80.
        "without the insert": (1, 550, -350, 130),
        # 6.00 - 1.00 - 0.50.
        "1 instead of 2": (1, 450, -450, 30),
        # A third at its tag: 18.00 - 2.00 - 1.00; no transaction is left for a third reward.
        "one more": (3, 1500, 600, 120),
        # 6.00 - 1.00: the second would cost 5.00 and is worth 4.80.
        "without the reward": (1, 500, -400, 80),
        # The reward prints once, so the second would cost 5.00.
        "in one transaction": (1, 450, -450, 30),
    }


def test_an_alternative_in_a_line() -> None:
    trip = rolls()
    lines = [in_words(trip, each) for each in alternatives(trip, Happened(), "ostrel", "rolls-12")]

    assert lines[0] == "as planned: 2 for $9.00, 37.5¢/roll; the trip costs the same"
    assert lines[1] == "without the insert: 1 for $5.50, 45.8¢/roll; the trip costs $3.50 less"
    assert lines[3] == "one more: 3 for $15.00, 41.7¢/roll; the trip costs $6.00 more"


def test_without_the_second_store_the_other_pack_is_left() -> None:
    """Tea at Brindlewick for 3.00 is needed too; without Ostrel a small pack for 3.50 must do."""
    tea = {"id": "tea", "description": "Perrin tea"}
    trip = rolls(
        products=[*ROLLS["products"], tea],
        prices=[*ROLLS["prices"], {"store": "brindlewick", "product": "tea", "cents": 300}],
        wants=[*ROLLS["wants"], {"id": "tea", "products": ["tea"], "need": 1}],
    )

    found = figures(trip)

    # 3.50 less 2.40 is 1.10 for nothing, against 0.60 to the good.
    assert found["without going to Ostrel"] == (0, 0, 350 - 900, 110 + 60)


def test_nothing_is_set_beside_what_is_not_bought() -> None:
    assert alternatives(rolls(), Happened(), "brindlewick", "rolls-6") == []


def test_one_more_is_left_out_where_the_tag_forbids_it() -> None:
    prices = [ROLLS["prices"][0] | {"per_visit": 2}, ROLLS["prices"][1]]

    assert "one more" not in figures(rolls(prices=prices))


def test_after_a_transaction_the_rest_of_the_trip_is_set_side_by_side() -> None:
    """Three large packs are needed, in three transactions. One is bought and its slip of 0.50 is real;
    two are to come, each printing another slip."""
    stores = [ROLLS["stores"][0] | {"rules": {"transactions_per_visit": 3}}, ROLLS["stores"][1]]
    wants = [ROLLS["wants"][0] | {"need": 3, "welcome": 3}]
    trip = rolls(stores=stores, wants=wants, prices=ROLLS["prices"][:1])
    first = plan(trip).transactions[0].transaction
    assert [line.units for line in first.lines] == [1]
    done: Report = TransactionDone(transaction=first)

    found = figures(trip, Happened((("done", done),)))

    coupons_left = 2 - len(first.uses)
    assert found["as planned"] == (2, 1200 - 100 * coupons_left - 100, 0, 0)
    # Both together: one reward instead of two. What the first transaction printed stays.
    assert found["in one transaction"][2:] == (50, 50)
    assert found["without the reward"][2:] == (100, 100)
    assert found["1 instead of 2"][0] == 1


def test_price_table_over_the_range_with_its_break_even_row() -> None:
    """Two are right while the second costs no more than 4.80: tag - 1.00 - 0.50, so up to 6.30."""
    rows = price_table(rolls(), Happened(), "ostrel", "rolls-12")

    assert [(row.tag_cents, row.units, row.net_cents) for row in rows] == [
        (500, 2, 700),
        (525, 2, 750),
        (550, 2, 800),
        (575, 2, 850),
        (600, 2, 900),
        (625, 2, 950),
        (630, 2, 960),
        (650, 1, 500),
        (675, 1, 525),
        (700, 1, 550),
    ]
    assert [row.tag_cents for row in rows if row.is_break_even] == [630]
    assert [row.verdict for row in rows] == ["at or under"] * 7 + ["over"] * 3
    assert rows[6].unit_price == "40.0¢/roll"
    assert rows[7].unit_price == "41.7¢/roll"


def test_at_the_break_even_it_is_bought_and_one_cent_above_it_is_not() -> None:
    def bought_at(cents: int) -> int:
        prices = [ROLLS["prices"][0] | {"cents": cents}, ROLLS["prices"][1]]
        return sum(deal.units for deal in plan(rolls(prices=prices)).deals if deal.store == "ostrel")

    assert break_even(rolls(), Happened(), "ostrel", "rolls-12") == 630
    assert (bought_at(630), bought_at(631)) == (2, 1)


def test_break_even_of_what_is_not_bought_is_where_it_would_begin() -> None:
    """Two small packs at p cost 2p and are worth 4.80; the large ones leave 0.60: 2p - 4.80 = -0.60."""

    def bought_at(cents: int) -> int:
        prices = [ROLLS["prices"][0], ROLLS["prices"][1] | {"cents": cents}]
        return sum(deal.units for deal in plan(rolls(prices=prices)).deals if deal.store == "brindlewick")

    assert break_even(rolls(), Happened(), "brindlewick", "rolls-6") == 210
    assert bought_at(210) > 0
    assert bought_at(211) == 0


def test_a_tag_without_a_range_gives_itself_and_the_break_even() -> None:
    rows = price_table(rolls(), Happened(), "brindlewick", "rolls-6")

    assert [(row.tag_cents, row.is_break_even, row.verdict) for row in rows] == [
        (210, True, "at or under"),
        (350, False, "not bought"),
    ]


def test_a_drive_that_another_want_pays_for_anyway_does_not_lower_the_break_even() -> None:
    """Tea is needed and is sold at Brindlewick alone, so its drive of 3.00 is spent whatever the soap
    does. Soap at Ostrel costs 4.00 and that drive 3.00: at Brindlewick it is right up to 7.00."""
    trip = msgspec.convert(
        {
            "id": "drive",
            "title": "Drive",
            "day": "2026-12-05",
            "stores": ROLLS["stores"],
            "products": [
                {"id": "soap", "description": "Lathrin hand soap"},
                {"id": "tea", "description": "Perrin tea"},
            ],
            "prices": [
                {"store": "ostrel", "product": "soap", "cents": 400},
                {"store": "brindlewick", "product": "soap", "cents": 450},
                {"store": "brindlewick", "product": "tea", "cents": 300},
            ],
            "wants": [
                {"id": "soap", "products": ["soap"], "need": 1},
                {"id": "tea", "products": ["tea"], "need": 1},
            ],
            "settings": {"further_store_cents": 300},
        },
        Trip,
    )

    # At 7.00 the two are equal in value, and less cash is put down at Ostrel.
    assert break_even(trip, Happened(), "brindlewick", "soap") == 699
