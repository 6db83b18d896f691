"""A record in a sentence, for lists and cards: what it gives, what it asks, where.

Saying(...).of(coupon)  ->  "$1.00 off 2 of 3 products; insert; at Alder Row Grocers; 2 in hand"
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..engine.money import show
from ..engine.offers import (
    Asks,
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    NForM,
    PercentOff,
    PercentOffer,
    Product,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Store,
)
from ..intake.drafts import CouponDraft, DealDraft, OfferDraft, PercentDraft, RewardDraft
from .kinds import Record
from .larder import unit_in_words

MEASURES = {
    "before_coupons": "before coupons",
    "after_store_coupons": "after store coupons",
    "after_all_coupons": "after all coupons",
}
FORMS = {
    "insert": "insert",
    "printable": "printable",
    "digital": "digital",
    "on_package": "on the package",
    "register": "printed at the register",
}
REWARD_KINDS = {"slip": "slip", "gift_card": "gift card", "points": "points"}
Gives = CentsOff | PercentOff | FreeItem | FixedPrice | BasketOff


class Saying:
    """Sentences about records, with the household's money and the names of stores and products."""

    def __init__(
        self,
        stores: Mapping[str, Store],
        products: Mapping[str, Product],
        *,
        currency: str = "USD",
        exponent: int = 2,
    ) -> None:
        self._stores = stores
        self._products = products
        self._currency = currency
        self._exponent = exponent

    def money(self, cents: int) -> str:
        """Cents in the household's currency."""
        return show(cents, self._currency, self._exponent)

    def store(self, id: str) -> str:
        """A store's name."""
        store = self._stores.get(id)
        return store.name if store and store.name else id

    def product(self, id: str) -> str:
        """A product's description."""
        product = self._products.get(id)
        return product.description if product and product.description else id

    def of(self, record: Record) -> str:
        """What the record says, in a line; "" for a kind that has nothing to say beside its name."""
        match record:
            case Store():
                return _join(record.region, record.note)
            case Product():
                size = f"{record.size.amount} {unit_in_words(record.size.unit, record.size.amount == '1')}"
                return _join(size, record.category, f"number {record.gtin}" if record.gtin else "")
            case ShelfPrice():
                return self._tag(record)
            case Coupon():
                return self._coupon(record)
            case PercentOffer():
                return _join(
                    f"{percent(record.bp)} off {self.goods(record.products)}",
                    f"at {self.store(record.store)}",
                    f"on {record.units_per_transaction} in a transaction"
                    if record.units_per_transaction
                    else "",
                )
            case RewardOffer():
                return self._reward(record)
            case Rebate():
                return _join(
                    f"{self.money(record.cents)} back on {record.units} of {self.goods(record.products)}",
                    f"at {', '.join(map(self.store, record.stores))}" if record.stores else "",
                    f"within {record.deadline_days} days",
                )
            case SetBonus():
                return f"{self.money(record.cents)} more for {len(record.rebates)} rebates claimed"
            case _:
                return ""

    def gives(self, gives: Gives | None) -> str:
        """What a coupon takes off."""
        match gives:
            case CentsOff(cents=cents):
                return f"{self.money(cents)} off"
            case PercentOff(bp=bp):
                return f"{percent(bp)} off"
            case FreeItem(off_bp=off_bp, up_to_cents=cap):
                cheapest = (
                    "the cheapest one free" if off_bp == 10_000 else f"{percent(off_bp)} off the cheapest"
                )
                return cheapest + (f", up to {self.money(cap)}," if cap else "")
            case FixedPrice(cents=cents):
                return f"for {self.money(cents)} in all"
            case BasketOff(cents=cents, from_cents=spend, measure=measure):
                return f"{self.money(cents)} off a spend of {self.money(spend)} {MEASURES[measure]}"
            case None:
                return "a value that is still to be entered"

    def draft(self, offer: OfferDraft) -> str:
        """What was read of an offer."""
        match offer:
            case CouponDraft():
                asks = " and ".join(str(asked.units) for asked in offer.asks)
                basket = isinstance(offer.gives, BasketOff)
                return f"Coupon: {self.gives(offer.gives)}" + ("" if basket else f" on {asks}")
            case DealDraft():
                return f"Sale: {self._deal(offer)}"
            case PercentDraft():
                return f"Percent offer: {percent(offer.bp)} off"
            case RewardDraft():
                spend = offer.by == "spend"
                asked = f"spend {self.money(offer.threshold)}" if spend else f"buy {offer.threshold}"
                back = f"{offer.points} points" if offer.cents is None else self.money(offer.cents)
                return f"Reward: {asked}, get {back} ({REWARD_KINDS[offer.reward]})"

    def goods(self, products: Sequence[str]) -> str:
        """A few products by name, many by their number, none as everything."""
        if not products:
            return "everything"
        if len(products) == 1:
            return self.product(products[0])
        return f"{len(products)} products"

    def _coupon(self, coupon: Coupon) -> str:
        basket = isinstance(coupon.gives, BasketOff)
        asks = " and ".join(self._asked(asked, counted=not basket) for asked in coupon.asks)
        return _join(
            f"{self.gives(coupon.gives)} on {asks}",
            f"{coupon.issuer}, {FORMS[coupon.form]}",
            f"at {', '.join(map(self.store, coupon.stores))}" if coupon.stores else "",
            f"{coupon.copies} in hand",
            coupon.where,
        )

    def _asked(self, asked: Asks, *, counted: bool) -> str:
        return f"{asked.units} of {self.goods(asked.products)}" if counted else self.goods(asked.products)

    def _tag(self, tag: ShelfPrice) -> str:
        return _join(f"{self.money(tag.cents)} each", self._deal_words(tag.deal), tag.kind, tag.place)

    def _deal(self, offer: DealDraft) -> str:
        each = f"{self.money(offer.cents)} each" if offer.cents is not None else ""
        regular = "" if offer.regular_cents is None else f"regularly {self.money(offer.regular_cents)}"
        return _join(self._deal_words(offer.deal), each, regular) or "a price that is still to be entered"

    def _deal_words(self, deal: NForM | BuyOneGetOne | None) -> str:
        match deal:
            case NForM(n=n, cents=cents, must_buy=must_buy):
                return f"{n} for {self.money(cents)}" + (" if all are bought" if must_buy else "")
            case BuyOneGetOne(off_bp=off_bp):
                free = off_bp == 10_000
                return "buy one get one free" if free else f"buy one get one {percent(off_bp)} off"
            case None:
                return ""

    def _reward(self, reward: RewardOffer) -> str:
        steps = (
            f"{self.money(tier.threshold) if reward.by == 'spend' else tier.threshold}"
            f" get {self.money(tier.cents)}"
            for tier in reward.tiers
        )
        verb = "spend" if reward.by == "spend" else "buy"
        return _join(
            f"{verb} {', or '.join(steps)} ({REWARD_KINDS[reward.kind]})",
            f"on {self.goods(reward.products)}",
            f"at {self.store(reward.store)}",
            "" if reward.rolls else "does not roll",
        )


def percent(bp: int) -> str:
    """Basis points as a percentage: ``20 %``, ``12.5 %``."""
    whole, rest = divmod(bp, 100)
    return f"{whole}.{rest:02}".rstrip("0") + " %" if rest else f"{whole} %"


def _join(*parts: str) -> str:
    return "; ".join(filter(None, parts))
