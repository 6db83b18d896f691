"""Every kind of record that a household keeps: its type, its name on pages, and how it is found.

A record is an engine struct (or one of ``household.py``) kept as JSON under ``(kind, id)``. A tag has no
id of its own: it is kept under its store, product and first day.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import Any, NamedTuple, cast

import msgspec

from ..engine.offers import (
    Coupon,
    GiftCard,
    PercentOffer,
    Product,
    RainCheck,
    Rebate,
    RewardOffer,
    SetBonus,
    ShelfPrice,
    Slip,
    Store,
)
from .binder import CouponMark
from .household import HouseholdSettings, Staple, TripDraft

Record = (
    Store
    | Product
    | ShelfPrice
    | Coupon
    | PercentOffer
    | RewardOffer
    | Rebate
    | SetBonus
    | Slip
    | GiftCard
    | RainCheck
    | CouponMark
    | Staple
    | TripDraft
    | HouseholdSettings
)

# Equal records are equal bytes, so that a change which changes nothing is seen to be none.
_encode = msgspec.json.Encoder(order="deterministic").encode


class Kind(NamedTuple):
    """A kind: its ``type``, what one is called on pages, and what many are."""

    name: str
    type: type[Any]
    one: str
    many: str


KINDS: Mapping[str, Kind] = {
    kind.name: kind
    for kind in (
        Kind("store", Store, "store", "stores"),
        Kind("product", Product, "product", "products"),
        Kind("price", ShelfPrice, "tag", "tags"),
        Kind("coupon", Coupon, "coupon", "coupons"),
        Kind("percent_offer", PercentOffer, "percent offer", "percent offers"),
        Kind("reward", RewardOffer, "reward", "rewards"),
        Kind("rebate", Rebate, "rebate", "rebates"),
        Kind("set_bonus", SetBonus, "set bonus", "set bonuses"),
        Kind("slip", Slip, "slip", "slips"),
        Kind("gift_card", GiftCard, "gift card", "gift cards"),
        Kind("rain_check", RainCheck, "rain check", "rain checks"),
        Kind("coupon_mark", CouponMark, "mark on a coupon", "marks on coupons"),
        Kind("staple", Staple, "staple", "staples"),
        Kind("trip_draft", TripDraft, "trip in the making", "trips in the making"),
        Kind("settings", HouseholdSettings, "settings", "settings"),
    )
}

_KIND_OF: Mapping[type[Any], Kind] = {kind.type: kind for kind in KINDS.values()}
_READERS = {name: msgspec.json.Decoder(kind.type).decode for name, kind in KINDS.items()}


def kind_of(record: Record) -> Kind:
    """The kind that a record is of."""
    return _KIND_OF[type(record)]


def id_of(record: Record) -> str:
    """What the record is kept under. A tag: ``STORE:PRODUCT:FIRST-DAY`` (no id may hold a colon)."""
    if isinstance(record, ShelfPrice):
        return f"{record.store}:{record.product}:{record.from_date or ''}"
    return record.id


def ends_of(record: Record) -> str:
    """The last day on which it is of use, "" where there is none."""
    return cast("str | None", getattr(record, "until", None)) or ""


def starts_of(record: Record) -> str:
    """The first day on which it is of use, "" where there is none."""
    return cast("str | None", getattr(record, "from_date", None)) or ""


def title_of(record: Record) -> str:
    """What it is called in a list; its id where it has no name."""
    match record:
        case Store() | Staple():
            name = record.name
        case Product() | Coupon() | PercentOffer() | RewardOffer() | Rebate() | SetBonus():
            name = record.description
        case ShelfPrice():
            name = f"{record.product} at {record.store}"
        case TripDraft():
            name = record.title
        case HouseholdSettings():
            name = "Settings"
        case Slip() | GiftCard() | RainCheck() | CouponMark():
            name = f"{kind_of(record).one} {record.id}".capitalize()
    return name or id_of(record)


def words_of(record: Record, *more: str) -> str:
    """What a search looks through, in small letters. ``more``: names of what it only refers to by id."""
    parts = (id_of(record), title_of(record), *_further_words(record), *more)
    return " ".join(part for part in parts if part).lower()


def _further_words(record: Record) -> tuple[str, ...]:
    match record:
        case Store():
            return (record.region, record.note)
        case Product():
            size = f"{record.size.amount} {record.size.unit}"
            return (record.category, record.gtin or "", size, record.note)
        case ShelfPrice():
            return (record.kind, record.place, record.place_note)
        case Coupon():
            return (record.issuer, record.form, record.where, record.legible, *record.stores)
        case RewardOffer():
            return (record.store, record.kind)
        case PercentOffer() | Slip() | GiftCard() | RainCheck():
            return (record.store,)
        case Rebate():
            return record.stores
        case SetBonus():
            return record.rebates
        case Staple():
            return (*record.products, record.note)
        case TripDraft():
            return (record.day,)
        case CouponMark() | HouseholdSettings():
            return ()


def encode(record: Record) -> bytes:
    """The record as JSON; equal records give equal bytes."""
    return _encode(_with_own_defaults(record))


def _with_own_defaults(value: Any) -> Any:
    """The same value, its structs' defaults the very objects: msgspec leaves a nested default out by
    identity, so rules that were typed out as they are by default would else be bytes of their own."""
    if isinstance(value, tuple):
        return tuple(_with_own_defaults(one) for one in cast("tuple[Any, ...]", value))
    if not isinstance(value, msgspec.Struct):
        return value
    changed: dict[str, Any] = {}
    for name, default in _defaults(type(value)):
        kept = getattr(value, name)
        own = default if kept == default else _with_own_defaults(kept)
        if own is not kept:
            changed[name] = own
    return msgspec.structs.replace(value, **changed) if changed else value


def decode(kind: str, document: bytes) -> Record:
    """The record that was kept. Raises ``msgspec.ValidationError`` for one that is none of that kind."""
    return cast("Record", _READERS[kind](document))


@cache
def _defaults(kind: type[msgspec.Struct]) -> tuple[tuple[str, Any], ...]:
    return tuple((field.name, field.default) for field in msgspec.structs.fields(kind))
