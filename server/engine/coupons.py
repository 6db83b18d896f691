"""Steps 3 and 4 of the register: store coupons, then manufacturer coupons, one by one.

In handing-over order within each step. Common practice of the trade, no source.
Worked: 0.50 off 1.69 at a house that doubles up to 0.50: 1.69 - 0.50 - 0.50 = 0.69.
"""

from __future__ import annotations

from .belt import Belt, called, percent
from .money import round_half_up, share
from .offers import BasketOff, CentsOff, Coupon, FixedPrice, FreeItem, HouseRules, Issuer, PercentOff
from .papers import AdjustmentKind, Refusal, Transaction, Use
from .percents import percent_base
from .rules import say


def region_of(transaction: Transaction) -> str:
    """The region whose face values count: the trip's, else the store's."""
    return transaction.region or transaction.store.region


def face_cents(gives: CentsOff, region: str) -> int:
    """The face value of a cents-off coupon in ``region``."""
    return gives.regional_cents.get(region, gives.cents)


def extra_cents(coupon: Coupon, face: int, rules: HouseRules, multiplied_before: int) -> int:
    """What the house adds to a coupon's face value, in cents; 0 where it does not multiply.

    ``multiplied_before``: coupons of this transaction that were multiplied already.
    """
    house = rules.multiplying
    if house is None or coupon.issuer != "manufacturer" or not coupon.may_multiply:
        return 0
    if face > house.up_to_cents:
        return 0
    if house.per_transaction is not None and multiplied_before >= house.per_transaction:
        return 0
    return face * (house.times - 1)


def take_store_coupons(belt: Belt) -> Refusal | None:
    """Step 3: cents off, fixed price and free item of the store's own coupons."""
    return _take_coupons(belt, "store", "store_coupon")


def take_manufacturer_coupons(belt: Belt) -> Refusal | None:
    """Step 4: manufacturer coupons at face value, then the house's extra part."""
    return _take_coupons(belt, "manufacturer", "manufacturer_coupon")


def _take_coupons(belt: Belt, issuer: Issuer, kind: AdjustmentKind) -> Refusal | None:
    multiplied = 0
    for number, use in enumerate(belt.transaction.uses):
        coupon = belt.coupons[use.coupon]
        if coupon.issuer != issuer:
            continue
        match coupon.gives:
            case CentsOff():
                refusal = _cents_off(belt, number, coupon, coupon.gives, kind)
                if refusal is not None:
                    return refusal
                multiplied += _multiply(belt, number, coupon, coupon.gives, multiplied)
            case FixedPrice():
                _fixed_price(belt, number, coupon, coupon.gives, kind)
            case FreeItem():
                _free_item(belt, number, coupon, coupon.gives, kind)
            case PercentOff():
                # A store's percent coupon was taken in step 2.
                if issuer == "manufacturer":
                    _percent_off(belt, number, coupon, coupon.gives)
            case BasketOff():
                # Step 5.
                pass
    return None


def _claimed(belt: Belt, use: int) -> list[int]:
    return sorted(belt.transaction.uses[use].units)


def _spread(belt: Belt, use: int, kind: AdjustmentKind, value: int, why: str) -> int:
    """Take ``value`` off the claimed units, evenly, then where there is room; the surplus.

    The odd cents fall on the first units in belt order; what a unit has no room for passes
    to the coupon's other units, in belt order.
    """
    units = _claimed(belt, use)
    left = {unit: belt.items[unit].left for unit in units}
    off = {unit: min(share(value, len(units), k), left[unit]) for k, unit in enumerate(units, start=1)}
    surplus = value - sum(off.values())
    for unit in units:
        more = min(surplus, left[unit] - off[unit])
        off[unit] += more
        surplus -= more
    source = belt.transaction.uses[use].coupon
    for unit in units:
        belt.take(unit, kind, source, off[unit], why, use)
    return surplus


def _cents_off(
    belt: Belt, number: int, coupon: Coupon, gives: CentsOff, kind: AdjustmentKind
) -> Refusal | None:
    face = face_cents(gives, region_of(belt.transaction))
    units = len(belt.transaction.uses[number].units)
    over = f" over {units} items, evenly, odd cents on the first" if units > 1 else ""
    why = belt.note(number, f"{called(coupon.description, coupon.id)}: {belt.money(face)} off{over}.")
    surplus = _spread(belt, number, kind, face, why)
    if surplus == 0:
        return None
    rules = belt.transaction.store.rules
    house = say("overage", rules, belt.money)
    if rules.overage == "refuse":
        more = f"{called(coupon.description, coupon.id)} is worth {belt.money(surplus)} more than is left"
        return Refusal(rule="overage", subject=coupon.id, sentence=f"{more}. {house}")
    if rules.overage == "basket":
        belt.surplus.append((number, surplus))
    belt.note(number, house)
    return None


def _multiply(belt: Belt, number: int, coupon: Coupon, gives: CentsOff, multiplied_before: int) -> int:
    """Take the house's extra part, cut to what is left; 1 if the coupon used up a count, else 0."""
    face = face_cents(gives, region_of(belt.transaction))
    extra = extra_cents(coupon, face, belt.transaction.store.rules, multiplied_before)
    if extra == 0:
        return 0
    why = belt.note(number, f"The house multiplies it: {belt.money(extra)} more, at its own expense.")
    _spread(belt, number, "multiplied", extra, why)
    return 1


def _fixed_price(belt: Belt, number: int, coupon: Coupon, gives: FixedPrice, kind: AdjustmentKind) -> None:
    units = _claimed(belt, number)
    together = f" for {len(units)} items together" if len(units) > 1 else ""
    name = called(coupon.description, coupon.id)
    why = belt.note(number, f"{name}: the price is {belt.money(gives.cents)}{together}.")
    for k, unit in enumerate(units, start=1):
        price = share(gives.cents, len(units), k)
        belt.take(unit, kind, coupon.id, max(0, belt.items[unit].left - price), why, number)


def free_item_candidates(coupon: Coupon, gives: FreeItem, use: Use) -> tuple[int, ...]:
    """The claimed units that a free-item coupon may reduce: those of its leg, else all."""
    if gives.leg is None or gives.leg >= len(coupon.asks):
        return use.units
    start = sum(asks.units for asks in coupon.asks[: gives.leg])
    return use.units[start : start + coupon.asks[gives.leg].units]


def _free_item(belt: Belt, number: int, coupon: Coupon, gives: FreeItem, kind: AdjustmentKind) -> None:
    candidates = free_item_candidates(coupon, gives, belt.transaction.uses[number])
    # The least left; of equals the last on the belt.
    unit = min(candidates, key=lambda unit: (belt.items[unit].left, -unit))
    off = round_half_up(belt.items[unit].left * gives.off_bp, 10_000)
    what = "free" if gives.off_bp == 10_000 else f"{percent(gives.off_bp)} off"
    limit = ""
    if gives.up_to_cents is not None:
        off = min(off, gives.up_to_cents)
        limit = f", at most {belt.money(gives.up_to_cents)}"
    which = "the cheapest item that it may take is " if len(candidates) > 1 else "the item is "
    why = belt.note(number, f"{called(coupon.description, coupon.id)}: {which}{what}{limit}.")
    belt.take(unit, kind, coupon.id, off, why, number)


def _percent_off(belt: Belt, number: int, coupon: Coupon, gives: PercentOff) -> None:
    why = belt.note(number, f"{called(coupon.description, coupon.id)}: {percent(gives.bp)} off.")
    for unit in _claimed(belt, number):
        off = round_half_up(percent_base(belt, unit) * gives.bp, 10_000)
        belt.take(unit, "manufacturer_coupon", coupon.id, off, why, number)
