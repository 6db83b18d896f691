"""The demo household as records: an invented town's week, taken apart into what a Desk keeps.

``demo/trip.json`` has the stores, goods, tags and offers; ``demo/household.json`` what the household knows
beside them: its staples, what it counted at home, and the prices that it saw over half a year. The
larder then asks for just what the trip wants. ``demo/earlier.json`` has the trips before it
(``demo_trips.py``).

The files are written for one week. What is kept of them is moved to the coming one, by whole weeks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from .demo_trips import EarlierTrips
from .engine.offers import Trip
from .home.household import HouseholdSettings, Needed, Staple, TripDraft
from .home.kinds import Record
from .home.moved_days import Json, days_moved, weeks_until_coming
from .homes import Home
from .intake.documents import read_trip
from .shipped import demo_folder
from .store.facts import Facts, PriceRow, StockRow

# Of its prices and counts. Sorted behind trips: what one brought home on the day of a count was counted too.
SOURCE = "typed-example"


class _Counted(msgspec.Struct, forbid_unknown_fields=True):
    product: str
    day: str
    units: int


class _Seen(msgspec.Struct, forbid_unknown_fields=True):
    store: str
    product: str
    cents: Mapping[str, int]


class _Kept(msgspec.Struct, forbid_unknown_fields=True):
    """``demo/household.json``. ``seen``: the tag of a product at a store, in cents by day."""

    staples: tuple[Staple, ...]
    counted: tuple[_Counted, ...]
    seen: tuple[_Seen, ...]


class DemoHousehold(msgspec.Struct, frozen=True, kw_only=True):
    """``records``: all of them, the trip in the making among them. ``earlier``: what the trips before it are
    made of."""

    trip: Trip
    earlier: EarlierTrips
    draft: TripDraft
    records: tuple[Record, ...]
    prices: Sequence[PriceRow]
    stock: Sequence[StockRow]


def demo_household(today: str | None = None) -> DemoHousehold:
    """The demo household, read from its files: as they are written, or moved by whole weeks so that its trip
    is on the coming Saturday, which may be ISO ``today``."""
    weeks = 0
    if today is not None:
        weeks = weeks_until_coming(read_trip(demo_folder() / "trip.json").day, today)
    trip = read_trip(_moved("trip.json", weeks))
    kept = msgspec.json.decode(_moved("household.json", weeks), type=_Kept)
    earlier = msgspec.json.decode(_moved("earlier.json", weeks), type=EarlierTrips)
    fillers = [want for want in trip.wants if want.stock_up is None and not want.need]
    draft = TripDraft(
        id=trip.id,
        title=trip.title,
        day=trip.day,
        stores=tuple(store.id for store in trip.stores),
        cash_cents=trip.wallet.cash_cents,
        # A filler is never missing at home, so the larder does not ask for it.
        needs=tuple(Needed(staple=want.id, need=want.need, welcome=want.welcome) for want in fillers),
    )
    settings = HouseholdSettings(
        currency=trip.currency, exponent=trip.exponent, region=trip.region, settings=trip.settings
    )
    return DemoHousehold(
        trip=trip,
        earlier=earlier,
        draft=draft,
        records=(
            *trip.stores,
            *trip.products,
            *earlier.products(),
            *trip.prices,
            *trip.coupons,
            *trip.percent_offers,
            *trip.rewards,
            *trip.rebates,
            *trip.set_bonuses,
            *trip.wallet.slips,
            *trip.wallet.gift_cards,
            *trip.wallet.rain_checks,
            *kept.staples,
            settings,
            draft,
        ),
        prices=[
            PriceRow(
                product=seen.product, store=seen.store, day=day, cents=cents, each_cents=cents, how="typed"
            )
            for seen in kept.seen
            for day, cents in seen.cents.items()
        ],
        stock=[
            StockRow(product=each.product, day=each.day, units=each.units, how="counted")
            for each in kept.counted
        ],
    )


async def move_in(home: Home, facts: Facts, household: DemoHousehold, device: str) -> int:
    """Keeps the demo household's records as one batch, which can be taken back; its number. Records of
    the same names are replaced."""
    batch = await home.save(household.records, words="The example household of Vellinghay", device=device)
    await facts.replace(SOURCE, household.prices, household.stock)
    return batch


def _moved(file: str, weeks: int) -> bytes:
    document: Json = msgspec.json.decode((demo_folder() / file).read_bytes())
    return msgspec.json.encode(days_moved(document, weeks))
