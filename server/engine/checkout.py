"""Checkout order: which transaction first, and which slips pay where, exactly.

Every order of a store's transactions is tried (they are few) with every choice of whole
slips that fits what is due. Slips earned earlier pay later ones. Least cash down, then least peak
cash, then fewest slips left to expire, then a fixed order. A choice that earns less (a
non-rolling offer's own slip pays) is kept beside the others: the trip takes it only where
the cash ceiling leaves nothing better.

Worked: one item at 2.19, "buy 1, get a 2.19 slip", once per transaction, three transactions, rolling:
2.19 cash, then twice the slip before: out of pocket 2.19, one slip left.
"""

from __future__ import annotations

import hashlib
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from itertools import product as cartesian

import msgspec

from .history import slip_id
from .objective import lapses, reward_worth
from .offers import RewardOffer
from .papers import (
    PayByCash,
    PayByGiftCard,
    PayBySlip,
    Receipt,
    Tender,
    Transaction,
)
from .register import price
from .shelf import holds_on
from .situation import Situation, house_of
from .tenders import GIFT_CARD_CATEGORY


class Held(msgspec.Struct, frozen=True):
    """A slip in hand on the way: ``worth`` is what spending it on the trip adds (only where it
    would otherwise lapse)."""

    id: str
    cents: int
    offer: str | None
    worth: int = 0


class Paid(msgspec.Struct, frozen=True):
    """A transaction in its place: its input with tenders, and the receipt that it gives."""

    transaction: Transaction
    receipt: Receipt


class Bill(msgspec.Struct, frozen=True):
    """What the search needs of a transaction: due, what of it slips may pay, room for slips, rewards by
    offer."""

    key: str
    transaction: Transaction
    due: int
    for_slips: int
    slips_allowed: int
    earns: tuple[tuple[str, int, int], ...]  # (offer, times, cents each)


class RefusedAtTheRegister(ValueError):
    """The register does not take a planned transaction as it was packed."""


class Order(msgspec.Struct, frozen=True):
    """One way through a house's registers: ``gain`` is the worth of rewards earned. ``steps``: the
    bill, the slips that pay it, gift card cents, cash."""

    gain: int
    cash: int
    peak: int
    left: int
    keys: tuple[str, ...]
    steps: tuple[tuple[int, tuple[Held, ...], int, int], ...]

    @property
    def rank(self) -> tuple[int, int, int, tuple[str, ...]]:
        return (self.cash, self.peak, self.left, self.keys)


def bill_of(transaction: Transaction, situation: Situation) -> Bill:
    """A packed transaction as the search sees it. Raises RefusedAtTheRegister."""
    receipt = _accepted(with_tenders(transaction, (PayByCash(),), situation.earned))
    rules = transaction.store.rules
    makers = sum(
        1
        for use in transaction.uses
        for coupon in transaction.coupons
        if coupon.id == use.coupon and coupon.issuer == "manufacturer"
    )
    room = 10_000
    if rules.slip_counts_as_manufacturer_coupon and rules.coupons_no_more_than_items:
        room = max(len(receipt.units) - makers, 0)
    # The household's limit is reckoned along the order, so here the transaction's own times.
    free = _accepted(with_tenders(transaction, (PayByCash(),), {}))
    return Bill(
        key=transaction_key(transaction),
        transaction=transaction,
        due=receipt.total_cents,
        for_slips=receipt.total_cents - _not_for_slips(receipt, transaction),
        slips_allowed=room,
        earns=tuple((earned.offer, earned.times, earned.each_cents) for earned in free.earned),
    )


def _not_for_slips(receipt: Receipt, transaction: Transaction) -> int:
    """What is paid for gift cards on sale, where slips do not pay for them."""
    if transaction.store.rules.slips_buy_gift_cards:
        return 0
    cards = {each.id for each in transaction.products if each.category == GIFT_CARD_CATEGORY}
    return sum(unit.paid_cents for unit in receipt.units if unit.product in cards)


# Receipts of transactions planned lately: after a tap most are those of the plan before.
_RECEIPTS: OrderedDict[bytes, Receipt] = OrderedDict()
_MOST_RECEIPTS = 200


def _accepted(transaction: Transaction) -> Receipt:
    """The register's receipt of a transaction that we planned. Raises RefusedAtTheRegister."""
    key = hashlib.blake2b(msgspec.msgpack.encode(transaction)).digest()
    if key in _RECEIPTS:
        _RECEIPTS.move_to_end(key)
        return _RECEIPTS[key]
    receipt = price(transaction)
    if not isinstance(receipt, Receipt):
        raise RefusedAtTheRegister(f"the register refuses a planned transaction: {receipt.sentence}")
    _RECEIPTS[key] = receipt
    if len(_RECEIPTS) > _MOST_RECEIPTS:
        _RECEIPTS.popitem(last=False)
    return receipt


def forget() -> None:
    """No receipt is remembered: for benches."""
    _RECEIPTS.clear()


def transaction_key(transaction: Transaction) -> str:
    """A name of a transaction's content that is the same in both twins."""
    lines = ",".join(f"{line.product}*{line.units}{line.rain_check or ''}" for line in transaction.lines)
    uses = ",".join(f"{use.coupon}:{'.'.join(map(str, use.units))}" for use in transaction.uses)
    return f"{lines}|{uses}"


def with_tenders(
    transaction: Transaction, tenders: tuple[Tender, ...], earned_before: dict[str, int]
) -> Transaction:
    """The transaction with its tenders and what the household earned before."""
    relevant = {reward.id for reward in transaction.rewards}
    return msgspec.structs.replace(
        transaction,
        tenders=tenders,
        earned_before={
            offer: times for offer, times in sorted(earned_before.items()) if offer in relevant and times
        },
    )


def orders(situation: Situation, house: str, transactions: list[Transaction]) -> list[Order]:
    """The best order for each worth of rewards that some order earns, most worth first.

    ``transactions``: of one house; those of a store that she drives to earlier come first.
    """
    trip = situation.trip
    stores = {store.id: house_of(store) for store in trip.stores}
    walk = _Walk(
        situation=situation,
        bills=[bill_of(transaction, situation) for transaction in transactions],
        rewards={reward.id: reward for transaction in transactions for reward in transaction.rewards},
        drive=[store.id for store in trip.stores],
    )
    hand = [
        Held(slip.id, slip.cents, slip.offer)
        for slip in trip.wallet.slips
        if stores.get(slip.store) == house and holds_on(trip.day, None, slip.until)
    ]
    balance = sum(card.cents for card in trip.wallet.gift_cards if stores.get(card.store) == house)
    best: dict[int, Order] = {}
    for found in walk.on(tuple(range(len(transactions))), hand, balance, dict(situation.earned)):
        held = best.get(found.gain)
        if held is None or found.rank < held.rank:
            best[found.gain] = found
    return [best[gain] for gain in sorted(best, reverse=True)]


class _Walk(msgspec.Struct, frozen=True):
    """What stays the same while every order is tried."""

    situation: Situation
    bills: list[Bill]
    rewards: dict[str, RewardOffer]
    drive: list[str]

    def on(
        self, open_bills: tuple[int, ...], hand: list[Held], balance: int, earned: dict[str, int]
    ) -> Iterator[Order]:
        """Every order of the open transactions from here, with every choice of slips."""
        if not open_bills:
            yield Order(0, 0, 0, len(hand), (), ())
            return
        places = [self.drive.index(self.bills[place].transaction.store.id) for place in open_bills]
        tried: set[str] = set()
        for place, stop in zip(open_bills, places, strict=True):
            bill = self.bills[place]
            if stop > min(places) or bill.key in tried:  # the same content elsewhere is the same order
                continue
            tried.add(bill.key)
            rest = tuple(other for other in open_bills if other != place)
            for slips in _slip_choices(hand, bill.for_slips, bill.slips_allowed):
                due = bill.due - sum(slip.cents for slip in slips)
                card = min(balance, due)
                number = self._number(bill, rest)
                gain, kept, loaded, after = self._earn(bill, slips, hand, earned, number)
                for later in self.on(rest, kept, balance - card + loaded, after):
                    yield Order(
                        gain=gain + later.gain,
                        cash=due - card + later.cash,
                        peak=max(due - card, later.peak),
                        left=later.left,
                        keys=(bill.key, *later.keys),
                        steps=((place, slips, card, due - card), *later.steps),
                    )

    def _number(self, bill: Bill, rest: tuple[int, ...]) -> int:
        """The running number of this transaction at its store."""
        store = bill.transaction.store.id
        planned = sum(each.transaction.store.id == store for each in self.bills)
        to_come = sum(self.bills[other].transaction.store.id == store for other in rest)
        return self.situation.transactions_done(store) + planned - to_come

    def _earn(
        self, bill: Bill, slips: tuple[Held, ...], hand: list[Held], earned: dict[str, int], number: int
    ) -> tuple[int, list[Held], int, dict[str, int]]:
        """Worth gained, slips in hand, cents loaded on gift cards, times earned, after a transaction."""
        after = dict(earned)
        kept = [slip for slip in hand if slip not in slips]
        gain = sum(slip.worth for slip in slips)
        loaded = 0
        for offer, times, each in bill.earns:
            reward = self.rewards[offer]
            if not reward.rolls and any(slip.offer == offer for slip in slips):
                continue
            if reward.per_household is not None:
                times = min(times, max(reward.per_household - after.get(offer, 0), 0))
            after[offer] = after.get(offer, 0) + times
            worth = reward_worth(reward, each, self.situation.trip.settings.worth)
            late = lapses(reward, self.situation)
            gain += 0 if late else times * worth
            loaded += times * each if reward.kind == "gift_card" else 0
            if reward.kind == "slip":
                store = bill.transaction.store.id
                kept.extend(
                    Held(slip_id(offer, store, number, k), each, offer, worth if late else 0)
                    for k in range(times)
                )
        return gain, kept, loaded, after


def _slip_choices(hand: list[Held], most: int, allowed: int) -> Iterator[tuple[Held, ...]]:
    """Every choice of whole slips worth no more than ``most`` cents; of equal slips the first ones."""
    kinds: dict[tuple[int, str | None, int], list[Held]] = {}
    for slip in hand:
        kinds.setdefault((slip.cents, slip.offer, slip.worth), []).append(slip)
    groups = list(kinds.values())
    for counts in cartesian(*(range(len(group) + 1) for group in groups)):
        chosen = tuple(slip for group, count in zip(groups, counts, strict=True) for slip in group[:count])
        if not chosen or (sum(slip.cents for slip in chosen) <= most and len(chosen) <= allowed):
            yield chosen


def settle(situation: Situation, house: str, transactions: list[Transaction], order: Order) -> list[Paid]:
    """The transactions in that order with their tenders, priced by the register."""
    earned = dict(situation.earned)
    stores = {store.id: house_of(store) for store in situation.trip.stores}
    cards = [card for card in situation.trip.wallet.gift_cards if stores.get(card.store) == house]
    paid: list[Paid] = []
    for place, slips, card_cents, _ in order.steps:
        tenders: list[Tender] = [PayBySlip(cents=slip.cents, id=slip.id, offer=slip.offer) for slip in slips]
        if card_cents:
            tenders.append(PayByGiftCard(cents=card_cents, id=cards[0].id if cards else f"{house} gift card"))
        tenders.append(PayByCash())
        transaction = with_tenders(transactions[place], tuple(tenders), earned)
        receipt = _accepted(transaction)
        for each in receipt.earned:
            earned[each.offer] = earned.get(each.offer, 0) + each.times
        paid.append(Paid(transaction, receipt))
    return paid


def choose_orders(
    situation: Situation, by_house: dict[str, list[Order]], packed: dict[str, list[Transaction]]
) -> dict[str, Order]:
    """One order per house: the most worth that the cash ceilings allow, then the least cash.

    Where nothing keeps within the ceilings, the least cash: the plan then says so.
    """
    best: tuple[tuple[int, int, int], tuple[Order, ...]] | None = None
    for chosen in cartesian(*by_house.values()):
        cash = [
            (packed[house][place].store.id, cents)
            for house, order in zip(by_house, chosen, strict=True)
            for place, _, _, cents in order.steps
        ]
        gain = sum(order.gain for order in chosen)
        rank = (over_ceilings(situation, cash), -gain, sum(cents for _, cents in cash))
        if best is None or rank < best[0]:
            best = (rank, chosen)
    assert best is not None
    return dict(zip(by_house, best[1], strict=True))


def over_ceilings(situation: Situation, cash: Sequence[tuple[str, int]]) -> int:
    """By how many cents the cash of the trip, with what is to be put down at the stores, passes the
    ceilings of the trip and of each store. ``cash``: (store, cents)."""
    return sum(over_each_ceiling(situation, cash).values())


def over_each_ceiling(situation: Situation, cash: Sequence[tuple[str, int]]) -> dict[str | None, int]:
    """The same per store whose own ceiling is passed, and under None for the trip's."""
    trip = situation.trip
    ceilings = {store.id: store.cash_ceiling_cents for store in trip.stores}
    over: dict[str | None, int] = {}
    for scope, ceiling in {None: trip.wallet.cash_cents, **ceilings}.items():
        if ceiling is None:
            continue
        to_come = sum(cents for store, cents in cash if scope in (None, store))
        if situation.cash_spent(scope) + to_come > ceiling:
            over[scope] = situation.cash_spent(scope) + to_come - ceiling
    return over
