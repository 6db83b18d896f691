"""Every legal way of one unit: the steps of the register that it goes through, and what each leaves of it.

Worked figure: tag 4.78, percent offer 25 %, manufacturer coupon 1.25: the way costs
478 - 120 - 125 = 233 cents.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations
from itertools import product as cartesian

import msgspec

from .handing_over import choices_of, handed_over, order_matters
from .money import round_half_up
from .offers import (
    BasketOff,
    BuyOneGetOne,
    CentsOff,
    Coupon,
    FixedPrice,
    FreeItem,
    NForM,
    PercentOff,
    Product,
    RainCheck,
    ShelfPrice,
)
from .ways import Counter, Level, OfferOn, Slot, Way, asks_for, is_multiplied, parts, units_asked


class UnitState(msgspec.Struct, frozen=True):
    """A unit on its way through the steps: what is left of it and who took what."""

    left: int
    shelf: int
    percents: tuple[OfferOn, ...] = ()
    slots: tuple[Slot, ...] = ()
    store_off: int = 0
    maker_off: int = 0
    extra_off: int = 0
    store_surplus: int = 0
    maker_surplus: int = 0


def levels(tag: ShelfPrice | None, rain_checks: tuple[RainCheck, ...]) -> list[Level]:
    """The prices that a unit of the product can have after step 1 of the register."""
    found = [Level("rain_check", check.cents, check.id) for check in rain_checks]
    if tag is None:
        return found
    match tag.deal:
        case None:
            return [Level("plain", tag.cents), *found]
        case NForM(n=n, cents=cents, must_buy=must_buy):
            low, odd = divmod(cents, n)
            grouped = [Level("group", low)]
            if odd:
                grouped.insert(0, Level("first", low + 1))
            if must_buy:
                grouped.append(Level("rest", tag.cents))
            return [*grouped, *found]
        case BuyOneGetOne(off_bp=off_bp):
            reduced = tag.cents - round_half_up(tag.cents * off_bp, 10_000)
            return [Level("full", tag.cents), Level("reduced", reduced), *found]


def _percent_steps(unit: UnitState, source: str, bp: int, counter: Counter) -> Iterator[UnitState]:
    """The unit after one percent discount; two answers where rounding per line decides the cent."""
    rules = counter.store.rules
    base = unit.shelf if rules.percent_base == "shelf" else unit.left
    floor, rest = divmod(base * bp, 10_000)
    answers = [round_half_up(base * bp, 10_000)]
    if rules.percent_rounding == "line" and rest:
        answers = [floor, floor + 1]
    for cents in answers:
        cents = min(cents, unit.left)
        yield msgspec.structs.replace(
            unit,
            left=unit.left - cents,
            store_off=unit.store_off + cents,
            percents=(*unit.percents, OfferOn(source, bp, base, cents, floor >= unit.left)),
        )


def take_off(unit: UnitState, coupon: Coupon, cents: int, extra: int, surplus: int, slot: Slot) -> UnitState:
    """The unit after a coupon took ``cents`` (and ``extra`` of the store's) off it."""
    ours = coupon.issuer == "store"
    return msgspec.structs.replace(
        unit,
        left=unit.left - cents - extra,
        slots=(*unit.slots, slot),
        store_off=unit.store_off + (cents if ours else 0),
        maker_off=unit.maker_off + (0 if ours else cents),
        extra_off=unit.extra_off + extra,
        store_surplus=unit.store_surplus + (surplus if ours else 0),
        maker_surplus=unit.maker_surplus + (0 if ours else surplus),
    )


def _coupon_steps(
    unit: UnitState, coupon: Coupon, product: str, counter: Counter, multiplied: bool
) -> Iterator[UnitState]:
    """The unit after each slot that it can fill in a use of the coupon (steps 3 and 4)."""
    asked = units_asked(coupon)
    rules = counter.store.rules
    for leg, ask in enumerate(coupon.asks):
        if not asks_for(ask.products, product):
            continue
        for index, part in enumerate(parts(coupon, counter, multiplied)):
            slot = Slot(coupon.id, leg, index, multiplied, part.free, unit.left)
            match coupon.gives:
                case CentsOff():
                    surplus = part.cents - unit.left
                    if surplus > 0 and (asked > 1 or rules.overage == "refuse"):
                        continue
                    if asked > 1 and part.cents + part.extra > unit.left:
                        continue  # the rest passes to the coupon's other units: a bundle
                    cents = min(part.cents, unit.left)
                    extra = min(part.extra, unit.left - cents)
                    kept = max(surplus, 0) if rules.overage == "basket" else 0
                    if cents + extra + kept == 0 and part.cents:
                        continue
                    yield take_off(unit, coupon, cents, extra, kept, slot)
                case FixedPrice():
                    yield take_off(unit, coupon, max(unit.left - part.cents, 0), 0, 0, slot)
                case PercentOff(bp=bp):
                    base = unit.shelf if rules.percent_base == "shelf" else unit.left
                    cents = min(round_half_up(base * bp, 10_000), unit.left)
                    # Nothing off this unit may still make up the number that the coupon asks for.
                    if cents or asked > 1:
                        yield take_off(unit, coupon, cents, 0, 0, slot)
                case FreeItem() as gives:
                    if part.free and gives.leg is not None and gives.leg != leg:
                        continue
                    if not part.free:
                        yield take_off(unit, coupon, 0, 0, 0, slot)
                        continue
                    cents = round_half_up(unit.left * gives.off_bp, 10_000)
                    cents = cents if gives.up_to_cents is None else min(cents, gives.up_to_cents)
                    if cents:
                        yield take_off(unit, coupon, cents, 0, 0, slot)
                case BasketOff():
                    continue


def multiplications(coupon: Coupon, counter: Counter) -> list[bool]:
    """Multiplied or not: both where the house counts them, else as the coupon is."""
    rule = counter.store.rules.multiplying
    if rule is None or not is_multiplied(coupon, counter):
        return [False]
    return [True] if rule.per_transaction is None else [True, False]


def with_coupons(
    unit: UnitState, chosen: tuple[Coupon, ...], product: str, counter: Counter
) -> Iterator[UnitState]:
    """The unit after every way to fill a slot of each chosen coupon, in the order given.

    A house that multiplies some only does so with those that come first."""

    def after_each(unit: UnitState, rest: tuple[Coupon, ...], may_multiply: bool) -> Iterator[UnitState]:
        if not rest:
            yield unit
            return
        variants = multiplications(rest[0], counter)
        for multiplied in variants if may_multiply else [each for each in variants if not each]:
            passed_over = in_order and not multiplied and len(variants) > 1
            for after in _coupon_steps(unit, rest[0], product, counter, multiplied):
                yield from after_each(after, rest[1:], may_multiply and not passed_over)

    in_order = order_matters(chosen)
    return after_each(unit, chosen, True)


def _with_percents(
    unit: UnitState, sources: tuple[tuple[str, int], ...], counter: Counter
) -> Iterator[UnitState]:
    """The unit after each of the percent discounts, in the order given."""
    if not sources:
        yield unit
        return
    for after in _percent_steps(unit, sources[0][0], sources[0][1], counter):
        yield from _with_percents(after, sources[1:], counter)


def _offers_in_order(offers: list[tuple[str, int]], counter: Counter) -> list[tuple[tuple[str, int], ...]]:
    """Every choice of percent offers on a unit, in every order as far as that matters."""
    rules = counter.store.rules
    chosen = choices_of(offers, rules.percent_offers_per_unit)
    if rules.percent_base == "shelf":
        return chosen
    return [order for each in chosen for order in permutations(each)]


def _taxable(unit: UnitState, counter: Counter) -> int:
    """What tax is reckoned on, by the treatment that holds at the store (DEVELOPERS.md, step 6)."""
    off = {
        "none": 0,
        "store_funded": unit.store_off + unit.extra_off,
        "all": unit.store_off + unit.extra_off + unit.maker_off,
    }[counter.store.tax.treatment]
    return max(unit.shelf - off, 0)


def finished(unit: UnitState, product: str, level: Level, counter: Counter) -> Way:
    """The way that a unit is, once every step is done."""
    after_store = unit.shelf - unit.store_off
    return Way(
        store=counter.store.id,
        product=product,
        level=level,
        percents=unit.percents,
        slots=unit.slots,
        cost=unit.left - unit.store_surplus - unit.maker_surplus,
        taxable=_taxable(unit, counter),
        spends=(unit.shelf, after_store, after_store - unit.maker_off - unit.extra_off),
        surplus_lowers_tax=counter.store.tax.treatment == "all"
        or (counter.store.tax.treatment == "store_funded" and unit.store_surplus > 0),
    )


def unit_coupons(counter: Counter, issuer: str, product: str) -> list[Coupon]:
    """The coupons of one issuer that can claim a unit of the product, basket coupons apart."""
    return [
        coupon
        for coupon in counter.coupons
        if coupon.issuer == issuer
        and not isinstance(coupon.gives, BasketOff)
        and any(asks_for(ask.products, product) for ask in coupon.asks)
    ]


def unit_states(
    product: Product, tag: ShelfPrice | None, counter: Counter, with_maker: bool = True
) -> list[tuple[Level, UnitState]]:
    """Every state that one unit of the product can leave the register in."""
    rules = counter.store.rules
    offers = [(offer.id, offer.bp) for offer in counter.offers if asks_for(offer.products, product.id)]
    store_coupons = unit_coupons(counter, "store", product.id)
    maker_coupons = unit_coupons(counter, "manufacturer", product.id) if with_maker else []
    own_checks = tuple(check for check in counter.rain_checks if check.product == product.id)
    found: list[tuple[Level, UnitState]] = []
    choices = cartesian(
        levels(tag, own_checks),
        _offers_in_order(offers, counter),
        _by_step(handed_over(store_coupons, rules.store_coupons_per_unit), counter),
        handed_over(maker_coupons, rules.manufacturer_coupons_per_unit),
    )
    for level, percents, (percent_coupons, cents_coupons), makers in choices:
        if (percent_coupons or cents_coupons) and makers and not rules.store_with_manufacturer:
            continue
        start = UnitState(left=level.cents, shelf=level.cents)
        for after_offers in _with_percents(start, percents, counter):
            for after_percents in _with_percent_coupons(after_offers, percent_coupons, product.id, counter):
                for after_store in with_coupons(after_percents, cents_coupons, product.id, counter):
                    for done in with_coupons(after_store, makers, product.id, counter):
                        found.append((level, done))
    return found


def _by_step(
    choices: list[tuple[Coupon, ...]], counter: Counter
) -> list[tuple[tuple[Coupon, ...], tuple[Coupon, ...]]]:
    """Store coupons on a unit: the percent ones (step 2) and the others (step 3), each in their order."""
    found: dict[tuple[tuple[str, ...], tuple[str, ...]], tuple[tuple[Coupon, ...], tuple[Coupon, ...]]] = {}
    for chosen in choices:
        percents = [coupon for coupon in chosen if isinstance(coupon.gives, PercentOff)]
        if counter.store.rules.percent_base == "shelf":
            percents.sort(key=lambda coupon: coupon.id)
        others = tuple(coupon for coupon in chosen if not isinstance(coupon.gives, PercentOff))
        key = (tuple(coupon.id for coupon in percents), tuple(coupon.id for coupon in others))
        found.setdefault(key, (tuple(percents), others))
    return list(found.values())


def _with_percent_coupons(
    unit: UnitState, chosen: tuple[Coupon, ...], product: str, counter: Counter
) -> Iterator[UnitState]:
    """The unit after percent store coupons (step 2), each filling a slot of its coupon."""
    if not chosen:
        yield unit
        return
    coupon = chosen[0]
    assert isinstance(coupon.gives, PercentOff)
    # Nothing off this unit may still make up the coupon's number, or the line's sum.
    by_itself = units_asked(coupon) == 1 and counter.store.rules.percent_rounding == "unit"
    for leg, ask in enumerate(coupon.asks):
        if not asks_for(ask.products, product):
            continue
        for after in _percent_steps(unit, coupon.id, coupon.gives.bp, counter):
            if after.left == unit.left and by_itself:
                continue
            slot = Slot(coupon.id, leg, 0, left_before=unit.left)
            taken = msgspec.structs.replace(after, slots=(*after.slots, slot))
            yield from _with_percent_coupons(taken, chosen[1:], product, counter)
