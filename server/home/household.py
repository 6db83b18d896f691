"""What a household keeps beside the engine's records: staples, trips in the making, its settings.

Units as in ``engine/offers.py``. A *staple* is something that the household always has or buys again: several
products that will do, how fast it goes, and its stock-up price. The wants of a trip come from staples.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta

from ..engine.offers import (
    Cents,
    DateText,
    DecimalText,
    Doc,
    Id,
    Pinned,
    Settings,
    StockUp,
    Text,
    Units,
)

SETTINGS_ID = "household"  # there is one record of kind ``settings``


class Staple(Doc, frozen=True, kw_only=True):
    """Acceptable ``products`` in order of preference, and what is known of their use at home.

    ``per``: the unit of measure in which it is used and compared (``measure.py``; "roll", "oz").
    ``weekly_use``: so many ``per`` a week (None: taken from what was used and counted).
    ``keep``: never fewer at home; ``room``: there is space for so many (None: no limit), both in ``per``.
    ``stock_up_cents``: hers, for one ``per`` (None: the proposal of the price book is only shown).
    """

    id: Id
    name: Text
    products: Annotated[tuple[Id, ...], Meta(min_length=1, max_length=60)]
    per: Id = "piece"
    stock_up_cents: DecimalText | None = None
    weekly_use: DecimalText | None = None
    keep: DecimalText = "0"
    room: DecimalText | None = None
    note: Text = ""

    @property
    def stock_up(self) -> StockUp | None:
        """Her stock-up price as the engine has it."""
        return None if self.stock_up_cents is None else StockUp(cents=self.stock_up_cents, per=self.per)


class Needed(Doc, frozen=True, kw_only=True):
    """What she wants of a staple on one trip, whatever the larder says: ``need`` units, up to ``welcome``."""

    staple: Id
    need: Units
    welcome: Units


class Forbidden(Doc, frozen=True, kw_only=True):
    """What the plan must not use. ``what``: a product (at ``store``, or anywhere), a coupon, a percent
    offer, a reward, a rebate."""

    what: Literal["product", "coupon", "percent_offer", "reward", "rebate"]
    id: Id
    store: Id | None = None


class TransactionsAt(Doc, frozen=True, kw_only=True):
    """So many ``transactions`` at most at a store on one trip, whatever its house rules say."""

    store: Id
    transactions: Annotated[int, Meta(ge=1, le=6)]


class TripDraft(Doc, frozen=True, kw_only=True):
    """A trip in the making. ``stores`` in the order of the drive. ``needs``: where she overrides the larder;
    a staple that is in neither is wanted as the larder says. ``left_out``: staples not for this trip."""

    id: Id
    title: Text
    day: DateText
    stores: Annotated[tuple[Id, ...], Meta(max_length=20)] = ()
    region: Text = ""
    cash_cents: Cents | None = None
    needs: Annotated[tuple[Needed, ...], Meta(max_length=1_000)] = ()
    left_out: Annotated[tuple[Id, ...], Meta(max_length=1_000)] = ()
    pinned: Annotated[tuple[Pinned, ...], Meta(max_length=500)] = ()
    forbidden: Annotated[tuple[Forbidden, ...], Meta(max_length=2_000)] = ()
    transactions: Annotated[tuple[TransactionsAt, ...], Meta(max_length=20)] = ()
    settings: Settings | None = None


class HouseholdSettings(Doc, frozen=True, kw_only=True):
    """What holds for every trip, unless a draft says otherwise. ``currency`` and ``exponent`` as a trip's.

    ``weeks_between_trips``: needs look so far ahead. ``stock_up_quantile``: the price book proposes the
    stock-up price below which so many in a hundred of the prices seen lie. ``remind_days``: how long
    before an end the calendar reminds.
    """

    id: Literal["household"] = SETTINGS_ID
    currency: Annotated[str, Meta(pattern=r"^[A-Z]{3}$")] = "USD"
    exponent: Annotated[int, Meta(ge=0, le=4)] = 2
    region: Text = ""
    settings: Settings = Settings()
    weeks_between_trips: Annotated[int, Meta(ge=1, le=52)] = 1
    stock_up_quantile: Annotated[int, Meta(ge=1, le=50)] = 20
    remind_days: Annotated[int, Meta(ge=0, le=60)] = 3
