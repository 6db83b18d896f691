"""Promise kept here: goods that no rule binds to their transaction lie where the registers' tax is least."""

from __future__ import annotations

from counterfoil.engine.apart import bought_in, groups_apart, solve_apart
from counterfoil.engine.history import situation_after
from counterfoil.engine.offers import (
    Asks,
    BasketOff,
    Coupon,
    Product,
    RewardOffer,
    Settings,
    ShelfPrice,
    Store,
    Tax,
    Tier,
    Trip,
    Want,
)
from counterfoil.engine.papers import Happened
from counterfoil.engine.rounding import exchanged
from counterfoil.engine.shelves import shelves_in_parts
from counterfoil.engine.spreading import Spread, by_houses, put_in_place, spread


def trip(
    cents: tuple[int, ...],
    further: int = 0,
    coupons: tuple[Coupon, ...] = (),
    rewards: tuple[RewardOffer, ...] = (),
) -> Trip:
    """One of each good at these tags, taxed at 6.625 % per transaction; two transactions may be made."""
    names = [f"good-{number}" for number in range(len(cents))]
    return Trip(
        id="taxed",
        title="Taxed goods",
        day="2026-12-05",
        stores=(Store(id="brindlewick", name="Brindlewick Foods", tax=Tax(rates={"general": 6625})),),
        products=tuple(Product(id=name, description=name, tax_class="general") for name in names),
        prices=tuple(
            ShelfPrice(store="brindlewick", product=name, cents=each)
            for name, each in zip(names, cents, strict=True)
        ),
        wants=tuple(Want(id=name, products=(name,), need=1) for name in names),
        settings=Settings(further_transaction_cents=further),
        coupons=coupons,
        rewards=rewards,
    )


def placed(made_up: Trip) -> tuple[Spread, list[list[str]]]:
    """The spread's program, and the goods of each transaction after the exchange."""
    situation = situation_after(made_up, Happened())
    wants = list(situation.trip.wants)
    groups = groups_apart(situation, wants)
    shelves = shelves_in_parts(situation, groups)
    solved = [
        (model, answer) for model, answer in solve_apart(situation, shelves, groups) if answer is not None
    ]
    (bought,) = by_houses(situation, bought_in(solved))
    placing = spread(situation, shelves.by_store, wants, bought)
    filled = put_in_place(placing)
    assert filled is not None
    transactions = [
        [way.product for column, count in each.counts for _ in range(count) for way in column.ways]
        for each in exchanged(situation, placing, filled)
    ]
    return placing, [each for each in transactions if each]


def test_two_goods_go_apart_where_that_saves_a_cent_of_tax() -> None:
    """0.97 is taxed 6.43 cents, so 0.06 twice; 1.94 together 12.85, so 0.13."""
    assert placed(trip((97, 97)))[1] == [["good-1"], ["good-0"]]


def test_they_stay_together_where_a_further_transaction_has_its_price() -> None:
    assert placed(trip((97, 97), further=25))[1] == [["good-0", "good-1"]]


def test_they_stay_together_where_nothing_is_saved() -> None:
    """1.00 is taxed 6.63 cents, so 0.07 twice; 2.00 together 13.25, so 0.13."""
    assert placed(trip((100, 100)))[1] == [["good-0", "good-1"]]


def test_what_no_rule_binds_stands_in_the_program_as_one_unit() -> None:
    """The reward counts the first good alone; the other three are one unit."""
    reward = RewardOffer(
        id="slip",
        store="brindlewick",
        description="buy one, get a slip",
        kind="slip",
        tiers=(Tier(threshold=1, cents=100),),
        products=("good-0",),
    )

    placing, transactions = placed(trip((300, 100, 100, 100), rewards=(reward,)))

    assert [len(shelf.columns) for shelf in placing.model.shelves.values()] == [2]
    assert sorted(name for each in transactions for name in each) == [f"good-{number}" for number in range(4)]
    # The slip of the first transaction pays in the second: so the good that earns it comes first.
    assert len(transactions) == 2
    assert transactions[0] == ["good-0"]


def test_a_basket_coupon_looks_at_the_whole_transaction_so_nothing_is_drawn_together() -> None:
    basket = Coupon(
        id="basket",
        description="1.00 off 5.00",
        issuer="store",
        form="printable",
        gives=BasketOff(cents=100, from_cents=500),
        asks=(Asks(products=()),),
    )

    placing, transactions = placed(trip((300, 300), coupons=(basket,)))

    assert placing.rest == {}
    assert sorted(name for each in transactions for name in each) == ["good-0", "good-1"]
