"""A made-up household from the last Saturday of October on, every figure worked by hand.

Saturday 2026-10-31 (clocks go back that night), trip ``week-44``:

    Ostrel Pharmacy   2 soaps at 3.00 (regular 3.50), coupon 0.50           5.50
                      7 % tax on 6.00 (a maker's coupon lowers no tax)       0.42
                      reckoned 5.92, the register showed 6.02: 0.10 too much
                      prints a slip of 1.00, good until 2026-11-14
    Brindlewick       1 tea at 2.00, no tax; a gift card of 1.50 pays first  2.00
                      towels: shelf empty, rain check for 2 at 1.25 until 2026-11-28

    rebates           soap: 0.75 each, two at most, by 2026-11-07            1.50
                      tea: 0.40 for two, only one was bought                    -
                      1.00 more for claiming both                               -

Saturday 2026-11-07, trip ``week-45``, with the papers that the first one left:

    Ostrel Pharmacy   1 soap at 3.00, tax 0.21, the slip pays 1.00           3.21
    Brindlewick       2 teas at 2.00, 1 towels by rain check 1.25            5.25

    rebates           tea: 0.40, by 2026-11-14; so both are claimed: 1.00 more
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from counterfoil.after.books import AtHome, Books, open_books
from counterfoil.after.notes import ClaimNoted, ClaimState, Note, Noted
from counterfoil.after.purchases import bought
from counterfoil.engine.offers import (
    Asks,
    CentsOff,
    Coupon,
    GiftCard,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Size,
    Slip,
    StockUp,
    Store,
    Tax,
    Tier,
    Trip,
    Wallet,
    Want,
)
from counterfoil.engine.papers import (
    Event,
    Line,
    PayByCash,
    PayByGiftCard,
    PayBySlip,
    RainCheckTaken,
    Report,
    Tender,
    Transaction,
    TransactionDone,
    Use,
)

OSTREL = Store(id="ostrel", name="Ostrel Pharmacy", tax=Tax(rates={"general": 7_000}))
BRINDLEWICK = Store(id="brindlewick", name="Brindlewick Foods")
SOAP = Product(
    id="soap",
    description="Lathrin soap, 4 bars",
    category="Bath",
    size=Size(amount="4", unit="bar"),
    pieces=4,
    tax_class="general",
)
TEA = Product(
    id="tea",
    description="Hobrin tea, 20 bags",
    category="Drinks",
    size=Size(amount="20", unit="bag"),
    pieces=20,
)
TOWELS = Product(
    id="towels",
    description="Dabwick towels, 2 rolls",
    category="Paper",
    size=Size(amount="2", unit="roll"),
    pieces=2,
)
SOAP_TAG = ShelfPrice(store="ostrel", product="soap", cents=300, regular_cents=350, kind="sale")
TEA_TAG = ShelfPrice(store="brindlewick", product="tea", cents=200)
TOWELS_TAG = ShelfPrice(store="brindlewick", product="towels", cents=160)
SOAP_COUPON = Coupon(
    id="soap-50",
    description="50 cents off one Lathrin soap",
    issuer="manufacturer",
    form="insert",
    gives=CentsOff(cents=50),
    asks=(Asks(products=("soap",)),),
    copies=2,
    until="2026-11-30",
)
SOAP_REWARD = RewardOffer(
    id="soap-reward",
    store="ostrel",
    description="Buy 2 soaps, get a slip of 1.00",
    kind="slip",
    tiers=(Tier(threshold=2, cents=100),),
    products=("soap",),
)
SOAP_BACK = Rebate(
    id="soap-back",
    description="Soap, 75 cents back",
    cents=75,
    products=("soap",),
    limit=2,
    until="2026-10-31",
)
TEA_BACK = Rebate(
    id="tea-back",
    description="Two teas, 40 cents back",
    cents=40,
    products=("tea",),
    units=2,
    needs_receipt=False,
    until="2026-11-30",
)
BOTH = SetBonus(id="both", description="A dollar for both", cents=100, rebates=("soap-back", "tea-back"))

SLIP_KEY = "week-44.soap-reward.ostrel.1.1"
RAIN_CHECK_KEY = "rain-check.week-44-02"


def trip(name: str, day: str, wallet: Wallet) -> Trip:
    """A week's trip with everything that is on offer."""
    return Trip(
        id=name,
        title=name.replace("-", " ").capitalize(),
        day=day,
        stores=(OSTREL, BRINDLEWICK),
        products=(SOAP, TEA, TOWELS),
        prices=(SOAP_TAG, TEA_TAG, TOWELS_TAG),
        wants=(
            Want(id="soap", products=("soap",), need=2, stock_up=StockUp(cents="70", per="bar")),
            Want(id="tea", products=("tea",), need=1, stock_up=StockUp(cents="9", per="bag")),
            Want(id="towels", products=("towels",), need=1),
        ),
        coupons=(SOAP_COUPON,),
        rewards=(SOAP_REWARD,),
        rebates=(SOAP_BACK, TEA_BACK),
        set_bonuses=(BOTH,),
        wallet=wallet,
    )


WEEK_44 = trip(
    "week-44",
    "2026-10-31",
    Wallet(gift_cards=(GiftCard(id="brindle-card", store="brindlewick", cents=150),)),
)
WEEK_45 = trip(
    "week-45",
    "2026-11-07",
    Wallet(
        slips=(Slip(id=SLIP_KEY, store="ostrel", cents=100, until="2026-11-14", offer="soap-reward"),),
        rain_checks=(
            RainCheck(
                id=RAIN_CHECK_KEY,
                store="brindlewick",
                product="towels",
                cents=125,
                units=2,
                until="2026-11-28",
            ),
        ),
    ),
)


def belt(
    of: Trip, store: Store, *lines: Line, uses: tuple[Use, ...] = (), tenders: tuple[Tender, ...] = ()
) -> Transaction:
    """What goes over the belt at a store of a trip; cash pays what the tenders leave."""
    products = {line.product for line in lines}
    return Transaction(
        store=store,
        day=of.day,
        products=tuple(product for product in of.products if product.id in products),
        prices=tuple(tag for tag in of.prices if tag.store == store.id and tag.product in products),
        lines=lines,
        coupons=of.coupons if uses else (),
        rewards=tuple(reward for reward in of.rewards if reward.store == store.id),
        rain_checks=tuple(c for c in of.wallet.rain_checks if c.id in {line.rain_check for line in lines}),
        uses=uses,
        tenders=(*tenders, PayByCash()),
    )


def events(of: Trip, *reports: Report) -> tuple[Event, ...]:
    """The reports as events ``TRIP-01``, ``TRIP-02``, ... of one phone."""
    return tuple(
        Event(
            id=f"{of.id}-{number:02d}",
            device="phone",
            counter=number,
            at=f"{of.day}T10:{number:02d}:00Z",
            trip=of.id,
            what=report,
        )
        for number, report in enumerate(reports, start=1)
    )


SOAPS = belt(WEEK_44, OSTREL, Line(product="soap", units=2), uses=(Use(coupon="soap-50", units=(0,)),))
WEEK_44_EVENTS = events(
    WEEK_44,
    TransactionDone(transaction=SOAPS, shown_total_cents=602),
    RainCheckTaken(store="brindlewick", product="towels", units=2, cents=125, until="2026-11-28"),
    TransactionDone(
        transaction=belt(
            WEEK_44,
            BRINDLEWICK,
            Line(product="tea", units=1),
            tenders=(PayByGiftCard(cents=150, id="brindle-card"),),
        )
    ),
)
WEEK_45_EVENTS = events(
    WEEK_45,
    TransactionDone(
        transaction=belt(
            WEEK_45,
            OSTREL,
            Line(product="soap", units=1),
            tenders=(PayBySlip(cents=100, id=SLIP_KEY, offer="soap-reward"),),
        )
    ),
    TransactionDone(
        transaction=belt(
            WEEK_45,
            BRINDLEWICK,
            Line(product="tea", units=2),
            Line(product="towels", units=1, rain_check=RAIN_CHECK_KEY),
        )
    ),
)


def books(
    *rows: Note,
    week_44: Iterable[Event] = WEEK_44_EVENTS,
    week_45: Iterable[Event] = WEEK_45_EVENTS,
    at_home: AtHome | None = None,
) -> Books:
    """The household's books over both trips."""
    return open_books((bought(WEEK_44, week_44), bought(WEEK_45, week_45)), rows, at_home)


def first_week(
    *rows: Note, week_44: Iterable[Event] = WEEK_44_EVENTS, at_home: AtHome | None = None
) -> Books:
    """The books while only the first trip has been."""
    return open_books((bought(WEEK_44, week_44),), rows, at_home)


def note(name: str, day: str, what: Noted, corrects: str | None = None) -> Note:
    """One row."""
    return Note(id=name, day=day, what=what, corrects=corrects)


def claim_note(name: str, day: str, state: ClaimState, times: int = 1, cents: int | None = None) -> Note:
    """What became of the soap rebate."""
    return note(
        name, day, ClaimNoted(trip="week-44", claim="soap-back", state=state, times=times, cents=cents)
    )


def in_json(value: object) -> object:
    """Plain data, for comparing."""
    return msgspec.to_builtins(value)
