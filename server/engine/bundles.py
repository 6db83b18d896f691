"""Bundles: units that one cents-off coupon binds because its share is more than one of them costs.

What a unit has no room for passes to the coupon's other units (DEVELOPERS.md, step 4), so
their prices depend on each other and the group must be written out whole. A store coupon's
bundle may carry manufacturer coupons, one of which may itself bind units of the bundle and others.

Worked: 1.50 off two, on mints at 0.65 and soap at 3.49: 0.75 each, of which the mints take 0.65
and the soap 0.85.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from .binding import Bound, Claimed, bind
from .coupons import face_cents
from .handing_over import handed_over
from .money import share
from .offers import CentsOff, Coupon, Product, ShelfPrice, Want
from .room import Member, Room, room_at
from .unit_states import (
    finished,
    multiplications,
    unit_coupons,
    unit_states,
    with_coupons,
)
from .ways import Column, Counter, Way, asks_for, is_multiplied, units_asked

# More groups than this for one coupon at one store are not listed; the plan then says that it
# is not proven. Met only by coupons over many units of many very cheap products.
MOST_BUNDLES = 1_500
# The other orders on the belt of a coupon over more units are not listed, with the same consequence.
MOST_ORDERED = 4


def columns(
    products: list[tuple[Product, ShelfPrice | None]], counter: Counter, wants: list[Want]
) -> tuple[list[Column], bool]:
    """All columns for the wanted products of one store, sorted by key, and whether the list is whole.

    ``products``: each with its tag (None where only a rain check sells it). ``wants``: a bundle holds
    no more units than they welcome.
    """
    found: dict[str, Column] = {}
    for product, tag in products:
        for level, unit in unit_states(product, tag, counter):
            way = finished(unit, product.id, level, counter)
            found.setdefault(way.key, Column(way.key, (way,)))
    whole = all(_all_listed(product, tag, counter) for product, tag in products)
    room = room_at(counter, products, wants)
    for coupon in counter.coupons:
        if isinstance(coupon.gives, CentsOff) and units_asked(coupon) > 1:
            bundles, listed = _listed(coupon, products, counter, room)
            whole = whole and listed
            found.update((bundle.key, bundle) for bundle in bundles)
    return [found[key] for key in sorted(found)], whole


def _all_listed(product: Product, tag: ShelfPrice | None, counter: Counter) -> bool:
    """Whether every way of a unit is listed. Where two coupons of an issuer go on a unit, one with several
    requirements is listed once; and one of cents off that leaves some of its units nothing (a bundle's) with
    no other of that issuer after it, nor a manufacturer's before it. Where that might be had the plan is not
    called proven."""
    rules = counter.store.rules
    issuers = (
        ("store", rules.store_coupons_per_unit),
        ("manufacturer", rules.manufacturer_coupons_per_unit),
    )
    if all(most == 1 for _, most in issuers):
        return True
    may_bind = False
    for issuer, most in issuers:
        own = unit_coupons(counter, issuer, product.id)
        if most > 1 and any(len(coupon.asks) > 1 and coupon.copies > 1 for coupon in own):
            return False
        # A store coupon that binds leaves less for the manufacturers' than a unit by itself.
        may_bind = may_bind or _may_bind(own, most, product, tag, counter)
        binding = [each for each in own if isinstance(each.gives, CentsOff) and units_asked(each) > 1]
        several = len(own) > 1 or any(coupon.copies > 1 for coupon in own)
        if may_bind and binding and most > 1 and several:
            return False
    return True


def _may_bind(
    own: list[Coupon], most: int, product: Product, tag: ShelfPrice | None, counter: Counter
) -> bool:
    """Whether one of an issuer's coupons may be worth more than is left of a unit of the product."""
    shares = [
        _largest_share(coupon, counter)
        for coupon in own
        if isinstance(coupon.gives, CentsOff) and units_asked(coupon) > 1
    ]
    if not shares:
        return False
    names = {coupon.id for coupon in own}
    with_maker = own[0].issuer == "manufacturer"
    return any(
        unit.left < max(shares) and sum(slot.coupon in names for slot in unit.slots) < most
        for _, unit in unit_states(product, tag, counter, with_maker)
    )


def _listed(
    coupon: Coupon, products: list[tuple[Product, ShelfPrice | None]], counter: Counter, room: Room
) -> tuple[list[Column], bool]:
    """A coupon's bundles, and whether they are all. Where there are too many in every order on the belt, in
    one each."""
    for most_ordered in (MOST_ORDERED, 0):
        bundles = list(_up_to(MOST_BUNDLES + 1, _bundles(coupon, products, counter, room, most_ordered)))
        if len(bundles) <= MOST_BUNDLES:
            break
    mixed = any(len({way.product for way in bundle.ways}) > 1 for bundle in bundles)
    listed = len(bundles) <= MOST_BUNDLES and not (mixed and units_asked(coupon) > most_ordered)
    return bundles[:MOST_BUNDLES], listed


def _up_to(most: int, items: Iterator[Column]) -> Iterator[Column]:
    for _, item in zip(range(most), items, strict=False):
        yield item


def _bundles(
    coupon: Coupon,
    products: list[tuple[Product, ShelfPrice | None]],
    counter: Counter,
    room: Room,
    most_ordered: int,
) -> Iterator[Column]:
    """Every column that a coupon's binding use makes. ``most_ordered``: of so many units in every order."""
    bases = _bases(coupon, products, counter)
    if not bases or min(base.unit.left for base in bases) >= _largest_share(coupon, counter):
        return
    for multiplied in multiplications(coupon, counter):
        for group in _groups(coupon, bases, room):
            for bound in bind(coupon, group, counter, multiplied, most_ordered):
                if coupon.issuer == "manufacturer":
                    yield _column([bound.members], [bound.use], counter)
                else:
                    yield from _with_makers(bound, products, counter, room, most_ordered)


def _largest_share(coupon: Coupon, counter: Counter) -> int:
    """The most that a use takes off one unit by its even share."""
    assert isinstance(coupon.gives, CentsOff)
    face, asked = face_cents(coupon.gives, counter.region), units_asked(coupon)
    rule = counter.store.rules.multiplying
    times = rule.times if rule is not None and is_multiplied(coupon, counter) else 1
    return share(face, asked, 1) + share(face * (times - 1), asked, 1)


def _bases(
    coupon: Coupon, products: list[tuple[Product, ShelfPrice | None]], counter: Counter
) -> list[Member]:
    """Units, with their store offers, that the coupon can claim."""
    rules = counter.store.rules
    issuers = {each.id: each.issuer for each in counter.coupons}
    found: list[Member] = []
    for product, tag in products:
        if not any(asks_for(ask.products, product.id) for ask in coupon.asks):
            continue
        for level, unit in unit_states(product, tag, counter, with_maker=False):
            own = [issuers[slot.coupon] for slot in unit.slots]
            # Only store coupons are on it yet.
            most, taken = rules.store_coupons_per_unit, len(own)
            if coupon.issuer == "manufacturer":
                most, taken = rules.manufacturer_coupons_per_unit, 0
            mixed = coupon.issuer == "manufacturer" and own and not rules.store_with_manufacturer
            if taken < most and not mixed:
                found.append(Member(product.id, level, unit))
    return found


def _groups(coupon: Coupon, bases: list[Member], room: Room) -> Iterator[list[Claimed]]:
    """Every choice of units that fills the coupon's requirements and has room, each with its leg."""
    fitting = [[base for base in bases if asks_for(ask.products, base.product)] for ask in coupon.asks]

    def from_leg(leg: int, before: tuple[Claimed, ...]) -> Iterator[list[Claimed]]:
        if leg == len(coupon.asks):
            yield list(before)
            return
        held = tuple(member for _, member in before)
        for chosen in _choices(fitting[leg], coupon.asks[leg].units, room, held):
            yield from from_leg(leg + 1, (*before, *((leg, member) for member in chosen)))

    return from_leg(0, ())


def _choices(
    members: list[Member], size: int, room: Room, held: tuple[Member, ...], first: int = 0
) -> Iterator[tuple[Member, ...]]:
    """Every choice of ``size`` of the units from the ``first`` on, each as often as wanted, that has room
    beside what is ``held``."""
    if size == 0:
        yield ()
        return
    for place in range(first, len(members)):
        beside = (*held, members[place])
        if room.holds(beside):
            for rest in _choices(members, size - 1, room, beside, place):
                yield (members[place], *rest)


def _one_of_each(
    ends: list[list[Member]], room: Room, held: tuple[Member, ...]
) -> Iterator[tuple[Member, ...]]:
    """Every choice of one unit from each list that has room beside what is ``held``."""
    if not ends:
        yield ()
        return
    for member in ends[0]:
        if room.holds((*held, member)):
            for rest in _one_of_each(ends[1:], room, (*held, member)):
                yield (member, *rest)


def _with_makers(
    bound: Bound,
    products: list[tuple[Product, ShelfPrice | None]],
    counter: Counter,
    room: Room,
    most_ordered: int,
) -> Iterator[Column]:
    """A store coupon's bundle with every choice of manufacturer coupons, one of which may bind."""
    rules = counter.store.rules
    most = rules.manufacturer_coupons_per_unit if rules.store_with_manufacturer else 0
    for chosen in _one_of_each(_all_after_makers(bound.members, most, counter), room, ()):
        yield _column([chosen], [bound.use], counter)
    if not most:
        return
    for coupon in counter.coupons:
        if coupon.issuer == "manufacturer" and isinstance(coupon.gives, CentsOff) and units_asked(coupon) > 1:
            others = _bases(coupon, products, counter)
            yield from _bound_twice(bound, coupon, others, most, counter, room, most_ordered)


def _all_after_makers(members: tuple[Member, ...], most: int, counter: Counter) -> list[list[Member]]:
    """Each unit with every choice of plain manufacturer coupons."""
    return [
        [
            Member(member.product, member.level, end)
            for chosen in handed_over(unit_coupons(counter, "manufacturer", member.product), most)
            for end in with_coupons(member.unit, chosen, member.product, counter)
        ]
        for member in members
    ]


def _bound_twice(
    bound: Bound,
    coupon: Coupon,
    others: list[Member],
    most: int,
    counter: Counter,
    room: Room,
    most_ordered: int,
) -> Iterator[Column]:
    """A store coupon's bundle some of whose units a manufacturer coupon binds, perhaps with others."""
    asked = units_asked(coupon)
    for size in range(1, min(asked, len(bound.members)) + 1):
        for places in combinations(range(len(bound.members)), size):
            inside = [bound.members[place] for place in places]
            outside = tuple(member for place, member in enumerate(bound.members) if place not in places)
            for beside in _choices(others, asked - size, room, bound.members):
                group = _legs(coupon, [*inside, *beside])
                if group is None:
                    continue
                for multiplied in multiplications(coupon, counter):
                    for twice in bind(coupon, group, counter, multiplied, most_ordered):
                        ends = _all_after_makers(outside, most, counter)
                        for rest in _one_of_each(ends, room, twice.members):
                            yield _column([twice.members, rest], [bound.use, twice.use], counter)


def _legs(coupon: Coupon, members: list[Member]) -> list[Claimed] | None:
    """The first way to give each unit a requirement that it fills, or None if there is none. Any will do:
    what a unit takes is reckoned over all units of the use."""

    def given(place: int, left: tuple[int, ...]) -> list[Claimed] | None:
        if place == len(members):
            return []
        for leg, ask in enumerate(coupon.asks):
            if left[leg] and asks_for(ask.products, members[place].product):
                rest = given(place + 1, (*left[:leg], left[leg] - 1, *left[leg + 1 :]))
                if rest is not None:
                    return [(leg, members[place]), *rest]
        return None

    return given(0, tuple(ask.units for ask in coupon.asks))


def _column(parts: list[tuple[Member, ...]], uses: list[tuple[str, bool]], counter: Counter) -> Column:
    """The bundle as the program counts it."""
    ways: list[Way] = [
        finished(member.unit, member.product, member.level, counter) for part in parts for member in part
    ]
    marks = "&".join(f"{coupon}:{int(multiplied)}" for coupon, multiplied in uses)
    if len(uses) > 1:  # the first may have left the same units otherwise, in another order on the belt
        marks += "".join(f"={way.cost}" for way in ways)
    return Column(f"{'&'.join(way.key for way in ways)}&{marks}", tuple(ways), tuple(uses))
