"""The belt: one entry per physical item, and who has taken what off it so far.

``Belt`` is the register's scratch paper. ``price`` lays it out, the steps write on it in
order, and it is gone when the receipt is printed: nothing that goes in is changed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from .money import show
from .offers import BuyOneGetOne, Coupon, NForM, PercentOffer, Product, ShelfPrice
from .papers import Adjustment, AdjustmentKind, Transaction
from .shelf import tag_in_force, unit_prices_after_shelf


@dataclass(slots=True)
class Item:
    """One physical item. ``shelf_cents``: after step 1; ``left``: cents still to pay."""

    product: Product
    line: int
    tag_cents: int
    shelf_cents: int
    left: int
    adjustments: list[Adjustment] = field(default_factory=list[Adjustment])


@dataclass(slots=True)
class Belt:
    """All items in belt order, with the transaction's papers by their ids.

    ``notes``: what to tell about a use (index into ``uses``), sentence by sentence.
    ``surplus``: what cents-off coupons were worth beyond their units, as (use, cents), kept
    for the rest of the basket where the house gives it there.
    """

    transaction: Transaction
    items: list[Item]
    coupons: dict[str, Coupon]
    offers: dict[str, PercentOffer]
    notes: dict[int, list[str]] = field(default_factory=dict[int, list[str]])
    surplus: list[tuple[int, int]] = field(default_factory=list[tuple[int, int]])

    def money(self, cents: int) -> str:
        """The amount in the transaction's currency."""
        return show(cents, self.transaction.currency, self.transaction.exponent)

    def take(
        self, unit: int, kind: AdjustmentKind, source: str, cents: int, why: str, use: int | None = None
    ) -> int:
        """Take up to ``cents`` off a unit, never more than is left; gives back what was taken."""
        item = self.items[unit]
        taken = min(cents, item.left)
        if taken > 0:
            item.left -= taken
            item.adjustments.append(Adjustment(kind=kind, source=source, cents=taken, why=why, use=use))
        return taken

    def note(self, use: int, sentence: str) -> str:
        """Keep a sentence for the coupon's line on the receipt, once; gives it back."""
        told = self.notes.setdefault(use, [])
        if sentence not in told:
            told.append(sentence)
        return sentence

    def spend(self, products: tuple[str, ...], without: frozenset[AdjustmentKind]) -> int:
        """Cents of the units of ``products`` (empty: all) after step 1, less the kinds ``without``."""
        return sum(
            item.shelf_cents - sum(a.cents for a in item.adjustments if a.kind in without)
            for item in self.items
            if not products or item.product.id in products
        )


# What each measure of spend takes off the price after step 1.
BEFORE_COUPONS: frozenset[AdjustmentKind] = frozenset()
AFTER_STORE_COUPONS: frozenset[AdjustmentKind] = frozenset(("percent_offer", "store_coupon"))
AFTER_ALL_COUPONS: frozenset[AdjustmentKind] = frozenset(
    ("percent_offer", "store_coupon", "manufacturer_coupon", "multiplied", "overage")
)
TAKEN_OFF: dict[str, frozenset[AdjustmentKind]] = {
    "before_coupons": BEFORE_COUPONS,
    "after_store_coupons": AFTER_STORE_COUPONS,
    "after_all_coupons": AFTER_ALL_COUPONS,
}


def called(description: str, paper_id: str) -> str:
    """A paper's name in a sentence: its description, cut to 80 characters, or its id."""
    if len(description) > 80:
        return description[:79] + "…"
    return description or paper_id


def counted(number: int, thing: str) -> str:
    """A count in a sentence: ``1 item``, ``2 items``."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def lay_on_belt(transaction: Transaction) -> Belt:
    """Every item in belt order with step 1 done: tag, deal, rain check.

    Expects that ``legality`` found each line's product, tag and rain check.
    """
    products = {product.id: product for product in transaction.products}
    rain_checks = {check.id: check for check in transaction.rain_checks}
    belt = Belt(
        transaction=transaction,
        items=[],
        coupons={coupon.id: coupon for coupon in transaction.coupons},
        offers={offer.id: offer for offer in transaction.percent_offers},
    )
    tagged: list[tuple[int, ShelfPrice]] = []
    for number, line in enumerate(transaction.lines):
        tag = tag_in_force(transaction.prices, transaction.store.id, line.product, transaction.day)
        for _ in range(line.units):
            item = Item(products[line.product], number, 0, 0, 0)
            if line.rain_check is not None:
                check = rain_checks[line.rain_check]
                # Where the tag is gone, or by now cheaper than the old sale, the slip's price is the tag.
                item.tag_cents = max(check.cents, tag.cents if tag else 0)
                why = f"Rain check: {belt.money(check.cents)} each."
                _mark_down(item, check.cents, check.id, why)
            else:
                assert tag is not None
                item.tag_cents = tag.cents
                tagged.append((len(belt.items), tag))
            belt.items.append(item)
    prices = unit_prices_after_shelf([tag for _, tag in tagged])
    for (unit, tag), cents in zip(tagged, prices, strict=True):
        _mark_down(belt.items[unit], cents, "", _deal_in_words(belt, tag))
    return belt


def _mark_down(item: Item, cents: int, source: str, why: str) -> None:
    item.shelf_cents = item.left = cents
    if item.tag_cents != cents:
        off = item.tag_cents - cents
        item.adjustments.append(Adjustment(kind="sale", source=source, cents=off, why=why))


def _deal_in_words(belt: Belt, tag: ShelfPrice) -> str:
    match tag.deal:
        case NForM(n=n, cents=cents, must_buy=must_buy):
            end = ", only in whole groups." if must_buy else ", also for fewer; odd cents on the first."
            return f"The tag says {n} for {belt.money(cents)}{end}"
        case BuyOneGetOne(off_bp=10_000):
            return "The tag says buy one, get one free: the cheaper of the pair is free."
        case BuyOneGetOne(off_bp=off_bp):
            return f"The tag says buy one, get one {percent(off_bp)} off: the cheaper of the pair is reduced."
        case None:
            return ""


def percent(bp: int) -> str:
    """Basis points for a reader: 2500 is ``25 %``, 1250 is ``12.5 %``."""
    whole, rest = divmod(bp, 100)
    return f"{whole}.{rest:02d}".rstrip("0").rstrip(".") + " %" if rest else f"{whole} %"
