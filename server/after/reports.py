"""The reports over all trips and weeks, each a plain table.

One currency at a time: amounts of two currencies are never added. ``spending.py`` defines what was paid and
saved; ``costs.py`` what a category costs by its measure; ``paper_reports.py`` has what is owed and lapsed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from ..engine.money import round_half_up
from .books import Books
from .claims import Claim
from .costs import category_costs
from .notes import TimeSpent
from .once import once
from .paper_reports import claims_in, outstanding, rebates, waste
from .spending import Spending, Spent, iso_week, monday, spent, sum_of
from .tables import Cell, Chart, Column, Money, Table, UnitPrice, decimal_text, table_of

_SPENDING = (
    Column("Transactions", "units", sums=True),
    Column("Shelf price", "cents", sums=True),
    Column("Off by sales", "cents", sums=True),
    Column("Off by the store", "cents", sums=True),
    Column("Off by manufacturer coupons", "cents", sums=True),
    Column("Goods", "cents", sums=True),
    Column("Tax", "cents", sums=True),
    Column("Unexplained", "cents", sums=True),
    Column("Paid", "cents", sums=True),
    Column("Given back", "cents", sums=True),
    Column("Rewards earned", "cents", sums=True),
)
_SPENDING_WORDS = (
    "Shelf price: the regular price on the tag where it is known, else the tag, so an unknown regular price"
    " saves nothing. Less sales, less what the store took off (its coupons, percent offers, multiplied"
    " parts), less manufacturer coupons: the goods. With tax, and what a register showed beyond its papers:"
    " what was paid. Rewards stand at face and are no part of it."
)


def currencies(books: Books) -> list[tuple[str, int]]:
    """Every currency that was spent or planned in, with its digits, the latest first."""
    found = [(each.trip.currency, each.trip.exponent) for each in books.trips]
    found = [*((each.currency, each.exponent) for each in spent(books)), *found]
    return list(dict.fromkeys(reversed(found))) or [("USD", 2)]


@once
def reports(books: Books, today: str, currency: str, exponent: int) -> tuple[Table, ...]:
    """Every report in one currency, as of ``today``."""
    money = (currency, exponent)
    return (
        by_week(books, today, money),
        by_trip(books, today, money),
        by_category(books, today, money),
        outstanding(books, today, money),
        rebates(books, today, money),
        waste(books, today, money),
        by_hour(books, today, money),
    )


def by_week(books: Books, today: str, money: Money) -> Table:
    """What every ISO week cost and saved, weeks without a purchase left out."""
    weeks: dict[str, list[Spent]] = {}
    for each in _in(spent(books), money):
        weeks.setdefault(iso_week(each.day), []).append(each)
    back = _rebates_by(books, today, money, lambda claim: iso_week(claim.day))
    rows = [
        (week, monday(of[0].day), *_cells(sum_of([each.spending for each in of])), *back.get(week, (0, 0)))
        for week, of in sorted(weeks.items())
    ]
    return table_of(
        "weeks",
        "Week by week",
        f"{_SPENDING_WORDS} A rebate belongs to the week of the purchase.",
        (Column("Week", "text"), Column("From", "date"), *_SPENDING, *_REBATED),
        rows,
        money,
        Chart("From", ("Paid", "Off by sales", "Off by the store", "Off by manufacturer coupons")),
    )


_REBATED = (Column("Rebates paid", "cents", sums=True), Column("Rebates pending", "cents", sums=True))


def by_trip(books: Books, today: str, money: Money) -> Table:
    """What every trip and unplanned purchase cost and saved."""
    back = _rebates_by(books, today, money, lambda claim: claim.trip)
    rows = [
        (each.title, each.day, *_cells(each.spending), *back.get(each.trip, (0, 0)))
        for each in _in(spent(books), money)
    ]
    return table_of(
        "trips",
        "Trip by trip",
        _SPENDING_WORDS,
        (Column("Trip", "text"), Column("Day", "date"), *_SPENDING, *_REBATED),
        rows,
        money,
    )


def by_category(books: Books, today: str, money: Money) -> Table:
    """What a unit of measure of each category cost in every ISO week, beside her stock-up price."""
    per_measure, at_stock_up = f"Net per measure, {money[0]}", f"Stock-up price, {money[0]}"
    rows = [
        (
            cost.week,
            cost.monday,
            cost.category,
            cost.per,
            cost.packs,
            decimal_text(cost.measure, 3),
            cost.net_cents,
            UnitPrice(cost.net_cents / cost.measure, cost.per),
            None if cost.stock_up is None else UnitPrice(cost.stock_up, cost.per),
        )
        for cost in category_costs(books, today)
        if (cost.currency, cost.exponent) == money
    ]
    return table_of(
        "categories",
        "What a unit of measure costs",
        "Net: paid with tax, less rewards and rebates at what they are worth to you; a rebate that lapsed or"
        " was refused is worth nothing, one that was paid counts as paid. Cents that no paper explains are"
        " left out. The stock-up price is the mean over what was bought, where every product has one.",
        (
            Column("Week", "text"),
            Column("From", "date"),
            Column("Category", "text"),
            Column("Measure", "measure"),
            Column("Packs", "units", sums=True),
            Column("Amount", "decimal"),
            Column("Net", "cents", sums=True),
            Column(per_measure, "unit price"),
            Column(at_stock_up, "unit price"),
        ),
        rows,
        money,
        Chart("From", (per_measure, at_stock_up), ("Category", "Measure")),
    )


def by_hour(books: Books, today: str, money: Money) -> Table:
    """What an hour of each trip brought, where its time was noted."""
    minutes: dict[str, int] = {}
    for note in books.notes:
        if isinstance(note.what, TimeSpent):
            minutes[note.what.trip] = minutes.get(note.what.trip, 0) + note.what.minutes
    back = _rebates_by(books, today, money, lambda claim: claim.trip)
    rows: list[tuple[Cell, ...]] = []
    for each in _in(spent(books), money):
        if each.trip not in minutes:
            continue
        paid, pending = back.get(each.trip, (0, 0))
        offers = each.spending.store + each.spending.maker
        value = each.spending.saved + each.spending.rewards + paid + pending
        per_hour = round_half_up(value * 60, minutes[each.trip])
        parts = (each.spending.sales, offers, each.spending.rewards, paid + pending)
        rows.append((each.title, each.day, minutes[each.trip], *parts, value, per_hour))
    return table_of(
        "hours",
        "What an hour brought",
        "Off by sales, coupons and offers, with rewards and rebates (paid and pending) at face, for the time"
        " that was noted. Sales would have been there without a coupon too: they stand apart.",
        (
            Column("Trip", "text"),
            Column("Day", "date"),
            Column("Minutes", "units", sums=True),
            Column("Sales", "cents", sums=True),
            Column("Coupons and offers", "cents", sums=True),
            Column("Rewards", "cents", sums=True),
            Column("Rebates", "cents", sums=True),
            Column("In all", "cents", sums=True),
            Column("For an hour", "cents"),
        ),
        rows,
        money,
        Chart("Day", ("For an hour",)),
    )


# --- the parts ----------------------------------------------------------------------


def _in(found: Iterable[Spent], money: Money) -> list[Spent]:
    return [each for each in found if (each.currency, each.exponent) == money]


def _cells(of: Spending) -> tuple[int, ...]:
    return (
        of.transactions,
        of.shelf,
        of.sales,
        of.store,
        of.maker,
        of.goods,
        of.tax,
        of.unexplained,
        of.paid,
        of.given_back,
        of.rewards,
    )


def _rebates_by(
    books: Books, today: str, money: Money, key: Callable[[Claim], str]
) -> dict[str, tuple[int, int]]:
    """Rebates (paid, pending) by what ``key`` says of each claim."""
    found: dict[str, tuple[int, int]] = {}
    for claim in claims_in(books, today, money):
        paid, pending = found.get(key(claim), (0, 0))
        found[key(claim)] = (paid + claim.paid_cents, pending + claim.pending_cents)
    return found
