"""Rows of a table or of JSON as the household's records, before they are compared with what is there."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple, cast

import msgspec

from ..engine.offers import Cents, DateText, Doc, Id, Trip, Units, Want
from ..intake.bad_input import BadInput, Finding, shorten
from ..intake.tables.cells import Currency
from ..intake.tables.columns import plain_heading
from ..intake.tables.delimited import MOST_ROWS, read_table_text
from ..intake.tables.flat_values import NotARecord
from ..intake.tables.lists import is_json, read_list
from ..intake.tables.records import Heading, heading_of, named_in, read_heading, record_of
from .household import Staple
from .kinds import KINDS, id_of


class PriceOnADay(Doc, frozen=True, kw_only=True):
    """A price seen: ``cents`` on the tag; ``each_cents``: one unit with the tag's deal (None: the same)."""

    product: Id
    store: Id
    day: DateText
    cents: Cents
    each_cents: Cents | None = None


class StockCount(Doc, frozen=True, kw_only=True):
    """``units`` of a product were counted at home on a day."""

    product: Id
    day: DateText
    units: Units


class TableKind(NamedTuple):
    """What the rows of a table are: the ``type`` of one, what one is called, what many are."""

    name: str
    type: type[Any]
    one: str
    many: str


PRICE_HISTORY, STOCK = "price_history", "stock"
# Trips in the making and settings are made at the Desk, one at a time.
_RECORDS = (
    *("store", "product", "price", "coupon", "percent_offer", "reward", "rebate", "set_bonus"),
    *("slip", "gift_card", "rain_check", "staple"),
)
TABLE_KINDS: Mapping[str, TableKind] = {
    **{name: TableKind(*KINDS[name]) for name in _RECORDS},
    PRICE_HISTORY: TableKind(PRICE_HISTORY, PriceOnADay, "price seen", "price history"),
    STOCK: TableKind(STOCK, StockCount, "stock count", "stock counts"),
}
TABLE_TYPES: Mapping[str, type[Any]] = {name: kind.type for name, kind in TABLE_KINDS.items()}


class Row(msgspec.Struct, frozen=True, kw_only=True):
    """A row as read. ``record`` None: it is none, and ``findings`` say why."""

    row: int
    kind: str
    id: str
    record: Any | None
    findings: tuple[Finding, ...] = ()


class Rows(msgspec.Struct, frozen=True, kw_only=True):
    """A file as read. ``notes``: what holds for the file (columns that are left out)."""

    kinds: tuple[str, ...]
    rows: tuple[Row, ...]
    notes: tuple[Finding, ...] = ()


def read_rows(
    data: bytes,
    kind: str | None,
    records: Mapping[str, Mapping[str, Any]],
    currency: Currency,
    *,
    most_rows: int = MOST_ROWS,
) -> Rows:
    """The rows of a CSV or JSON file. ``records``: the household's, by kind and id, for what a table leaves
    out. Raises ``BadInput`` where the file as a whole cannot be read."""
    if is_json(data):
        listed, trip = read_list(data, kind, TABLE_TYPES, most_rows=most_rows)
        if trip is not None:
            rows = tuple(_of_trip(trip, records))
        else:
            rows = tuple(
                Row(row=e.row, kind=e.kind, id=_id(e.record), record=e.record, findings=e.findings)
                for e in listed
            )
        return Rows(kinds=tuple(dict.fromkeys(row.kind for row in rows)), rows=rows)
    table = read_table_text(data, most_rows=most_rows)
    name = kind or _kind_of(table.heading)
    of = TABLE_TYPES[name]
    heading = read_heading(of, table.heading)
    _usable(name, heading)
    kept = records.get(name, {})
    rows = tuple(_row(line.row, name, heading, line.cells, kept, currency) for line in table.lines)
    notes = tuple(
        Finding(field=shorten(words), value="", mend=f"no column of {TABLE_KINDS[name].many}: it is left out")
        for words in heading.unknown
    )
    return Rows(kinds=(name,), rows=rows, notes=notes)


def key_column(kind: str) -> str:
    """The column that tells best which record a row of a kind is."""
    return "product" if kind in ("price", PRICE_HISTORY, STOCK) else "id"


def _row(
    number: int,
    name: str,
    heading: Heading,
    cells: Sequence[str],
    kept: Mapping[str, Any],
    currency: Currency,
) -> Row:
    of = TABLE_TYPES[name]
    id = ""
    try:
        values = named_in(of, heading, cells, currency)
        id = _id_in(name, values)
        record = record_of(of, values, kept.get(id), currency)
    except NotARecord as wrong:
        return Row(
            row=number, kind=name, id=id or _id_in(name, wrong.values), record=None, findings=wrong.findings
        )
    return Row(row=number, kind=name, id=_id(record), record=record)


def _id(record: Any) -> str:
    match record:
        case PriceOnADay():
            return f"{record.product}:{record.store}:{record.day}:{record.cents}:{_each(record)}"
        case StockCount():
            return f"{record.product}:{record.day}"
        case None:
            return ""
        case _:
            return id_of(record)


def _each(price: PriceOnADay) -> int:
    return price.cents if price.each_cents is None else price.each_cents


def _id_in(name: str, values: Mapping[Any, Any]) -> str:
    """The id of the record that a row's values speak of."""

    def text(field: str) -> str:
        value = values.get((field,))
        return value if isinstance(value, str) else ""

    if name == "price":
        return f"{text('store')}:{text('product')}:{text('from_date')}"
    return text("id") or text("product")


def _usable(name: str, heading: Heading) -> None:
    """Raises ``BadInput`` where a table cannot be matched to records at all."""
    wrong = [
        Finding(field=words, value="two columns", mend="keep one of them: both have its values")
        for words in heading.twice
    ]
    keys = ("store", "product") if name == "price" else ("id",) if name in KINDS else ()
    wrong.extend(
        Finding(
            field=words,
            value="no such column",
            mend=f"every row of {TABLE_KINDS[name].many} needs it: add it to the heading",
        )
        for words in heading.missing
        if words in keys or name not in KINDS
    )
    if wrong:
        raise BadInput(*wrong)


def _kind_of(heading: Sequence[str]) -> str:
    """The one kind whose needed columns are all there and that knows most of the heading."""
    known: dict[str, tuple[int, int]] = {}
    plain = [plain_heading(words) for words in heading]
    for name, of in TABLE_TYPES.items():
        found = read_heading(of, heading)
        if not found.missing:
            synonyms = sum(words not in heading_of(of) for words in plain)
            known[name] = (len(found.unknown), synonyms)
    best = [name for name, unknown in known.items() if unknown == min(known.values())]
    if len(best) == 1:
        return best[0]
    choices = ", ".join(TABLE_KINDS[name].many for name in best or TABLE_KINDS)
    mend = f"its columns do not tell what the rows are: choose one of {choices}"
    raise BadInput(Finding(field="kind", value=shorten(", ".join(heading)), mend=mend))


def _of_trip(trip: Trip, records: Mapping[str, Mapping[str, Any]]) -> Iterator[Row]:
    """A trip's records; its wants as staples, which keep what a want does not say."""
    kept = cast("Mapping[str, Staple]", records.get("staple", {}))
    sections: tuple[tuple[str, Sequence[Any]], ...] = (
        ("store", trip.stores),
        ("product", trip.products),
        ("price", trip.prices),
        ("coupon", trip.coupons),
        ("percent_offer", trip.percent_offers),
        ("reward", trip.rewards),
        ("rebate", trip.rebates),
        ("set_bonus", trip.set_bonuses),
        ("slip", trip.wallet.slips),
        ("gift_card", trip.wallet.gift_cards),
        ("rain_check", trip.wallet.rain_checks),
        ("staple", [_staple(want, kept.get(want.id)) for want in trip.wants]),
    )
    for kind, section in sections:
        for number, record in enumerate(section, start=1):
            yield Row(row=number, kind=kind, id=id_of(record), record=record)


def _staple(want: Want, before: Staple | None) -> Staple:
    of = before or Staple(id=want.id, name=want.name or want.id, products=want.products)
    changed = msgspec.structs.replace(of, products=want.products, name=want.name or of.name)
    if want.stock_up is None:
        return changed
    return msgspec.structs.replace(changed, stock_up_cents=want.stock_up.cents, per=want.stock_up.per)
