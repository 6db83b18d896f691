"""What she can decide about a trip in the making, one decision at a time, each as a document.

A decision goes into the draft and so into the records' batches, where it can be taken back. The words
say it as the batch does: "Pinned: 2 × Fenwisp shampoo, 12 fl oz at Ostrel Pharmacy".
"""

from __future__ import annotations

from typing import Protocol, assert_never

import msgspec

from ..engine.offers import Cents, Doc, Id, Pinned, PositiveUnits, Units
from .household import Forbidden, Needed, TransactionsAt, TripDraft


class Pin(Doc, frozen=True, kw_only=True, tag_field="do", tag="pin"):
    """At least so many of a product at a store. What was forbidden there is allowed again."""

    store: Id
    product: Id
    units: PositiveUnits


class Unpin(Doc, frozen=True, kw_only=True, tag_field="do", tag="unpin"):
    """As many of it there as is best."""

    store: Id
    product: Id


class Forbid(Doc, frozen=True, kw_only=True, tag_field="do", tag="forbid"):
    """Not used on this trip. A pin of the same product there goes."""

    thing: Forbidden


class Allow(Doc, frozen=True, kw_only=True, tag_field="do", tag="allow"):
    """May be used again."""

    thing: Forbidden


class SetNeed(Doc, frozen=True, kw_only=True, tag_field="do", tag="need"):
    """So many of a staple, whatever the larder says."""

    staple: Id
    need: Units
    welcome: Units


class GoTo(Doc, frozen=True, kw_only=True, tag_field="do", tag="go_to"):
    """One more store, the last of the drive."""

    store: Id


class StayAway(Doc, frozen=True, kw_only=True, tag_field="do", tag="stay_away"):
    """One store less."""

    store: Id


class Transactions(Doc, frozen=True, kw_only=True, tag_field="do", tag="transactions"):
    """So many transactions at most at a store; None: as its house rules say."""

    store: Id
    most: PositiveUnits | None


class Ceiling(Doc, frozen=True, kw_only=True, tag_field="do", tag="ceiling"):
    """The most cash to put down; None: no ceiling."""

    cents: Cents | None


Change = Pin | Unpin | Forbid | Allow | SetNeed | GoTo | StayAway | Transactions | Ceiling


class Called(Protocol):
    """What things are called."""

    def store(self, store: str) -> str: ...
    def product(self, product: str) -> str: ...
    def staple(self, staple: str) -> str: ...
    def offer(self, what: str, id: str) -> str: ...
    def money(self, cents: int) -> str: ...


def decided(draft: TripDraft, change: Change) -> TripDraft:
    """The draft with the decision in it; deciding the same twice changes nothing."""
    match change:
        case Pin(store=store, product=product, units=units):
            pins = (*_unpinned(draft, store, product), Pinned(store=store, product=product, units=units))
            here = Forbidden(what="product", id=product, store=store)
            anywhere = Forbidden(what="product", id=product)
            forbidden = tuple(each for each in draft.forbidden if each not in (here, anywhere))
            return msgspec.structs.replace(draft, pinned=pins, forbidden=forbidden)
        case Unpin(store=store, product=product):
            return msgspec.structs.replace(draft, pinned=_unpinned(draft, store, product))
        case Forbid(thing=thing):
            pins = draft.pinned
            if thing.what == "product":
                pins = tuple(
                    pin for pin in pins if pin.product != thing.id or thing.store not in (None, pin.store)
                )
            forbidden = (*(each for each in draft.forbidden if each != thing), thing)
            return msgspec.structs.replace(draft, pinned=pins, forbidden=forbidden)
        case Allow(thing=thing):
            forbidden = tuple(each for each in draft.forbidden if each != thing)
            return msgspec.structs.replace(draft, forbidden=forbidden)
        case SetNeed(staple=staple, need=need, welcome=welcome):
            needed = Needed(staple=staple, need=need, welcome=max(need, welcome))
            needs = (*(each for each in draft.needs if each.staple != staple), needed)
            return msgspec.structs.replace(draft, needs=needs)
        case GoTo(store=store):
            stores = draft.stores if store in draft.stores else (*draft.stores, store)
            return msgspec.structs.replace(draft, stores=stores)
        case StayAway(store=store):
            return msgspec.structs.replace(
                draft,
                stores=tuple(each for each in draft.stores if each != store),
                pinned=tuple(pin for pin in draft.pinned if pin.store != store),
                transactions=tuple(each for each in draft.transactions if each.store != store),
            )
        case Transactions(store=store, most=most):
            others = tuple(each for each in draft.transactions if each.store != store)
            mine = () if most is None else (TransactionsAt(store=store, transactions=most),)
            return msgspec.structs.replace(draft, transactions=(*others, *mine))
        case Ceiling(cents=cents):
            return msgspec.structs.replace(draft, cash_cents=cents)
        case _:
            assert_never(change)


def say_decision(change: Change, called: Called) -> str:
    """The decision in words."""
    match change:
        case Pin(store=store, product=product, units=units):
            return f"Pinned: {units} × {called.product(product)} at {called.store(store)}"
        case Unpin(store=store, product=product):
            return f"No longer pinned: {called.product(product)} at {called.store(store)}"
        case Forbid(thing=thing):
            return f"Left out: {say_forbidden(thing, called)}"
        case Allow(thing=thing):
            return f"Allowed again: {say_forbidden(thing, called)}"
        case SetNeed(staple=staple, need=need, welcome=welcome):
            return f"{called.staple(staple)}: {need} needed, {max(need, welcome)} welcome"
        case GoTo(store=store):
            return f"Going to {called.store(store)} too"
        case StayAway(store=store):
            return f"Not going to {called.store(store)}"
        case Transactions(store=store, most=None):
            return f"As many transactions at {called.store(store)} as its house rules allow"
        case Transactions(store=store, most=most):
            return f"At most {most} transaction{'' if most == 1 else 's'} at {called.store(store)}"
        case Ceiling(cents=None):
            return "No cash ceiling"
        case Ceiling(cents=cents):
            assert cents is not None
            return f"At most {called.money(cents)} in cash"
        case _:
            assert_never(change)


def say_forbidden(thing: Forbidden, called: Called) -> str:
    """What is not to be used, in words."""
    if thing.what != "product":
        return called.offer(thing.what, thing.id)
    where = "anywhere" if thing.store is None else f"at {called.store(thing.store)}"
    return f"{called.product(thing.id)} {where}"


def _unpinned(draft: TripDraft, store: str, product: str) -> tuple[Pinned, ...]:
    return tuple(pin for pin in draft.pinned if (pin.store, pin.product) != (store, product))
