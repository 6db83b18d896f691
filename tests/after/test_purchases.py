"""Promise kept here: what was bought is what went through the register, priced by the register again."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from counterfoil.after.balances import balances
from counterfoil.after.books import open_books
from counterfoil.after.claims import claims_of
from counterfoil.after.facts import price_facts, stock_moves
from counterfoil.after.purchases import Bought, bought
from counterfoil.engine.offers import GiftCard, Slip, Store
from counterfoil.engine.papers import (
    Event,
    Line,
    NotPrinted,
    PayBySlip,
    PriceSeen,
    Report,
    ShelfEmpty,
    TransactionDone,
    Undone,
    Use,
)

from .month import OSTREL, SOAPS, WEEK_44, WEEK_44_EVENTS, belt, events


def week(*reports: Report) -> Bought:
    return bought(WEEK_44, events(WEEK_44, *reports))


def test_each_transaction_has_its_receipt_and_what_was_paid() -> None:
    soaps, tea = bought(WEEK_44, WEEK_44_EVENTS).purchases

    assert (soaps.store, soaps.number, soaps.reckoned_cents, soaps.paid_cents) == ("ostrel", 1, 592, 602)
    assert soaps.unexplained_cents == 10
    assert (tea.reckoned_cents, tea.shown_cents, tea.paid_cents) == (200, None, 200)


def test_a_product_knows_its_tax_and_its_share_of_the_reward() -> None:
    """Two soaps: 5.50 and 0.42 tax, a slip of 1.00 between them: 4.92, 61.5 cents a bar."""
    (deal,) = bought(WEEK_44, WEEK_44_EVENTS).purchases[0].deals

    assert (deal.register_cents, deal.tax_cents, deal.reward_cents, deal.net_cents) == (550, 42, 100, 492)
    assert (deal.unit_price, deal.stock_up, deal.verdict) == ("61.5¢/bar", "70.0¢/bar", "at or under")


def test_a_reward_that_did_not_print_is_not_counted() -> None:
    found = week(TransactionDone(transaction=SOAPS), NotPrinted(done="week-44-01", offer="soap-reward"))

    assert found.purchases[0].earned == ()
    assert found.purchases[0].slips == ()
    assert found.purchases[0].deals[0].net_cents == 592


def test_what_really_came_out_counts_and_not_what_should_have() -> None:
    slip = Slip(id="as-printed", store="ostrel", cents=60, offer="soap-reward")
    (purchase,) = week(TransactionDone(transaction=SOAPS, printed=(slip,))).purchases

    assert [(each.offer, each.cents) for each in purchase.earned] == [("soap-reward", 60)]
    assert purchase.deals[0].reward_cents == 60


def test_a_transaction_that_our_rules_refuse_was_bought_all_the_same() -> None:
    """The same coupon on the same soap twice: the goods are rung up alone, what was shown was paid."""
    twice = msgspec.structs.replace(SOAPS, uses=(Use(coupon="soap-50", units=(0,)),) * 2)
    (purchase,) = week(TransactionDone(transaction=twice, shown_total_cents=542)).purchases

    assert purchase.refused != ""
    assert purchase.reckoned_cents is None
    assert (purchase.receipt.total_cents, purchase.paid_cents) == (642, 542)


def test_a_slip_larger_than_the_total_is_set_aside_and_the_goods_are_rung_up() -> None:
    belt_ = belt(WEEK_44, OSTREL, Line(product="soap", units=1), tenders=(PayBySlip(cents=9_000, id="big"),))
    (purchase,) = week(TransactionDone(transaction=belt_)).purchases

    assert purchase.refused != ""
    assert purchase.paid_cents == 321


def test_a_transaction_of_an_unknown_store_is_told_and_not_counted() -> None:
    elsewhere = Store(id="elsewhere", name="Elsewhere")
    found = week(TransactionDone(transaction=msgspec.structs.replace(SOAPS, store=elsewhere)))

    assert found.purchases == ()
    assert [(each.event, each.because) for each in found.unread] == [
        ("week-44-01", "The trip knows no store elsewhere.")
    ]


def test_a_transaction_without_its_tag_is_told_and_not_counted() -> None:
    found = week(TransactionDone(transaction=msgspec.structs.replace(SOAPS, prices=())))

    assert found.purchases == ()
    assert "this store has no price for it" in found.unread[0].because


def test_a_gift_card_balance_is_left_in_the_wallet() -> None:
    assert bought(WEEK_44, WEEK_44_EVENTS).trip.wallet.gift_cards == (
        GiftCard(id="brindle-card", store="brindlewick", cents=0),
    )


reports = st.sampled_from(
    [
        TransactionDone(transaction=SOAPS),
        TransactionDone(transaction=SOAPS, shown_total_cents=700),
        PriceSeen(store="ostrel", product="soap", cents=280),
        ShelfEmpty(store="brindlewick", product="towels"),
        NotPrinted(done="week-44-01", offer="soap-reward"),
        WEEK_44_EVENTS[1].what,
        WEEK_44_EVENTS[2].what,
    ]
)


@settings(deadline=None)
@given(happened=st.lists(reports, min_size=1, max_size=6), data=st.data())
def test_undoing_a_report_gives_the_same_facts_as_never_having_made_it(
    happened: list[Report], data: st.DataObject
) -> None:
    told = list(events(WEEK_44, *happened))
    target = data.draw(st.sampled_from(told))
    undo = Event(
        id="week-44-99", device="phone", counter=99, at="", trip="week-44", what=Undone(event=target.id)
    )
    undone = open_books([bought(WEEK_44, [*told, undo])])
    never = open_books([bought(WEEK_44, [event for event in told if event is not target])])

    assert undone == never
    for reckoned in (stock_moves, price_facts):
        assert reckoned(undone) == reckoned(never)
    assert claims_of(undone, "2026-11-03") == claims_of(never, "2026-11-03")
    assert balances(undone, "2026-11-03") == balances(never, "2026-11-03")


@settings(deadline=None)
@given(order=st.permutations(WEEK_44_EVENTS))
def test_the_order_in_which_reports_arrive_changes_nothing(order: list[Event]) -> None:
    assert bought(WEEK_44, order) == bought(WEEK_44, WEEK_44_EVENTS)


def test_what_was_bought_is_kept_as_json_and_read_again() -> None:
    found = bought(WEEK_44, WEEK_44_EVENTS)

    assert msgspec.json.decode(msgspec.json.encode(found), type=Bought) == found


@pytest.mark.parametrize("times", [1, 2])
def test_a_report_that_came_twice_counts_once(times: int) -> None:
    assert len(bought(WEEK_44, WEEK_44_EVENTS * times).purchases) == 2
