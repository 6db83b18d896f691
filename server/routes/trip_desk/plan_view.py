"""A plan in the making as rows for the template: deals in order, cards of scenarios, decisions, every cent
as the engine gave it."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ...engine.measure import worth_cents
from ...engine.offers import Trip
from ...engine.papers import Deal, Plan
from ...home.draft_changes import Allow, Ceiling, Change, Transactions, Unpin, say_decision, say_forbidden
from ...home.household import TripDraft
from ...home.outcomes import Moved, Outcome, ranked
from ...home.scenarios import Scenario, not_here
from ...plans import Comparison
from ..names import Names
from .at_hand import Called

MOST_MOVED = 6  # lines of what is bought otherwise; the others are counted
encode_change = msgspec.json.Encoder().encode


class DealRow(msgspec.Struct, frozen=True, kw_only=True):
    """A deal with its stacks in words. ``own_cents``: worth at her stock-up price less net cost (None: she
    has none); ``key``: of the comparison without it; ``adds``: its outcome, None while it is worked out."""

    deal: Deal
    name: str
    store: str
    stacks: tuple[str, ...]
    own_cents: int | None
    key: str
    adds: Outcome | None
    failed: bool


class Card(msgspec.Struct, frozen=True, kw_only=True):
    """A scenario beside the plan; ``outcome`` None while it is worked out. ``change``: what taking it
    sends."""

    key: str
    words: str
    change: str
    outcome: Outcome | None
    moved: tuple[str, ...]
    failed: bool
    about_drive: bool


class Decision(msgspec.Struct, frozen=True, kw_only=True):
    """Something that she decided, in words, and what takes it back."""

    words: str
    back: str


def deal_rows(
    draft: TripDraft, trip: Trip, plan: Plan, names: Names, comparison: Comparison[Outcome]
) -> list[DealRow]:
    """The deals: by what they add once all that is known, until then by their own value."""
    rows = [deal_row(draft, trip, plan, names, comparison, deal) for deal in plan.deals]
    adds = [(place, row.adds) for place, row in enumerate(rows) if row.adds is not None]
    if len(adds) == len(rows):
        return [rows[place] for place in ranked(adds)]
    return sorted(rows, key=lambda row: -(_own(row)))


def is_ranked(rows: Sequence[DealRow]) -> bool:
    """Whether what each deal adds is known."""
    return all(row.adds is not None for row in rows)


def cards(scenarios: Sequence[Scenario], comparison: Comparison[Outcome], called: Called) -> list[Card]:
    """The scenarios in their order, arrived or not."""
    return [
        Card(
            key=each.key,
            words=each.words,
            change=encode_change(each.change).decode(),
            outcome=(found := comparison.answers.get(each.key)),
            moved=() if found is None else moved_words(found.moved, called),
            failed=each.key in comparison.failed,
            about_drive=each.key.startswith(("stay-away.", "go-to.")),
        )
        for each in scenarios
    ]


def moved_words(moved: Sequence[Moved], called: Called) -> tuple[str, ...]:
    """What is bought otherwise: ``2 instead of 1: Pearlip toothpaste, Ostrel Pharmacy``."""
    words = [_moved(each, called) for each in moved[:MOST_MOVED]]
    if len(moved) > MOST_MOVED:
        words.append(f"and {len(moved) - MOST_MOVED} more changes")
    return tuple(words)


def decisions(draft: TripDraft, called: Called) -> list[Decision]:
    """Pins, what is left out, and limits of transactions."""

    def decision(words: str, back: Change) -> Decision:
        return Decision(words=words, back=encode_change(back).decode())

    pins = [
        decision(
            f"At least {pin.units} × {called.product(pin.product)} at {called.store(pin.store)}",
            Unpin(store=pin.store, product=pin.product),
        )
        for pin in draft.pinned
    ]
    forbidden = [
        decision(f"Left out: {say_forbidden(thing, called)}", Allow(thing=thing)) for thing in draft.forbidden
    ]
    limits = [
        decision(
            say_decision(Transactions(store=each.store, most=each.transactions), called),
            Transactions(store=each.store, most=None),
        )
        for each in draft.transactions
    ]
    cash = []
    if draft.cash_cents is not None:
        cash = [decision(say_decision(Ceiling(cents=draft.cash_cents), called), Ceiling(cents=None))]
    return [*pins, *forbidden, *limits, *cash]


def deal_row(
    draft: TripDraft, trip: Trip, plan: Plan, names: Names, comparison: Comparison[Outcome], deal: Deal
) -> DealRow:
    """One deal."""
    key = not_here(draft, deal).key
    stacks = dict.fromkeys(
        f"{stack.times} times: {stack.words}" if stack.times > 1 else stack.words
        for each in plan.transactions
        if each.store == deal.store
        for stack in each.stacks
        if deal.product in stack.products
    )
    return DealRow(
        deal=deal,
        name=names.product(deal.product),
        store=names.store(deal.store),
        stacks=tuple(stacks),
        own_cents=_own_cents(trip, deal),
        key=key,
        adds=comparison.answers.get(key),
        failed=key in comparison.failed,
    )


def _own_cents(trip: Trip, deal: Deal) -> int | None:
    want = next((want for want in trip.wants if want.id == deal.want), None)
    product = next(product for product in trip.products if product.id == deal.product)
    if want is None or want.stock_up is None:
        return None
    return worth_cents(product, want.stock_up) * deal.units - deal.net_cents


def _own(row: DealRow) -> int:
    return -row.deal.net_cents if row.own_cents is None else row.own_cents


def _moved(each: Moved, called: Called) -> str:
    what = f"{called.product(each.product)}, {called.store(each.store)}"
    return f"{each.after or 'none'} instead of {each.before or 'none'}: {what}"
