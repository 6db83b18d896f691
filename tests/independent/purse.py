"""Slips, gift cards, rewards and cash over the whole trip, transaction by transaction in its order."""

from __future__ import annotations

from dataclasses import dataclass

from counterfoil.engine.offers import RewardOffer, Trip, Worth

from .counter import Print, Transaction
from .sums import Sums, Term, total
from .tags import in_force

# Products of this category are gift cards on sale, which slips pay for only where the house lets them.
GIFT_CARDS = "gift card"


def at_worth(cents: int, bp: int) -> int:
    """Face value at the shopper's worth, half up."""
    return (cents * bp + 5_000) // 10_000


def worth_of(kind: str, worth: Worth) -> int:
    """Her worth of a cent of a kind of reward."""
    return {"slip": worth.slip_bp, "gift_card": worth.gift_card_bp, "points": worth.points_bp}[kind]


def family_of(trip: Trip, store: str) -> str:
    """The store itself, or the one that it is a channel of: slips and cards pay at all of them."""
    return {each.id: each.channel_of for each in trip.stores}[store] or store


@dataclass(frozen=True)
class Payment:
    """A slip (its face, or 0 where it does not pay) of an ``offer``, or so much of a gift card."""

    kind: str
    cents: Term
    offer: str | None = None


class Purse:
    """What pays where. ``value``: paid totals and the worth of rewards, ready to be added; ``cash``:
    put down in all. Tenders are modelled where something hangs on them, or ``always``; ``payments``
    has them for each transaction."""

    def __init__(self, sums: Sums, trip: Trip, transactions: list[Transaction], always: bool) -> None:
        self.sums, self.trip, self.transactions, self.always = sums, trip, transactions, always
        self.model = sums.model
        self.value: list[Term] = []
        self.cash: Term = 0
        self.payments: list[list[Payment]] = []
        self._slips_and_rewards()

    def _lapses(self, offer: RewardOffer) -> bool:
        return offer.kind == "slip" and offer.valid_days < self.trip.settings.days_to_next_visit

    def _slips_and_rewards(self) -> None:
        trip, sums, model = self.trip, self.sums, self.model
        ceilings = trip.wallet.cash_cents is not None or any(
            store.cash_ceiling_cents is not None for store in trip.stores
        )
        pays = self.always or ceilings or any(self._lapses(offer) for offer in trip.rewards)
        times: dict[str, list[Term]] = {offer.id: [] for offer in trip.rewards}
        # What can pay later: (family, offer, there, cents, uses so far); cards: (family, balance, uses).
        slips: list[tuple[str, str | None, Term, int, list[Term]]] = []
        cards: list[tuple[str, Term, list[Term]]] = []
        if pays:
            for slip in trip.wallet.slips:
                if in_force(trip.day, None, slip.until):
                    slips.append((family_of(self.trip, slip.store), slip.offer, 1, slip.cents, []))
            for card in trip.wallet.gift_cards:
                cards.append((family_of(self.trip, card.store), card.cents, []))
        on_cards = {product.id for product in trip.products if product.category == GIFT_CARDS}
        cash: list[tuple[str, Term]] = []
        lapsing: list[tuple[Print, list[Term]]] = []
        for t in self.transactions:
            family = family_of(self.trip, t.store.id)
            paid: list[Term] = []
            own: dict[str, list[Term]] = {}
            handed: list[Term] = []
            payments: list[Payment] = []
            self.payments.append(payments)
            for home, offer, there, cents, uses in slips:
                if home == family:
                    flag = sums.flag()
                    model.add(flag <= there)
                    uses.append(flag)
                    handed.append(flag)
                    paid.append(flag * cents)
                    payments.append(Payment("slip", flag * cents, offer))
                    if offer is not None:
                        own.setdefault(offer, []).append(flag)
            model.add(total(paid) <= t.total)
            on_sale = [unit.left for unit in t.belt.units if unit.product in on_cards]
            if on_sale and not t.store.rules.slips_buy_gift_cards:
                model.add(total(paid) <= t.total - total(on_sale))
            for home, _, uses in cards:
                if home == family:
                    used = sums.number()
                    uses.append(used)
                    paid.append(used)
                    payments.append(Payment("gift_card", used))
            model.add(total(paid) <= t.total)
            cash.append((t.store.id, t.total - total(paid)))
            if t.store.rules.coupons_no_more_than_items:
                count = t.makers_coupons
                if t.store.rules.slip_counts_as_manufacturer_coupon:
                    count = count + total(handed)
                model.add(count <= t.belt.count)
            for offer in trip.rewards:
                blocked = None
                if own.get(offer.id) and not offer.rolls:
                    blocked = sums.flag()
                    model.add_max_equality(blocked, own[offer.id])
                times[offer.id].extend(t.earn(offer, blocked, list(times[offer.id])))
            for printed in t.prints:
                worth = at_worth(printed.cents, worth_of(printed.offer.kind, trip.settings.worth))
                uses = list[Term]()
                if printed.offer.kind == "slip" and pays:
                    slips.append((family, printed.offer.id, printed.there, printed.cents, uses))
                if printed.offer.kind == "gift_card" and pays:
                    cards.append((family, printed.there * printed.cents, uses))
                if self._lapses(printed.offer):
                    lapsing.append((printed, uses))
                else:
                    self.value.append(printed.there * worth)
            self.value.append(-1 * t.total)
        for _, _, there, _, uses in slips:
            if uses:
                model.add(total(uses) <= there)
        for _, balance, uses in cards:
            if uses:
                model.add(total(uses) <= balance)
        for printed, uses in lapsing:
            worth = at_worth(printed.cents, worth_of(printed.offer.kind, trip.settings.worth))
            self.value.append(worth * total(uses))
        self.cash = total([cents for _, cents in cash])
        if trip.wallet.cash_cents is not None:
            model.add(self.cash <= trip.wallet.cash_cents)
        for store in trip.stores:
            if store.cash_ceiling_cents is not None:
                model.add(total([c for s, c in cash if s == store.id]) <= store.cash_ceiling_cents)
