"""What else could be done with a trip, to the cent: each scenario is a decision, judged by the whole trip
planned again.

Two stores, oats at 2.00 with a coupon of 0.50 at Alder, at 2.10 at Birch; two needed, a third welcome at
1.50 or less. At home the plan is two at Alder: 2 x 2.00 - 0.50 = 3.50.
"""

from __future__ import annotations

import msgspec
import pytest

from counterfoil.demo_household import demo_household
from counterfoil.engine.alternatives import alternatives
from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    Pinned,
    Product,
    RewardOffer,
    Settings,
    ShelfPrice,
    Store,
    Tier,
    Trip,
)
from counterfoil.engine.papers import Happened
from counterfoil.engine.planner import plan
from counterfoil.home.draft_changes import (
    Allow,
    Ceiling,
    Change,
    Forbid,
    GoTo,
    Pin,
    SetNeed,
    StayAway,
    Transactions,
    Unpin,
    decided,
    say_decision,
)
from counterfoil.home.household import Forbidden, Needed, Staple, TransactionsAt, TripDraft
from counterfoil.home.kinds import Record
from counterfoil.home.outcomes import Outcome, outcome, ranked
from counterfoil.home.scenarios import not_here, scenarios_of_deal, scenarios_of_trip
from counterfoil.home.sent_changes import is_same, papers_changed
from counterfoil.home.trip_building import build_trip
from counterfoil.homes import Snapshot
from tests.home.households import household_of

COUPON = Coupon(
    id="oats-50",
    description="50 cents off one Wickel oats",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=50),
    asks=(Asks(products=("oats",)),),
)
RECORDS: tuple[Record, ...] = (
    Store(id="alder", name="Alder Row Grocers"),
    Store(id="birch", name="Birch Lane Market"),
    Product(id="oats", description="Wickel rolled oats"),
    ShelfPrice(store="alder", product="oats", cents=200),
    ShelfPrice(store="birch", product="oats", cents=210),
    COUPON,
    Staple(id="breakfast", name="Breakfast", products=("oats",), stock_up_cents="150"),
)
DRAFT = TripDraft(id="week", title="This week", day="2026-12-05", stores=("alder",))
WANTED = {"breakfast": (2, 3)}


class Week:
    """A household, a draft, and the plan of its trip."""

    def __init__(self, *more: Record, draft: TripDraft = DRAFT) -> None:
        self.records: Snapshot = household_of((*RECORDS, *more))
        self.draft = draft
        self.trip = self.trip_of(draft)
        self.plan = plan(self.trip)

    def trip_of(self, draft: TripDraft) -> Trip:
        return build_trip(self.records, draft, WANTED).trip

    def outcomes(self) -> dict[str, Outcome]:
        """Every scenario of the trip and of its first deal, by its words."""
        scenarios = [
            *scenarios_of_deal(self.draft, self.trip, self.plan, self.plan.deals[0]),
            *scenarios_of_trip(self.records, self.draft, self.trip, self.plan),
        ]
        return {each.words: self.judged(each.draft) for each in scenarios}

    def judged(self, draft: TripDraft) -> Outcome:
        other = self.trip_of(draft)
        return outcome(self.trip, self.plan, other, plan(other))


def figures(found: Outcome) -> tuple[int, int, int, int]:
    return (
        found.net_change_cents,
        found.pocket_change_cents,
        found.value_change_cents,
        found.missing_change,
    )


# --- the ways with a deal ------------------------------------------------------------------


def test_the_ways_with_a_deal_each_with_what_they_change() -> None:
    found = Week().outcomes()
    assert {words: figures(each) for words, each in found.items()} == {
        # Two needed are missing; they were worth 3.00 and cost 3.50.
        "Not here": (-350, -350, -50, 2),
        "Without the coupon “50 cents off one Wickel oats”": (50, 50, 50, 0),
        # One fewer is one fewer needed: its worth of 1.50 is lost, its 2.00 saved.
        "1 instead of 2 of Breakfast": (-200, -200, -50, 0),
        "3 instead of 2 here": (200, 200, 50, 0),
        "Going to Birch Lane Market too": (0, 0, 0, 0),
    }


def test_a_reward_can_be_done_without() -> None:
    reward = RewardOffer(
        id="points",
        store="alder",
        description="buy 2, get 1.00 in points",
        kind="points",
        tiers=(Tier(threshold=2, cents=100),),
    )
    found = Week(reward).outcomes()["Without the reward “buy 2, get 1.00 in points”"]
    assert figures(found) == (100, 0, 100, 0)


def test_scenarios_agree_with_the_engines_own_alternatives_on_the_demo_trip() -> None:
    demo = demo_household()
    records = household_of(demo.records)
    larder = {want.id: (want.need, max(want.need, want.welcome)) for want in demo.trip.wants}
    trip = build_trip(records, demo.draft, larder).trip
    made = plan(trip, None, prove=False)
    compared = 0
    for deal in made.deals[:6]:
        theirs = {
            each.words: (each.trip_net_change_cents, each.trip_value_change_cents)
            for each in alternatives(trip, Happened(), deal.store, deal.product)
        }
        for scenario in scenarios_of_deal(demo.draft, trip, made, deal):
            if not isinstance(scenario.change, Forbid) or scenario.change.thing.what != "coupon":
                continue
            other = build_trip(records, scenario.draft, larder).trip
            mine = outcome(trip, made, other, plan(other, None, prove=False))
            words = scenario.words.replace("Without the coupon “", "without ").removesuffix("”")
            assert (mine.net_change_cents, mine.value_change_cents) == theirs[words], words
            compared += 1
    assert compared >= 6


# --- the ways with the trip ----------------------------------------------------------------


def test_a_store_less_is_set_against_what_she_says_the_drive_costs() -> None:
    """Tea is only at Birch, 1.00 for what is worth 3.00 to her; each store costs her 0.10 to go to, less
    than the 0.20 by which oats are dearer at Birch."""
    tea: tuple[Record, ...] = (
        Product(id="tea", description="Lowtide black tea"),
        ShelfPrice(store="birch", product="tea", cents=100),
        Staple(id="pot", name="Tea", products=("tea",), stock_up_cents="300"),
    )
    draft = msgspec.structs.replace(
        DRAFT,
        stores=("alder", "birch"),
        needs=(Needed(staple="pot", need=1, welcome=1),),
        settings=Settings(further_store_cents=10),
    )
    found = Week(*tea, draft=draft).outcomes()["Without going to Birch Lane Market"]
    assert (found.net_change_cents, found.drive_change_cents) == (-100, -10)
    assert (found.value_change_cents, found.missing_change) == (-100 + 300 - 10, 1)
    assert [(each.product, each.before, each.after) for each in found.moved] == [("tea", 1, 0)]


def test_fewer_transactions_and_one_more_than_the_house_allows() -> None:
    """A slip of 1.00 for every transaction of one box: two transactions print two."""
    reward = RewardOffer(
        id="slip",
        store="alder",
        description="a box, a slip",
        kind="slip",
        tiers=(Tier(threshold=1, cents=100),),
        rolls=False,
    )
    found = Week(reward).outcomes()
    assert found["In 1 transaction at Alder Row Grocers instead of 2"].net_change_cents == 100
    # The third box costs 2.00, brings 1.00 and is worth 1.50: 0.50 better.
    assert found["In 3 transactions at Alder Row Grocers, if it lets you"].value_change_cents == -50


def test_without_the_cash_ceiling_what_it_kept_away_comes_home() -> None:
    week = Week(draft=msgspec.structs.replace(DRAFT, cash_cents=200))
    found = week.outcomes()["Without the cash ceiling"]
    assert (found.missing_change, found.net_change_cents) == (-1, 200)


# --- ranking -------------------------------------------------------------------------------


def test_deals_are_ranked_by_what_they_add_and_what_nothing_else_meets_comes_first() -> None:
    def without(value: int, missing: int = 0) -> Outcome:
        return Outcome(
            net_cents=0,
            out_of_pocket_cents=0,
            net_change_cents=0,
            pocket_change_cents=0,
            value_change_cents=value,
            drive_change_cents=0,
            missing_change=missing,
            moved=(),
            notes=(),
        )

    assert ranked([(0, without(10)), (1, without(30)), (2, without(-5, missing=1)), (3, without(30))]) == [
        2,
        1,
        3,
        0,
    ]


def test_what_a_deal_adds_is_the_trip_without_it_less_the_trip() -> None:
    """A second store has oats at 2.10: without Alder they cost 4.20 instead of 3.50 (no coupon is
    lost: it is taken anywhere, 3.70)."""
    week = Week(draft=msgspec.structs.replace(DRAFT, stores=("alder", "birch")))
    [deal] = week.plan.deals
    assert week.judged(not_here(week.draft, deal).draft).value_change_cents == 370 - 350


# --- decisions -----------------------------------------------------------------------------


HERE = Forbidden(what="product", id="oats", store="alder")
ANYWHERE = Forbidden(what="product", id="oats")


class _Names:
    def store(self, store: str) -> str:
        return store.title()

    def product(self, product: str) -> str:
        return product.title()

    def staple(self, staple: str) -> str:
        return staple.title()

    def offer(self, what: str, id: str) -> str:
        return f"{what} {id}"

    def money(self, cents: int) -> str:
        return f"${cents / 100:.2f}"


@pytest.mark.parametrize(
    ("change", "field", "value", "words"),
    [
        (
            Pin(store="alder", product="oats", units=2),
            "pinned",
            (Pinned(store="alder", product="oats", units=2),),
            "Pinned: 2 × Oats at Alder",
        ),
        (Forbid(thing=HERE), "forbidden", (HERE,), "Left out: Oats at Alder"),
        (Forbid(thing=ANYWHERE), "forbidden", (ANYWHERE,), "Left out: Oats anywhere"),
        (
            SetNeed(staple="breakfast", need=2, welcome=1),
            "needs",
            (Needed(staple="breakfast", need=2, welcome=2),),
            "Breakfast: 2 needed, 2 welcome",
        ),
        (GoTo(store="birch"), "stores", ("alder", "birch"), "Going to Birch too"),
        (StayAway(store="alder"), "stores", (), "Not going to Alder"),
        (
            Transactions(store="alder", most=1),
            "transactions",
            (TransactionsAt(store="alder", transactions=1),),
            "At most 1 transaction at Alder",
        ),
        (Ceiling(cents=2000), "cash_cents", 2000, "At most $20.00 in cash"),
    ],
)
def test_a_decision_goes_into_the_draft_once_and_says_itself(
    change: Change, field: str, value: object, words: str
) -> None:
    once = decided(DRAFT, change)
    assert getattr(once, field) == value
    assert decided(once, change) == once
    assert say_decision(change, _Names()) == words


def test_decisions_are_taken_back_by_their_opposites() -> None:
    pinned = decided(DRAFT, Pin(store="alder", product="oats", units=2))
    assert decided(pinned, Unpin(store="alder", product="oats")) == DRAFT
    left_out = decided(DRAFT, Forbid(thing=HERE))
    assert decided(left_out, Allow(thing=HERE)) == DRAFT
    limited = decided(DRAFT, Transactions(store="alder", most=1))
    assert decided(limited, Transactions(store="alder", most=None)) == DRAFT


def test_a_pin_and_leaving_the_same_out_do_not_stand_side_by_side() -> None:
    pinned = decided(DRAFT, Pin(store="alder", product="oats", units=2))
    left_out = decided(pinned, Forbid(thing=ANYWHERE))
    assert (left_out.pinned, left_out.forbidden) == ((), (ANYWHERE,))
    again = decided(left_out, Pin(store="alder", product="oats", units=1))
    assert (len(again.pinned), again.forbidden) == (1, ())


# --- what phones carry -----------------------------------------------------------------------


def test_what_is_new_for_the_phones_is_told_and_a_new_version_alone_is_nothing_new() -> None:
    week = Week()
    newer = msgspec.structs.replace(week.trip, version=7)
    assert is_same(week.trip, newer)
    assert papers_changed(newer, week.trip) == ()
    more = msgspec.structs.replace(COUPON, id="oats-75", description="75 cents off")
    changed = Week(
        more, draft=msgspec.structs.replace(DRAFT, needs=(Needed(staple="breakfast", need=1, welcome=1),))
    )
    assert not is_same(changed.trip, week.trip)
    assert papers_changed(week.trip, changed.trip) == (
        "New coupon: 75 cents off",
        "Breakfast: 1 needed, 1 welcome (was: 2 needed, 3 welcome)",
    )
