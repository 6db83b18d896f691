"""The papers that the engine writes: transaction, receipt, plan, and what happened.

A *transaction* goes into the register and a *receipt* (or a refusal) comes out. A *plan*
is what the shopper carries. *Happened* is the ordered list of what she reported.
Units as in ``offers.py``: cents, basis points, parts per 100,000.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

from .offers import (
    Cents,
    Coupon,
    DateText,
    Doc,
    Id,
    PercentOffer,
    PositiveCents,
    PositiveUnits,
    Product,
    RainCheck,
    RewardKind,
    RewardOffer,
    ShelfPrice,
    Slip,
    Store,
    Text,
    Units,
)

UnitIndex = Annotated[int, Meta(ge=0, le=10_000)]

# --- one transaction ----------------------------------------------------------------


class Line(Doc, frozen=True, kw_only=True):
    """``units`` of a product, in belt order. ``rain_check`` names the one that pays for them."""

    product: Id
    units: PositiveUnits
    rain_check: Id | None = None


class Use(Doc, frozen=True, kw_only=True):
    """One coupon handed over, with the units that it claims (indexes in belt order, one per
    physical item; requirement by requirement). A basket coupon claims none."""

    coupon: Id
    units: tuple[UnitIndex, ...] = ()


class OfferUse(Doc, frozen=True, kw_only=True):
    """A percent offer and the units that it is applied to."""

    offer: Id
    units: tuple[UnitIndex, ...]


class PayBySlip(Doc, frozen=True, kw_only=True, tag_field="kind", tag="slip"):
    """A reward slip: whole, without change. ``offer`` is the reward offer that printed it."""

    cents: PositiveCents
    id: Text = ""
    offer: Id | None = None


class PayByGiftCard(Doc, frozen=True, kw_only=True, tag_field="kind", tag="gift_card"):
    """Up to ``cents`` from a gift card; the rest stays on it."""

    cents: Cents
    id: Text = ""


class PayByFoodBenefit(Doc, frozen=True, kw_only=True, tag_field="kind", tag="food_benefit"):
    """Up to ``cents`` of food benefits on units of ``tax_classes``/``products``, taxable ones
    first; what they pay is not taxed."""

    cents: Cents
    products: tuple[Id, ...] = ()


class PayByCash(Doc, frozen=True, kw_only=True, tag_field="kind", tag="cash"):
    """Cash (or a card that is not a gift card): whatever is still due, at most ``cents``."""

    cents: Cents | None = None


Tender = PayBySlip | PayByGiftCard | PayByFoodBenefit | PayByCash


class Transaction(Doc, frozen=True, kw_only=True):
    """One trip through the register, self-contained: ``counterfoil price`` reads this.

    ``coupons`` stand in handing-over order. ``earned_before``: times each reward was already
    earned by this household (for its limit).
    """

    format: Literal["counterfoil-transaction-1"] = "counterfoil-transaction-1"
    store: Store
    day: DateText
    products: tuple[Product, ...]
    prices: tuple[ShelfPrice, ...]
    lines: tuple[Line, ...]
    coupons: tuple[Coupon, ...] = ()
    percent_offers: tuple[PercentOffer, ...] = ()
    rewards: tuple[RewardOffer, ...] = ()
    rain_checks: tuple[RainCheck, ...] = ()
    uses: tuple[Use, ...] = ()
    offer_uses: tuple[OfferUse, ...] = ()
    tenders: tuple[Tender, ...] = (PayByCash(),)
    earned_before: dict[str, Units] = {}
    region: Text = ""
    currency: Annotated[str, Meta(pattern=r"^[A-Z]{3}$")] = "USD"
    exponent: Annotated[int, Meta(ge=0, le=4)] = 2


AdjustmentKind = Literal[
    "sale", "percent_offer", "store_coupon", "manufacturer_coupon", "multiplied", "basket_coupon", "overage"
]


class Adjustment(Doc, frozen=True, kw_only=True):
    """Cents taken off one unit, by what, and why in a plain sentence.

    ``source``: the id of the coupon or offer ("" for a sale). ``use``: index into the
    transaction's ``uses`` (None for sales and offers)."""

    kind: AdjustmentKind
    source: Text
    cents: int
    why: Text
    use: int | None = None


class UnitOnReceipt(Doc, frozen=True, kw_only=True):
    """One physical item. ``tag_cents - sum(adjustments) = paid_cents`` (before tax).

    ``taxable_cents``: the amount that tax is reckoned on (0 for an untaxed class)."""

    product: Id
    line: int
    tag_cents: int
    adjustments: tuple[Adjustment, ...]
    paid_cents: int
    taxable_cents: int


class TaxLine(Doc, frozen=True, kw_only=True):
    """Tax of one class, with what it was reckoned on and how."""

    tax_class: Text
    rate: int
    taxable_cents: int
    cents: int
    why: Text


class TenderLine(Doc, frozen=True, kw_only=True):
    """What one tender paid; a slip's surplus is never given back."""

    kind: Literal["slip", "gift_card", "food_benefit", "cash"]
    cents: int
    id: Text = ""
    offer: Id | None = None


class Earned(Doc, frozen=True, kw_only=True):
    """A reward that the register prints or loads: ``times`` x, ``cents`` in all."""

    offer: Id
    kind: RewardKind
    times: int
    each_cents: int
    cents: int
    why: Text


class CouponTaken(Doc, frozen=True, kw_only=True):
    """What the register took for one coupon, in handing-over order (index into ``uses``)."""

    use: int
    coupon: Id
    cents: int
    why: Text


class Receipt(Doc, frozen=True, kw_only=True):
    """Every cent with its owner.

    ``merchandise_cents`` (after all coupons) + ``tax_cents`` = ``total_cents`` = sum of
    ``tenders``. ``shelf_cents``: the tags' sum before any sale; ``out_of_pocket_cents``: the cash.
    """

    format: Literal["counterfoil-receipt-1"] = "counterfoil-receipt-1"
    store: Id
    units: tuple[UnitOnReceipt, ...]
    coupons: tuple[CouponTaken, ...]
    taxes: tuple[TaxLine, ...]
    tenders: tuple[TenderLine, ...]
    earned: tuple[Earned, ...]
    shelf_cents: int
    merchandise_cents: int
    tax_cents: int
    total_cents: int
    out_of_pocket_cents: int
    why: tuple[Text, ...] = ()


class Refusal(Doc, frozen=True, kw_only=True):
    """The register says no: which ``rule``, to which ``subject`` (a coupon's, offer's or
    tender's id), in a plain ``sentence``. A value, not an exception."""

    format: Literal["counterfoil-refusal-1"] = "counterfoil-refusal-1"
    rule: Text
    subject: Text
    sentence: Text


# --- the plan -----------------------------------------------------------------------


class Stack(Doc, frozen=True, kw_only=True):
    """The smallest group of units that share coupons, as the shopper is shown it.

    ``times``: how many equal stacks lie in the transaction. ``parts``: (what, cents off) in
    the register's order. ``paid_cents``: one stack at the register, before tax.
    ``units``: indexes of the first of the equal stacks, in belt order.
    """

    want: Id
    products: tuple[Id, ...]
    times: int
    tag_cents: int
    parts: tuple[tuple[Text, int], ...]
    paid_cents: int
    words: Text
    units: tuple[int, ...]


class PlannedTransaction(Doc, frozen=True, kw_only=True):
    """One transaction of the plan, in checkout order.

    ``hand_over``: coupon ids in handing-over order. ``prints``: what the register must print
    or load, in words. ``saved_slips``: ids of slips that come from here and pay later.
    """

    store: Id
    number: int
    transaction: Transaction
    receipt: Receipt
    stacks: tuple[Stack, ...]
    hand_over: tuple[Id, ...]
    prints: tuple[Text, ...]


class Deal(Doc, frozen=True, kw_only=True):
    """What one want costs in the plan, as a planner would write it down.

    Cents for all its units: at the tag, at the register (tax apart), after rewards, after
    rebates. ``unit_price``: net per unit of measure, ready to show; ``stock_up``: hers.
    ``verdict``: how the two compare.
    """

    want: Id
    store: Id
    product: Id
    units: int
    place: Text
    tag_cents: int
    register_cents: int
    tax_cents: int
    reward_cents: int
    rebate_cents: int
    net_cents: int
    unit_price: Text
    stock_up: Text
    verdict: Literal["at or under", "over", "no stock-up price"]


class Unmet(Doc, frozen=True, kw_only=True):
    """A need that the plan cannot meet: how many units are missing and what is in the way."""

    want: Id
    missing: int
    because: Text


class RebateClaim(Doc, frozen=True, kw_only=True):
    """A rebate (or set bonus, ``times`` 1) to claim after the trip, by ``until``."""

    rebate: Id
    times: int
    cents: int
    until: DateText | None = None
    bonus: bool = False


class Totals(Doc, frozen=True, kw_only=True):
    """The trip in cents.

    ``paid``: register totals, tax included, whatever the tender. ``rewards``/``rebates`` at
    face, ``*_worth`` at the shopper's worth. ``net = paid - rewards_worth - rebates_worth``.
    ``worth``: stock-up worth of the units bought. ``left_slips``: face of slips unspent.
    """

    shelf_cents: int = 0
    paid_cents: int = 0
    tax_cents: int = 0
    out_of_pocket_cents: int = 0
    rewards_cents: int = 0
    rewards_worth_cents: int = 0
    rebates_cents: int = 0
    rebates_worth_cents: int = 0
    net_cents: int = 0
    worth_cents: int = 0
    saved_cents: int = 0
    left_slips_cents: int = 0
    transactions: int = 0


class Proof(Doc, frozen=True, kw_only=True):
    """How sure the plan is: ``optimal``, or the most that a better one could save, in cents. Where nothing
    says how much that is, ``gap_cents`` is 0 beside ``optimal`` false, and ``words`` say why.
    ``net_optimal``: nothing has a lower net cost, though the same might buy more or take less cash."""

    optimal: bool
    net_optimal: bool = False
    gap_cents: int = 0
    words: Text = ""


class Plan(Doc, frozen=True, kw_only=True):
    """What the shopper carries. ``transactions`` in the order of the drive and of checkout."""

    format: Literal["counterfoil-plan-1"] = "counterfoil-plan-1"
    trip: Id
    trip_version: int
    transactions: tuple[PlannedTransaction, ...]
    deals: tuple[Deal, ...]
    unmet: tuple[Unmet, ...]
    rebates: tuple[RebateClaim, ...]
    totals: Totals
    proof: Proof
    notes: tuple[Text, ...] = ()


# --- what happened ------------------------------------------------------------------


class InTrolley(Doc, frozen=True, kw_only=True, tag_field="kind", tag="in_trolley"):
    """``units`` more (or fewer, negative) of a product lie in the trolley at a store."""

    store: Id
    product: Id
    units: Annotated[int, Meta(ge=-10_000, le=10_000)]


class ShelfEmpty(Doc, frozen=True, kw_only=True, tag_field="kind", tag="shelf_empty"):
    """No (more) unit of the product is to be had at the store; what lies in the trolley stays."""

    store: Id
    product: Id


class PriceSeen(Doc, frozen=True, kw_only=True, tag_field="kind", tag="price_seen"):
    """The tag shows ``cents``; a deal on the tag stays as planned unless ``without_deal``."""

    store: Id
    product: Id
    cents: Cents
    without_deal: bool = False


class Found(Doc, frozen=True, kw_only=True, tag_field="kind", tag="found"):
    """Another variant found on the shelf for a want. ``product_data`` when the trip has none such."""

    want: Id
    store: Id
    product: Id
    cents: Cents
    product_data: Product | None = None


class CouponCopies(Doc, frozen=True, kw_only=True, tag_field="kind", tag="coupon_copies"):
    """So many copies more (a peelable found) or fewer (left at home, refused) of a coupon."""

    coupon: Id
    copies: Annotated[int, Meta(ge=-10_000, le=10_000)]


class CouponFound(Doc, frozen=True, kw_only=True, tag_field="kind", tag="coupon_found"):
    """A coupon that the trip did not know, found in the store (peeled off a package). Where the trip
    has one of that id, the trip's own words stand and its copies come on top."""

    coupon: Coupon


class Chosen(Doc, frozen=True, kw_only=True, tag_field="kind", tag="chosen"):
    """At least so many ``units`` of a product are to be bought at a store: a swap that she picked,
    whatever the planner would have picked. An empty shelf there takes it back."""

    store: Id
    product: Id
    units: PositiveUnits


class NeedChanged(Doc, frozen=True, kw_only=True, tag_field="kind", tag="need_changed"):
    """The want's numbers from now on; 0 and 0 is "leave it"."""

    want: Id
    need: Units
    welcome: Units


class RainCheckTaken(Doc, frozen=True, kw_only=True, tag_field="kind", tag="rain_check_taken"):
    """The shelf is empty and the store gave a rain check: ``units`` at ``cents`` each on a later visit,
    ``until`` its last day. That many units are no longer looked for on this trip."""

    store: Id
    product: Id
    units: PositiveUnits
    cents: Cents
    until: DateText | None = None


class TransactionDone(Doc, frozen=True, kw_only=True, tag_field="kind", tag="transaction_done"):
    """A transaction went through the register: its input, the total that the register showed
    (None: as planned), and the slips that really came out."""

    transaction: Transaction
    shown_total_cents: Cents | None = None
    printed: tuple[Slip, ...] | None = None


class NotPrinted(Doc, frozen=True, kw_only=True, tag_field="kind", tag="not_printed"):
    """A reward of an earlier transaction (its event's ``done``) did not come out."""

    done: Text
    offer: Id


class Undone(Doc, frozen=True, kw_only=True, tag_field="kind", tag="undone"):
    """Takes back the event with this id."""

    event: Text


Report = (
    InTrolley
    | ShelfEmpty
    | PriceSeen
    | Found
    | CouponCopies
    | CouponFound
    | Chosen
    | NeedChanged
    | RainCheckTaken
    | TransactionDone
    | NotPrinted
    | Undone
)


class Event(Doc, frozen=True, kw_only=True):
    """One entry of the phone's log. ``id``: UUIDv7 made on the device; ``counter``: the
    device's own running number; ``at``: the device's clock, ISO 8601, shown, never trusted."""

    id: Annotated[str, Meta(min_length=1, max_length=64)]
    device: Annotated[str, Meta(min_length=1, max_length=64)]
    counter: Annotated[int, Meta(ge=0, le=2**53 - 1)]
    at: Annotated[str, Meta(max_length=40)]
    trip: Id
    what: Report


class Swap(Doc, frozen=True, kw_only=True):
    """One thing to do about an empty shelf, with what it does to the whole trip.

    ``net_change_cents``: against the plan with the shelf full (worth of units counted
    against it when ``value_change_cents`` is read instead)."""

    action: Literal["swap", "elsewhere", "leave"]
    product: Id | None
    store: Id | None
    units: int
    net_change_cents: int
    value_change_cents: int
    words: Text
    reports: tuple[Report, ...]


class Happened(msgspec.Struct, frozen=True):
    """The reports in order, each with its event id ("" where there is none)."""

    entries: tuple[tuple[str, Report], ...] = ()


class Alternative(Doc, frozen=True, kw_only=True):
    """One way the trip could go instead, replanned whole.

    ``units`` and ``net_cents``: of the product at the store (net after rewards and rebates);
    ``unit_price``: ready to show, "" where none is bought; ``trip_net_change_cents`` and
    ``trip_value_change_cents``: against the plan (value: net cost less worth)."""

    words: Text
    units: int
    net_cents: int
    unit_price: Text
    trip_net_change_cents: int
    trip_value_change_cents: int


class PriceRow(Doc, frozen=True, kw_only=True):
    """What a product's deal comes to at one tag price. ``is_break_even``: the highest tag that is right."""

    tag_cents: int
    units: int
    register_cents: int
    net_cents: int
    unit_price: Text
    verdict: Text
    is_break_even: bool = False
