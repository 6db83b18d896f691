"""Promise kept here: no other order of the registers, and no other choice of slips, puts down less cash.

Every order of small lists of transactions, with every set of the slips that are in hand at that
moment, is rung up by the register itself (``register.price``), which says what is due, what is
refused and what prints. Of all that it takes, the most worth of rewards is kept, then least cash,
then least peak of cash, then fewest slips left. The search of ``checkout.py`` must end at the same
figures. Nothing of it is used here but its answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, permutations
from typing import Any, NamedTuple

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.engine.checkout import choose_orders, orders, settle
from counterfoil.engine.history import situation_after
from counterfoil.engine.offers import Trip
from counterfoil.engine.papers import (
    Happened,
    PayByCash,
    PayByGiftCard,
    PayBySlip,
    Receipt,
    Tender,
    Transaction,
)
from counterfoil.engine.register import price

Document = dict[str, Any]


class Figures(NamedTuple):
    """What an order comes to, best first: worth of rewards (below zero), cash, peak, slips left."""

    lost_worth: int
    cash: int
    peak: int
    left: int


def trip_of(rewards: list[Document], **more: Any) -> Trip:
    """One store, Ostrel; goods a, b, c at 2.19, 5.00 and 0.40."""
    return msgspec.convert(
        {
            "id": "queue",
            "title": "Queue",
            "day": "2026-12-05",
            "stores": [{"id": "ostrel", "name": "Ostrel", "rules": {"transactions_per_visit": 4}}],
            "products": [{"id": name, "description": f"Ware {name}"} for name in "abc"],
            "prices": [
                {"store": "ostrel", "product": name, "cents": cents}
                for name, cents in (("a", 219), ("b", 500), ("c", 40))
            ],
            "rewards": rewards,
            "coupons": [
                {
                    "id": "maker",
                    "description": "$0.30 off",
                    "issuer": "manufacturer",
                    "form": "insert",
                    "copies": 9,
                    "gives": {"kind": "cents_off", "cents": 30},
                    "asks": [{}],
                }
            ],
        }
        | more,
        Trip,
    )


def slip_offer(name: str, product: str, cents: int, **more: Any) -> Document:
    """ "Buy 1 of a product, get a slip", once in a transaction."""
    return {
        "id": name,
        "store": "ostrel",
        "description": f"Buy a {product}, get a slip",
        "kind": "slip",
        "tiers": [{"threshold": 1, "cents": cents}],
        "products": [product],
    } | more


def belts(trip: Trip, *goods: str, coupons: bool = False) -> list[Transaction]:
    """One transaction for each text of goods: "aab" is two a and one b. ``coupons``: the first unit
    of each with a manufacturer coupon."""
    return [
        msgspec.convert(
            {
                "store": msgspec.to_builtins(trip.stores[0]),
                "day": trip.day,
                "products": msgspec.to_builtins(trip.products),
                "prices": msgspec.to_builtins(trip.prices),
                "rewards": msgspec.to_builtins(trip.rewards),
                "coupons": msgspec.to_builtins(trip.coupons),
                "uses": [{"coupon": "maker", "units": [0]}] if coupons else [],
                "lines": [{"product": name, "units": text.count(name)} for name in sorted(set(text))],
            },
            Transaction,
        )
        for text in goods
    ]


# --- by hand: every order, every set of slips, rung up --------------------------------


class InHand(NamedTuple):
    cents: int
    offer: str | None


def best_of_all(trip: Trip, transactions: Sequence[Transaction]) -> Figures:
    """The best figures of any order that the register takes."""
    hand = [InHand(slip.cents, slip.offer) for slip in trip.wallet.slips]
    balance = sum(card.cents for card in trip.wallet.gift_cards)
    ways = (
        way
        for order in permutations(transactions)
        for way in _rung_up(trip, list(order), hand, balance, {}, Figures(0, 0, 0, 0))
    )
    return min(ways)


def _rung_up(
    trip: Trip,
    to_come: list[Transaction],
    hand: list[InHand],
    balance: int,
    earned: dict[str, int],
    so_far: Figures,
) -> Iterator[Figures]:
    if not to_come:
        yield so_far._replace(left=len(hand))
        return
    for count in range(len(hand) + 1):
        for chosen in combinations(range(len(hand)), count):
            slips: list[Tender] = [
                PayBySlip(cents=hand[place].cents, offer=hand[place].offer, id=f"slip-{place}")
                for place in chosen
            ]
            receipt = price(
                msgspec.structs.replace(
                    to_come[0],
                    earned_before=earned,
                    tenders=(*slips, PayByGiftCard(cents=balance), PayByCash()),
                )
            )
            if not isinstance(receipt, Receipt):
                continue
            cash = receipt.out_of_pocket_cents
            drawn = sum(line.cents for line in receipt.tenders if line.kind == "gift_card")
            loaded = sum(each.cents for each in receipt.earned if each.kind == "gift_card")
            kept = [slip for place, slip in enumerate(hand) if place not in chosen]
            times = dict(earned)
            for each in receipt.earned:
                times[each.offer] = times.get(each.offer, 0) + each.times
                if each.kind == "slip":
                    kept += [InHand(each.each_cents, each.offer)] * each.times
            yield from _rung_up(
                trip,
                to_come[1:],
                kept,
                balance - drawn + loaded,
                times,
                so_far._replace(
                    lost_worth=so_far.lost_worth - sum(each.cents for each in receipt.earned),
                    cash=so_far.cash + cash,
                    peak=max(so_far.peak, cash),
                ),
            )


def chosen_by_the_engine(trip: Trip, transactions: list[Transaction]) -> Figures:
    """The figures of the engine's order, from the receipts that it settles on."""
    situation = situation_after(trip, Happened())
    found = orders(situation, "ostrel", transactions)
    order = choose_orders(situation, {"ostrel": found}, {"ostrel": transactions})["ostrel"]
    paid = settle(situation, "ostrel", transactions, order)
    cash = [each.receipt.out_of_pocket_cents for each in paid]
    slips = len(trip.wallet.slips)
    slips += sum(each.times for stop in paid for each in stop.receipt.earned if each.kind == "slip")
    spent = sum(isinstance(tender, PayBySlip) for stop in paid for tender in stop.transaction.tenders)
    worth = sum(each.cents for stop in paid for each in stop.receipt.earned)
    assert (order.cash, order.peak, order.left) == (sum(cash), max(cash), slips - spent)
    assert order.gain == worth
    return Figures(-worth, sum(cash), max(cash), slips - spent)


# --- worked cases ---------------------------------------------------------------------


def test_a_rolling_slip_pays_the_next_and_one_is_left() -> None:
    """2.19 three times, each printing a slip of 2.19: 2.19 in cash, then the slip before, twice."""
    trip = trip_of([slip_offer("back", "a", 219)])

    found = chosen_by_the_engine(trip, belts(trip, "a", "a", "a"))

    assert found == Figures(-657, 219, 219, 1)
    assert found == best_of_all(trip, belts(trip, "a", "a", "a"))


def test_a_slip_that_does_not_roll_stays_in_the_purse() -> None:
    """Its own slip would stop the next one from printing, so all three are paid in cash."""
    trip = trip_of([slip_offer("back", "a", 219, rolls=False)])

    found = chosen_by_the_engine(trip, belts(trip, "a", "a", "a"))

    assert found == Figures(-657, 657, 219, 3)
    assert found == best_of_all(trip, belts(trip, "a", "a", "a"))


def test_a_slip_that_does_not_roll_pays_for_something_else_afterwards() -> None:
    """a prints 2.00, which pays part of b: a first, whatever the order of the list."""
    trip = trip_of([slip_offer("back", "a", 200, rolls=False)])
    transactions = belts(trip, "b", "a")

    found = chosen_by_the_engine(trip, transactions)

    assert found == Figures(-200, 219 + 300, 300, 0)
    assert found == best_of_all(trip, transactions)


def test_where_cash_is_equal_the_smaller_peak_goes() -> None:
    """A slip of 0.40 is in hand: off the 5.00 the most at once is 4.60, elsewhere it stays at 5.00."""
    trip = trip_of([], wallet={"slips": [{"id": "s", "store": "ostrel", "cents": 40}]})
    transactions = belts(trip, "c", "b", "a")

    found = chosen_by_the_engine(trip, transactions)

    assert found == Figures(0, 719, 460, 0)
    assert found == best_of_all(trip, transactions)


def test_a_slip_larger_than_what_is_due_waits() -> None:
    trip = trip_of([], wallet={"slips": [{"id": "s", "store": "ostrel", "cents": 220}]})

    assert chosen_by_the_engine(trip, belts(trip, "a", "c")) == Figures(0, 259, 219, 1)
    assert best_of_all(trip, belts(trip, "a", "c")) == Figures(0, 259, 219, 1)


def test_a_slip_that_counts_as_a_coupon_finds_no_room_beside_one() -> None:
    """One item, one coupon: no slip there. Two items, one coupon: one slip."""
    rules = {"transactions_per_visit": 4, "slip_counts_as_manufacturer_coupon": True}
    store: Document = {"id": "ostrel", "name": "Ostrel", "rules": rules}
    slips = [{"id": f"s{number}", "store": "ostrel", "cents": 30} for number in range(2)]
    trip = trip_of([], stores=[store], wallet={"slips": slips})

    for goods, cash, left in (("a", 189, 2), ("ac", 199, 1), ("aac", 388, 0)):
        transactions = belts(trip, goods, coupons=True)
        found = chosen_by_the_engine(trip, transactions)
        assert (found.cash, found.left) == (cash, left)
        assert found == best_of_all(trip, transactions)


def test_a_household_limit_stops_the_slips_after_the_first() -> None:
    trip = trip_of([slip_offer("back", "a", 100, per_household=1)])

    found = chosen_by_the_engine(trip, belts(trip, "a", "a", "a"))

    assert found == Figures(-100, 657 - 100, 219, 0)
    assert found == best_of_all(trip, belts(trip, "a", "a", "a"))


def test_a_gift_card_loaded_in_one_transaction_pays_the_next() -> None:
    """b loads 3.00, so b goes first: 5.00 in cash, and a is paid from the card."""
    trip = trip_of([slip_offer("load", "b", 300, kind="gift_card")])

    found = chosen_by_the_engine(trip, belts(trip, "a", "b"))

    assert found == Figures(-300, 500, 500, 0)
    assert found == best_of_all(trip, belts(trip, "a", "b"))


def test_a_cash_ceiling_gives_a_reward_up() -> None:
    """4.00 in cash for 2.19 twice: its own slip must pay, though it then prints no second one."""
    trip = trip_of([slip_offer("back", "a", 219, rolls=False)], wallet={"cash_cents": 400})

    assert chosen_by_the_engine(trip, belts(trip, "a", "a")) == Figures(-219, 219, 219, 0)


# --- all of it together ---------------------------------------------------------------

REWARDS = st.fixed_dictionaries(
    {
        "product": st.sampled_from("abc"),
        "cents": st.sampled_from([40, 100, 219, 300]),
        "kind": st.sampled_from(["slip", "slip", "slip", "gift_card", "points"]),
        "rolls": st.booleans(),
        "per_transaction": st.sampled_from([1, 2, None]),
        "per_household": st.sampled_from([None, None, 1, 2]),
    }
)
WALLETS = st.fixed_dictionaries(
    {
        "slips": st.lists(
            st.fixed_dictionaries(
                {"cents": st.sampled_from([40, 100, 500]), "offer": st.sampled_from([None, "reward-0"])}
            ),
            max_size=2,
        ),
        "card": st.sampled_from([0, 0, 150]),
    }
)


@settings(max_examples=120, derandomize=True, deadline=None, database=None)
@given(
    rewards=st.lists(REWARDS, max_size=2),
    wallet=WALLETS,
    goods=st.lists(st.sampled_from(["a", "b", "c", "aa", "ab", "bc", "aac"]), min_size=1, max_size=3),
    counts=st.booleans(),
    coupons=st.booleans(),
)
def test_no_order_and_no_choice_of_slips_is_better(
    rewards: list[Document], wallet: Document, goods: list[str], counts: bool, coupons: bool
) -> None:
    offers = [
        slip_offer(f"reward-{number}", each["product"], each["cents"])
        | {name: each[name] for name in ("kind", "rolls", "per_transaction", "per_household")}
        for number, each in enumerate(rewards)
    ]
    rules = {"transactions_per_visit": 4, "slip_counts_as_manufacturer_coupon": counts}
    slips = [
        {"id": f"in-hand-{number}", "store": "ostrel", **slip} for number, slip in enumerate(wallet["slips"])
    ]
    trip = trip_of(
        offers,
        stores=[{"id": "ostrel", "name": "Ostrel", "rules": rules}],
        wallet={
            "slips": slips,
            "gift_cards": [{"id": "card", "store": "ostrel", "cents": wallet["card"]}],
        },
    )
    transactions = belts(trip, *goods, coupons=coupons)

    assert chosen_by_the_engine(trip, transactions) == best_of_all(trip, transactions)


@pytest.mark.parametrize("ceiling", [219, 300, 700])
def test_within_a_ceiling_the_most_worth_that_cash_allows(ceiling: int) -> None:
    """Against every order: of those within the ceiling the one that earns most, then least cash."""
    trip = trip_of(
        [slip_offer("back", "a", 219, rolls=False), slip_offer("other", "c", 40)],
        wallet={"cash_cents": ceiling},
    )
    transactions = belts(trip, "a", "ac", "c")
    open_trip = msgspec.structs.replace(trip, wallet=msgspec.structs.replace(trip.wallet, cash_cents=None))
    ways = [
        way
        for order in permutations(transactions)
        for way in _rung_up(open_trip, list(order), [], 0, {}, Figures(0, 0, 0, 0))
    ]
    within = [way for way in ways if way.cash <= ceiling]

    found = chosen_by_the_engine(trip, transactions)

    assert found == min(within) if within else found.cash == min(way.cash for way in ways)
