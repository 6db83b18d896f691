"""What is wrong with records among all the others: the engine's own checks, told for what is changed.

The household's records are no trip, but what a trip may not hold, they may not either. A
finding names the record's place in ``changed`` and the path inside it (``asks[0].products[2]``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

import msgspec

from ..engine.findings import Papers, Problem
from ..engine.measure import UNITS, NotMeasured, measures_of
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
    Want,
)
from ..engine.records import RECORD_CHECKS, UNIT_MEND, is_a_date
from ..engine.references import REFERENCE_CHECKS
from .household import Staple, TripDraft
from .kinds import Record, id_of, kind_of


class Known(msgspec.Struct, frozen=True, kw_only=True):
    """What is there already and may be named. Tags: those of the products that are changed will do."""

    stores: Mapping[str, Store] = {}
    products: Mapping[str, Product] = {}
    rebates: Mapping[str, Rebate] = {}
    rewards: Mapping[str, RewardOffer] = {}
    staples: Mapping[str, Staple] = {}
    prices: Sequence[ShelfPrice] = ()


class Misfit(msgspec.Struct, frozen=True, kw_only=True):
    """A finding about ``changed[place]``: the ``field`` inside it ("" for the whole), value and mend."""

    place: int
    field: str
    value: str
    mend: str


R = TypeVar("R")


def check_records(changed: Sequence[Record], known: Known) -> list[Misfit]:
    """Every finding about the records that are ``changed``, once all of them are in."""
    new = {(kind_of(record).name, id_of(record)) for record in changed}

    def all_of(kind: type[R], name: str, others: Iterable[R]) -> list[tuple[str, R]]:
        mine = [(f"changed[{n}]", r) for n, r in enumerate(changed) if isinstance(r, kind)]
        kept = [("kept", r) for r in others if (name, id_of(r)) not in new]  # pyright: ignore[reportArgumentType]  # records all
        return [*kept, *mine]

    stores = all_of(Store, "store", known.stores.values())
    products = all_of(Product, "product", known.products.values())
    tags = all_of(ShelfPrice, "price", known.prices)
    papers = Papers(
        whole=True,
        stores=stores,
        products=products,
        prices=[(path, tag) for path, tag in tags if not _stands(tag)],
        coupons=all_of(Coupon, "coupon", ()),
        percent_offers=all_of(PercentOffer, "percent_offer", ()),
        rewards=all_of(RewardOffer, "reward", known.rewards.values()),
        rebates=all_of(Rebate, "rebate", known.rebates.values()),
        set_bonuses=all_of(SetBonus, "set_bonus", ()),
        slips=all_of(Slip, "slip", ()),
        gift_cards=all_of(GiftCard, "gift_card", ()),
        rain_checks=all_of(RainCheck, "rain_check", ()),
        wants=[
            (f"changed[{n}]", Want(id=r.id, products=r.products))
            for n, r in enumerate(changed)
            if isinstance(r, Staple)
        ],
    )
    # A tag without days stands until a dated one covers it: the two may meet.
    standing = Papers(
        whole=True,
        stores=[("kept", store) for _, store in stores],
        products=[("kept", product) for _, product in products],
        prices=[(path, tag) for path, tag in tags if _stands(tag)],
        coupons=(),
        percent_offers=(),
        rewards=(),
        rain_checks=(),
    )
    checks = (*REFERENCE_CHECKS, *RECORD_CHECKS)
    problems = [problem for each in (papers, standing) for check in checks for problem in check(each)]
    by_id = {product.id: product for _, product in products}
    staples = {staple.id: staple for _, staple in all_of(Staple, "staple", known.staples.values())}
    for n, record in enumerate(changed):
        if isinstance(record, Staple):
            problems.extend(_staple(f"changed[{n}]", record, by_id))
        if isinstance(record, TripDraft):
            problems.extend(_draft(f"changed[{n}]", record, {store.id for _, store in stores}, staples))
    return list(_of_changed(problems))


def _stands(tag: ShelfPrice) -> bool:
    return tag.from_date is None and tag.until is None


def _of_changed(problems: Iterable[Problem]) -> Iterator[Misfit]:
    for problem in problems:
        place, _, field = problem.field.partition(".")
        if place.startswith("changed["):
            at = int(place.removeprefix("changed[").removesuffix("]"))
            yield Misfit(place=at, field=field, value=problem.value, mend=problem.mend)


def _staple(path: str, staple: Staple, products: Mapping[str, Product]) -> Iterator[Problem]:
    if staple.per not in UNITS:
        yield Problem(f"{path}.per", staple.per, UNIT_MEND)
        return
    for index, name in enumerate(staple.products):
        product = products.get(name)
        if product is None or product.size.unit not in UNITS:
            continue  # said elsewhere
        try:
            measures_of(product, staple.per)
        except NotMeasured as wrong:
            yield Problem(f"{path}.products[{index}]", name, wrong.mend)
        except ZeroDivisionError:
            continue


def _draft(path: str, draft: TripDraft, stores: set[str], staples: Mapping[str, Staple]) -> Iterator[Problem]:
    yield from is_a_date(f"{path}.day", draft.day)
    for index, store in enumerate(draft.stores):
        if store not in stores:
            yield Problem(f"{path}.stores[{index}]", store, "there is no such store: choose one of the list")
    for index, needed in enumerate(draft.needs):
        if needed.staple not in staples:
            yield Problem(f"{path}.needs[{index}].staple", needed.staple, "there is no such staple")
        if needed.welcome < needed.need:
            mend = f"at least the {needed.need} needed"
            yield Problem(f"{path}.needs[{index}].welcome", str(needed.welcome), mend)


def refers_to(record: Record) -> Iterator[tuple[str, str]]:
    """Every ``(kind, id)`` that a record names: what may not be removed before it."""
    match record:
        case ShelfPrice() | RainCheck():
            yield "store", record.store
            yield "product", record.product
        case Coupon():
            yield from (("store", store) for store in record.stores)
            yield from (("product", product) for asks in record.asks for product in asks.products)
        case PercentOffer() | RewardOffer():
            yield "store", record.store
            yield from (("product", product) for product in record.products)
        case Rebate():
            yield from (("store", store) for store in record.stores)
            yield from (("product", product) for product in record.products)
        case SetBonus():
            yield from (("rebate", rebate) for rebate in record.rebates)
        case Slip() | GiftCard():
            yield "store", record.store
        case Staple():
            yield from (("product", product) for product in record.products)
        case TripDraft():
            yield from (("store", store) for store in record.stores)
            yield from (("staple", needed.staple) for needed in record.needs)
        case Store():
            if record.channel_of is not None:
                yield "store", record.channel_of
        case _:
            return
