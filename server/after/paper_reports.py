"""Reports of papers and claims: what is still to come or to be spent, what became of rebates, what lapsed."""

from __future__ import annotations

from ..intake.day_words import day_in_words
from .balances import balances
from .books import Books
from .claims import Claim, claims_of
from .refunds import refunds, store_name
from .tables import Cell, Column, Money, Table, table_of
from .wasted import wasted


def outstanding(books: Books, today: str, money: Money) -> Table:
    """What is still to come or to be spent: slips, cards, rebates, money to ask back."""
    stores = _store_names(books)
    papers = balances(books, today)
    # A paper is of the currency of the trips to its store.
    used = {
        store.id: (each.trip.currency, each.trip.exponent)
        for each in books.trips
        for store in each.trip.stores
    }
    rows: list[tuple[Cell, ...]] = []
    for slip in papers.slips_in_hand():
        if used.get(slip.store, money) == money:
            rows.append(("Slip", stores.get(slip.store, slip.store), slip.cents, slip.until, slip.came_from))
    for card in papers.cards:
        if card.cents and used.get(card.store, money) == money:
            rows.append(
                ("Gift card", stores.get(card.store, card.store), card.cents, None, card.moves[-1].words)
            )
    for claim in claims_in(books, today, money):
        if claim.to_claim:
            cents = claim.to_claim * claim.each_cents
            rows.append(("Rebate to claim", claim.description, cents, claim.until, claim.words))
        if claim.claimed:
            cents = claim.claimed * claim.each_cents
            rows.append(("Rebate claimed", claim.description, cents, None, "Not yet answered"))
    for refund in refunds(books):
        if refund.state in ("worth asking for", "asked") and (refund.currency, refund.exponent) == money:
            rows.append(
                ("Money back", stores.get(refund.store, refund.store), refund.cents, None, refund.words)
            )
    return table_of(
        "outstanding",
        "Still to come or to be spent",
        f"As of {day_in_words(today)}, at face. Points are on the store's own account and not listed.",
        (
            Column("What", "text"),
            Column("From", "text"),
            Column("Amount", "cents", sums=True),
            Column("Until", "date"),
            Column("Note", "text"),
        ),
        rows,
        money,
    )


def rebates(books: Books, today: str, money: Money) -> Table:
    """Every rebate and set bonus that was earned, and what became of it."""
    rows = [
        (
            claim.description,
            claim.day,
            claim.until,
            claim.state,
            claim.times,
            claim.promised_cents,
            claim.paid_cents,
            claim.pending_cents,
            claim.refused * claim.each_cents,
            claim.lapsed_cents,
        )
        for claim in claims_in(books, today, money)
    ]
    names = ("Promised", "Paid", "Pending", "Refused", "Lapsed")
    return table_of(
        "rebates",
        "Rebates and set bonuses",
        f"As of {day_in_words(today)}. Pending: to claim in time, or claimed and not answered.",
        (
            Column("Rebate", "text"),
            Column("Bought", "date"),
            Column("Claim by", "date"),
            Column("State", "text"),
            Column("Times", "units"),
            *(Column(name, "cents", sums=True) for name in names),
        ),
        rows,
        money,
    )


def waste(books: Books, today: str, money: Money) -> Table:
    """What lapsed unused. Amounts where a paper's face says one."""
    rows = [(each.kind, each.words, each.day, each.count, each.cents) for each in wasted(books, today)]
    return table_of(
        "waste",
        "Lapsed unused",
        "Coupons that expired in hand, slips and rain checks that lapsed or were lost, rebates not claimed in"
        " time. A coupon counts at its face times the copies left; without a face in cents it has no amount.",
        (
            Column("What", "text"),
            Column("Which", "text"),
            Column("Lapsed on", "date"),
            Column("Count", "units", sums=True),
            Column("Face", "cents", sums=True),
        ),
        rows,
        money,
    )


def claims_in(books: Books, today: str, money: Money) -> list[Claim]:
    """The claims in one currency."""
    return [claim for claim in claims_of(books, today).claims if (claim.currency, claim.exponent) == money]


def _store_names(books: Books) -> dict[str, str]:
    return {store.id: store_name(each.trip, store.id) for each in books.trips for store in each.trip.stores}
