"""The nouns: every document that the engine reads, as msgspec structs.

These structs are the one description of a trip. Their JSON Schema is exported by
``counterfoil schema``, served to the phone, and is what a hand-written trip file is
checked against. What a type cannot say (references that must exist, dates in order) is
in ``check.py``.

Units, everywhere: money in integer minor units of the trip's currency (called *cents*);
percents in basis points (``bp``, 10,000 = 100 %); tax rates in parts per 100,000
(8.875 % = 8,875); sizes and stock-up prices as decimal strings, read exactly.
Dates are ISO 8601 calendar dates; a range includes both of its ends.
"""

from __future__ import annotations

from typing import Annotated, Literal

import msgspec
from msgspec import Meta

Id = Annotated[str, Meta(min_length=1, max_length=80, pattern=r"^[A-Za-z0-9][A-Za-z0-9._-]*$")]
Text = Annotated[str, Meta(max_length=400)]
# 10^7 cents is a hundred thousand dollars: no household's shelf tag is above it, and sums of
# a whole trip stay far below 2^53, the largest integer both languages count exactly.
Cents = Annotated[int, Meta(ge=0, le=10_000_000)]
PositiveCents = Annotated[int, Meta(ge=1, le=10_000_000)]
Copies = Annotated[int, Meta(ge=0, le=10_000)]
Units = Annotated[int, Meta(ge=0, le=10_000)]
PositiveUnits = Annotated[int, Meta(ge=1, le=10_000)]
BasisPoints = Annotated[int, Meta(ge=0, le=10_000)]
PartsPer100000 = Annotated[int, Meta(ge=0, le=100_000)]
DecimalText = Annotated[str, Meta(pattern=r"^[0-9]{1,9}(\.[0-9]{1,6})?$")]
DateText = Annotated[str, Meta(pattern=r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
Gtin = Annotated[str, Meta(pattern=r"^[0-9]{8}$|^[0-9]{12,14}$")]

Measure = Literal["before_coupons", "after_store_coupons", "after_all_coupons"]
Form = Literal["insert", "printable", "digital", "on_package", "register"]
Issuer = Literal["manufacturer", "store"]
RewardKind = Literal["slip", "gift_card", "points"]


class Doc(msgspec.Struct, frozen=True, forbid_unknown_fields=True, omit_defaults=True):
    """Common settings: immutable, an unknown field is an error, not a shrug.

    ``kw_only`` is not inherited by msgspec structs, and type checkers want ``frozen`` repeated, so
    each says both for itself."""


# --- stores -------------------------------------------------------------------------


class Multiplying(Doc, frozen=True, kw_only=True):
    """A house that multiplies ("doubles") manufacturer coupons.

    A coupon with a face value up to ``up_to_cents`` counts ``times`` times. The first
    ``per_transaction`` such coupons handed over in a transaction are multiplied (None: all).
    The extra part is the store's money and never exceeds what is left of the item.
    """

    times: Annotated[int, Meta(ge=2, le=5)] = 2
    up_to_cents: Cents = 50
    per_transaction: Copies | None = None


class HouseRules(Doc, frozen=True, kw_only=True):
    """One store's rules at the register. ``rules.py`` has the plain sentence for each."""

    manufacturer_coupons_per_unit: Annotated[int, Meta(ge=0, le=2)] = 1
    store_coupons_per_unit: Annotated[int, Meta(ge=0, le=2)] = 1
    percent_offers_per_unit: Annotated[int, Meta(ge=0, le=2)] = 1
    store_with_manufacturer: bool = True
    like_coupons_per_transaction: Copies | None = 4
    coupons_no_more_than_items: bool = True
    slip_counts_as_manufacturer_coupon: bool = False
    percent_base: Literal["shelf", "left"] = "shelf"
    percent_rounding: Literal["unit", "line"] = "unit"
    multiplying: Multiplying | None = None
    overage: Literal["cut", "basket", "refuse"] = "cut"
    basket_coupons_per_transaction: Annotated[int, Meta(ge=0, le=3)] = 1
    slips_buy_gift_cards: bool = False
    transactions_per_visit: Annotated[int, Meta(ge=1, le=6)] = 2


class Tax(Doc, frozen=True, kw_only=True):
    """Sales tax where the store stands: settings, never advice; the printed receipt decides.

    ``rates``: tax class -> parts per 100,000. A class that is not named is not taxed.
    ``treatment``: which coupons lower the taxed amount. ``store_funded``: store coupons,
    percent offers and the extra part of a multiplied coupon; ``all``: these and the
    manufacturer's; ``none``: no coupon does. A sale price is a price, not a coupon.
    ``basis``: one rounding per transaction and class (``invoice``) or per unit (``item``).
    """

    rates: dict[str, PartsPer100000] = {}
    treatment: Literal["store_funded", "all", "none"] = "store_funded"
    basis: Literal["invoice", "item"] = "invoice"


class Store(Doc, frozen=True, kw_only=True):
    """A place to buy. ``channel_of`` names the parent when this is another channel of a
    store (an online order for pick-up): copies and purchase limits are shared with it."""

    id: Id
    name: Text
    rules: HouseRules = HouseRules()
    tax: Tax = Tax()
    region: Text = ""
    channel_of: Id | None = None
    cash_ceiling_cents: Cents | None = None
    note: Text = ""


# --- products and prices ------------------------------------------------------------


class Size(Doc, frozen=True, kw_only=True):
    """How much is in one unit: ``amount`` of ``unit`` (``measure.py`` lists the units)."""

    amount: DecimalText
    unit: Id


class Product(Doc, frozen=True, kw_only=True):
    """One variant on the shelf. Two scents are two products.

    ``pieces``: countable pieces in the pack (rolls, tablets, bars), for prices per piece.
    """

    id: Id
    description: Text
    category: Text = ""
    size: Size = Size(amount="1", unit="piece")
    pieces: Annotated[int, Meta(ge=1, le=10_000)] = 1
    tax_class: Text = ""
    gtin: Gtin | None = None
    note: Text = ""


class NForM(Doc, frozen=True, kw_only=True, tag_field="kind", tag="n_for_m"):
    """``n`` for ``cents``. With ``must_buy`` only whole groups get the price, the rest pays
    the tag's ``cents``; without, the k-th unit costs ceil(m*k/n) - ceil(m*(k-1)/n)."""

    n: Annotated[int, Meta(ge=2, le=100)]
    cents: PositiveCents
    must_buy: bool = False


class BuyOneGetOne(Doc, frozen=True, kw_only=True, tag_field="kind", tag="buy_one_get_one"):
    """A sale in pairs: the cheaper unit of a pair is reduced by ``off_bp`` (10,000: free).

    ``mix``: tags of one store with the same word pair with each other; the dearest two
    units make the first pair, and so on down.
    """

    off_bp: Annotated[int, Meta(ge=1, le=10_000)] = 10_000
    mix: Text = ""


class ShelfPrice(Doc, frozen=True, kw_only=True):
    """A tag: product x store. ``cents`` is one unit's price on the tag.

    ``regular_cents``: the price without the sale, for "you saved" (None: as ``cents``).
    ``low_cents``/``high_cents``: the range where the price differs by region.
    """

    store: Id
    product: Id
    cents: Cents
    regular_cents: Cents | None = None
    low_cents: Cents | None = None
    high_cents: Cents | None = None
    kind: Literal["regular", "sale", "clearance"] = "regular"
    deal: NForM | BuyOneGetOne | None = None
    from_date: DateText | None = None
    until: DateText | None = None
    place: Text = ""
    place_note: Text = ""
    per_transaction: PositiveUnits | None = None
    per_visit: PositiveUnits | None = None


class RainCheck(Doc, frozen=True, kw_only=True):
    """A slip that lets the shopper have ``units`` at an old sale price, alone or beside
    the tag (``wallet.rain_checks``)."""

    id: Id
    store: Id
    product: Id
    cents: Cents
    units: PositiveUnits
    until: DateText | None = None


# --- wants --------------------------------------------------------------------------


class StockUp(Doc, frozen=True, kw_only=True):
    """The stock-up price: ``cents`` (a decimal, "25" or "2.5") ``per`` unit of measure.

    At or under it one more is worth buying. ``per`` is a unit of ``measure.py``; "piece" and
    its kin ("roll", "tablet", ...) count the product's ``pieces``.
    """

    cents: DecimalText
    per: Id = "piece"


class Want(Doc, frozen=True, kw_only=True):
    """What the household would take: acceptable ``products`` in order of preference.

    ``need`` units must come home, up to ``welcome`` units in all (at least ``need``).
    A unit is one pack on the shelf. Without a stock-up price nothing beyond the need is
    worth its money by itself; such a want with ``need`` 0 is a *filler*, bought only where
    it lowers the cost of the trip.
    """

    id: Id
    products: Annotated[tuple[Id, ...], Meta(min_length=1, max_length=60)]
    name: Text = ""
    need: Units = 0
    welcome: Units = 0
    stock_up: StockUp | None = None


# --- coupons and offers -------------------------------------------------------------


class CentsOff(Doc, frozen=True, kw_only=True, tag_field="kind", tag="cents_off"):
    """``cents`` off, once, over all the units that the coupon asks for, spread evenly
    (the odd cents on the first), by region where ``regional_cents`` has the trip's."""

    cents: PositiveCents
    regional_cents: dict[str, PositiveCents] = {}


class PercentOff(Doc, frozen=True, kw_only=True, tag_field="kind", tag="percent_off"):
    """``bp`` off each unit that the coupon asks for."""

    bp: Annotated[int, Meta(ge=1, le=10_000)]


class FreeItem(Doc, frozen=True, kw_only=True, tag_field="kind", tag="free_item"):
    """The cheapest claimed unit is reduced by ``off_bp`` (10,000: free), at most ``up_to_cents``.

    A coupon that asks for 1 unit makes that unit free; one that asks for 2 is "buy one get
    one". ``leg``: only units of that requirement (0 for the first) may be the reduced one.
    """

    off_bp: Annotated[int, Meta(ge=1, le=10_000)] = 10_000
    up_to_cents: PositiveCents | None = None
    leg: Annotated[int, Meta(ge=0, le=3)] | None = None


class FixedPrice(Doc, frozen=True, kw_only=True, tag_field="kind", tag="fixed_price"):
    """The claimed units together cost ``cents``, spread evenly (the odd cents on the first)."""

    cents: Cents


class BasketOff(Doc, frozen=True, kw_only=True, tag_field="kind", tag="basket_off"):
    """``cents`` off the transaction from a spend of ``from_cents`` on eligible products."""

    cents: PositiveCents
    from_cents: Cents
    measure: Measure = "before_coupons"


class Asks(Doc, frozen=True, kw_only=True):
    """One requirement of an offer: ``units`` of any of ``products`` (empty: everything)."""

    products: Annotated[tuple[Id, ...], Meta(max_length=2_000)] = ()
    units: Annotated[int, Meta(ge=1, le=100)] = 1


class Coupon(Doc, frozen=True, kw_only=True):
    """A coupon in hand.

    ``asks``: one requirement, or several that all must be met ("one a and one b"). A basket
    coupon has one, whose products are the eligible ones.
    ``stores``: where it is taken (empty: anywhere; a store coupon names its store).
    ``copies`` in hand; further limits per transaction, per day and per household, the last
    including earlier weeks' uses already taken off by the planner.
    ``serial``/``legible``: what is printed on it, shown large at the register.
    """

    id: Id
    description: Text
    issuer: Issuer
    form: Form
    gives: CentsOff | PercentOff | FreeItem | FixedPrice | BasketOff
    asks: Annotated[tuple[Asks, ...], Meta(min_length=1, max_length=4)]
    stores: tuple[Id, ...] = ()
    copies: Copies = 1
    per_transaction: Copies | None = None
    per_day: Copies | None = None
    per_household: Copies | None = None
    from_date: DateText | None = None
    until: DateText | None = None
    may_multiply: bool = True
    where: Text = ""
    legible: Text = ""


class PercentOffer(Doc, frozen=True, kw_only=True):
    """A store's loyalty offer: ``bp`` off named products, on so many units in a transaction,
    in so many transactions of the visit."""

    id: Id
    store: Id
    description: Text
    bp: Annotated[int, Meta(ge=1, le=10_000)]
    products: Annotated[tuple[Id, ...], Meta(max_length=2_000)] = ()
    units_per_transaction: PositiveUnits | None = None
    transactions: PositiveUnits | None = None
    from_date: DateText | None = None
    until: DateText | None = None


class Tier(Doc, frozen=True, kw_only=True):
    """From ``threshold`` (units, or cents of spend) get ``cents`` back."""

    threshold: Annotated[int, Meta(ge=1, le=10_000_000)]
    cents: PositiveCents


class RewardOffer(Doc, frozen=True, kw_only=True):
    """ "Buy n" (``by`` units) or "spend s" (``by`` spend) of named products, get value back.

    One tier: earned ``progress div threshold`` times in a transaction. Several tiers: the
    highest one reached, once. ``rolls``: whether a slip earned from this offer may pay in a
    transaction that earns it again. ``valid_days``: 0 means usable on the day itself only.
    """

    id: Id
    store: Id
    description: Text
    kind: RewardKind
    tiers: Annotated[tuple[Tier, ...], Meta(min_length=1, max_length=6)]
    by: Literal["units", "spend"] = "units"
    measure: Measure = "before_coupons"
    products: Annotated[tuple[Id, ...], Meta(max_length=2_000)] = ()
    per_transaction: PositiveUnits | None = 1
    per_household: PositiveUnits | None = None
    rolls: bool = True
    valid_days: Annotated[int, Meta(ge=0, le=3_650)] = 14
    from_date: DateText | None = None
    until: DateText | None = None


class Rebate(Doc, frozen=True, kw_only=True):
    """Cash back claimed after the trip: ``cents`` for every ``units`` of ``products``.

    ``from_receipt_cents``: the units must lie on one receipt of at least that much
    (merchandise after all coupons, before tax). ``deadline_days`` after the purchase.
    """

    id: Id
    description: Text
    cents: PositiveCents
    products: Annotated[tuple[Id, ...], Meta(max_length=2_000)]
    units: PositiveUnits = 1
    limit: Copies = 1
    stores: tuple[Id, ...] = ()
    from_receipt_cents: Cents = 0
    needs_receipt: bool = True
    deadline_days: Annotated[int, Meta(ge=0, le=3_650)] = 7
    from_date: DateText | None = None
    until: DateText | None = None


class SetBonus(Doc, frozen=True, kw_only=True):
    """Claim each of ``rebates`` at least once and get ``cents`` more, once."""

    id: Id
    description: Text
    cents: PositiveCents
    rebates: Annotated[tuple[Id, ...], Meta(min_length=2, max_length=40)]


# --- the wallet and the trip --------------------------------------------------------


class Slip(Doc, frozen=True, kw_only=True):
    """A reward slip in hand. ``offer`` names the reward offer that printed it, if of this trip."""

    id: Id
    store: Id
    cents: PositiveCents
    until: DateText | None = None
    offer: Id | None = None


class GiftCard(Doc, frozen=True, kw_only=True):
    """A balance at one store."""

    id: Id
    store: Id
    cents: Cents


class Wallet(Doc, frozen=True, kw_only=True):
    """What the shopper carries. ``cash_cents``: the most cash she will put down (None: no ceiling)."""

    slips: tuple[Slip, ...] = ()
    gift_cards: tuple[GiftCard, ...] = ()
    rain_checks: tuple[RainCheck, ...] = ()
    cash_cents: Cents | None = None


class Worth(Doc, frozen=True, kw_only=True):
    """What a cent of each kind is worth to the shopper, in basis points of face."""

    slip_bp: BasisPoints = 10_000
    gift_card_bp: BasisPoints = 10_000
    points_bp: BasisPoints = 10_000
    rebate_bp: BasisPoints = 10_000


class Settings(Doc, frozen=True, kw_only=True):
    """The shopper's own settings.

    ``further_transaction_cents``: what each transaction beyond the first at a store is worth
    avoiding; ``further_store_cents``: what each store visited is worth avoiding (the drive).
    ``days_to_next_visit``: a slip that lapses before then and is not spent on this trip is
    worth nothing.
    """

    worth: Worth = Worth()
    further_transaction_cents: Cents = 0
    further_store_cents: Cents = 0
    days_to_next_visit: Annotated[int, Meta(ge=0, le=365)] = 7


class Pinned(Doc, frozen=True, kw_only=True):
    """At least so many ``units`` of a product are to be bought at a store, whatever is cheaper."""

    store: Id
    product: Id
    units: PositiveUnits


class Trip(Doc, frozen=True, kw_only=True):
    """Everything a trip is planned from. ``stores`` stand in the order in which she drives.

    ``pinned``: chosen at home, as ``Chosen`` is in the aisle: a want's ceiling rises with it, and an
    empty shelf takes it back.
    """

    format: Literal["counterfoil-trip-1"] = "counterfoil-trip-1"
    id: Id
    title: Text
    day: DateText
    version: Annotated[int, Meta(ge=1, le=1_000_000)] = 1
    currency: Annotated[str, Meta(pattern=r"^[A-Z]{3}$")] = "USD"
    exponent: Annotated[int, Meta(ge=0, le=4)] = 2
    region: Text = ""
    stores: Annotated[tuple[Store, ...], Meta(min_length=1, max_length=20)]
    products: Annotated[tuple[Product, ...], Meta(max_length=5_000)]
    prices: Annotated[tuple[ShelfPrice, ...], Meta(max_length=20_000)]
    wants: Annotated[tuple[Want, ...], Meta(max_length=1_000)] = ()
    coupons: Annotated[tuple[Coupon, ...], Meta(max_length=5_000)] = ()
    percent_offers: Annotated[tuple[PercentOffer, ...], Meta(max_length=1_000)] = ()
    rewards: Annotated[tuple[RewardOffer, ...], Meta(max_length=500)] = ()
    rebates: Annotated[tuple[Rebate, ...], Meta(max_length=1_000)] = ()
    set_bonuses: Annotated[tuple[SetBonus, ...], Meta(max_length=200)] = ()
    wallet: Wallet = Wallet()
    settings: Settings = Settings()
    pinned: Annotated[tuple[Pinned, ...], Meta(max_length=500)] = ()
