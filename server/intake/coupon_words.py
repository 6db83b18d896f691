"""A coupon code in words, and as the draft of a coupon: what can be known of it, and what cannot.

describe(code)  ->  "$1.50 off when you buy 1 of family 120 and (1 of family 140 or 1 of family 256
                     of company 0012666); until 31 December 2010"
draft_coupon(code)  ->  Draft(offer=CouponDraft(gives=CentsOff(cents=150), asks=(...), ...))
"""

from __future__ import annotations

from collections.abc import Sequence

from ..engine.money import show
from ..engine.offers import BasketOff, CentsOff, FreeItem, PercentOff
from .coupon_code import CouponCode, Purchase
from .day_words import day_in_words
from .drafts import AskDraft, CouponDraft, Draft, Question, Reading

MOST_UNITS = 100  # that one requirement of the engine's coupons may ask for
MOST_CENTS = 10_000_000
_PLACES = ("first", "second", "third")

Way = tuple[AskDraft, ...]


def describe(code: CouponCode, currency: str = "USD") -> str:
    """The whole code as one plain sentence: what it gives, what it asks, its dates and its terms."""
    parts = [f"{_gives(code, currency)} when you buy {_asks(code, currency)}"]
    if code.from_date:
        parts.append(f"from {day_in_words(code.from_date)}")
    if code.until:
        parts.append(f"until {day_in_words(code.until)}")
    if code.retailer:
        parts.append(f"at retailer {code.retailer}")
    if code.store_flag:
        parts.append("a store coupon")
    if not code.may_multiply:
        parts.append("not to be multiplied")
    if code.serial:
        parts.append(f"serial number {code.serial}")
    return "; ".join(parts)


def draft_coupon(code: CouponCode, currency: str = "USD") -> Draft:
    """What the engine's coupon would be, as far as the code says it. Products are left for her to choose.

    ``gives`` stays None, with a question, where the engine has no such value (two items free, a weight)
    or the rule is unclear (rules code 3): she enters what the coupon's own words say.
    """
    questions: list[Question] = []
    ways = _ways(code, currency, questions)
    gives = _value(code, ways, questions)
    if len(ways) > 1:
        questions.append(
            Question(field="asks", why="Either requirement will do: choose the one that you will buy.")
        )
    if code.retailer:
        why = f"It names retailer {code.retailer}: choose the stores that take it."
        questions.append(Question(field="stores", why=why))
    return Draft(
        text=code.digits,
        offer=CouponDraft(
            gives=gives,
            asks=ways[0],
            other_ways=tuple(ways[1:]),
            issuer="store" if code.store_flag else "manufacturer",
            from_date=code.from_date,
            until=code.until,
            may_multiply=code.may_multiply,
            legible=code.legible,
            serial=code.serial,
        ),
        read=(Reading(field="offer", words=code.digits),),
        questions=tuple(questions),
    )


# --- the sentence -----------------------------------------------------------------------


def _gives(code: CouponCode, currency: str) -> str:
    money = show(code.save_value, currency)
    item = _item(code)
    match code.save_code:
        case 0:
            return f"{money} off" if code.applies_to == 0 else f"{money} off {item}"
        case 1:
            return f"one of {item} free" + (f", up to {money}," if code.save_value else "")
        case 2:
            return f"{code.save_value} of {item} free"
        case 5:
            return f"{code.save_value}% off {item}"
        case 6:
            return f"{money} off the whole transaction"


def _item(code: CouponCode) -> str:
    """The goods that the value applies to."""
    if code.applies_to < len(code.purchases):
        return _family(code.purchases[code.applies_to], code.company)
    return f"the {_PLACES[code.applies_to]} purchase (which the code does not name)"


def _asks(code: CouponCode, currency: str) -> str:
    first, *others = (_purchase(purchase, code.company, currency) for purchase in code.purchases)
    match code.rule:
        case None:
            return first
        case 0:
            return " or ".join((first, *others))
        case 1:
            return " and ".join((first, *others))
        case 2:
            either = " or ".join(others)
            return f"{first} and {f'({either})' if len(others) > 1 else either}"
        case _:
            return (
                f"{first}, with {' and '.join(others)} by a rule that the code leaves unclear (rules code 3)"
            )


def _purchase(purchase: Purchase, company: str, currency: str) -> str:
    family = _family(purchase, company)
    amount = purchase.threshold
    match purchase.counts:
        case "units":
            return f"{amount} of {family}"
        case "cents":
            return f"{show(amount, currency)} worth of {family}"
        case "transaction_cents":
            return f"{family} in a transaction of {show(amount, currency)}"
        case "hundredths_lb":
            return f"{amount // 100}.{amount % 100:02} lb of {family}"
        case "grams":
            return f"{amount // 1000}.{amount % 1000:03} kg of {family}"
        case "cashier":
            return f"{family}, as the cashier checks"


def _family(purchase: Purchase, company: str) -> str:
    of = "" if purchase.company == company else f" of company {purchase.company}"
    return f"family {purchase.family}{of}"


# --- the draft --------------------------------------------------------------------------


def _ways(code: CouponCode, currency: str, questions: list[Question]) -> list[Way]:
    """Every set of requirements that will do. Alternatives that ask for as many units are one requirement."""
    first, *others = (_ask(purchase, code.company, currency, questions) for purchase in code.purchases)
    match code.rule:
        case None:
            return [(first,)]
        case 0:
            either = (first, *others)
            return [(merged,)] if (merged := _merge(either)) else [(ask,) for ask in either]
        case 2:
            return [(first, merged)] if (merged := _merge(others)) else [(first, other) for other in others]
        case _:
            return [(first, *others)]


def _merge(asks: Sequence[AskDraft]) -> AskDraft | None:
    if len({ask.units for ask in asks}) != 1:
        return None
    return AskDraft(units=asks[0].units, of=" or ".join(ask.of for ask in asks))


def _ask(purchase: Purchase, company: str, currency: str, questions: list[Question]) -> AskDraft:
    of = f"family {purchase.family} of company {purchase.company}"
    if purchase.counts == "units" and 1 <= purchase.threshold <= MOST_UNITS:
        return AskDraft(units=purchase.threshold, of=of)
    if purchase.counts not in ("cents", "transaction_cents"):
        said = _purchase(purchase, company, currency)
        questions.append(
            Question(field="asks", why=f"The code asks for {said}: enter how many units that takes.")
        )
    return AskDraft(units=1, of=of)


def _value(
    code: CouponCode, ways: list[Way], questions: list[Question]
) -> CentsOff | PercentOff | FreeItem | BasketOff | None:
    """What it gives, in the engine's kinds; None with a question where there is no such kind."""
    purchase, several = code.first, len(code.purchases) > 1
    money_asked = any(bought.counts in ("cents", "transaction_cents") for bought in code.purchases)
    off_transaction = code.save_code == 6

    def unknown(why: str) -> None:
        questions.append(Question(field="gives", why=f"{why}: enter it as the coupon's own words say."))

    if code.rule == 3:
        return unknown("How its purchases belong together is unclear (rules code 3)")
    if code.applies_to >= len(code.purchases):
        return unknown(f"It gives its value on a {_PLACES[code.applies_to]} purchase that it does not name")
    if code.save_value == 0 and code.save_code != 1:
        return unknown("The code says a value of nothing")
    if any(bought.counts in ("hundredths_lb", "grams") for bought in code.purchases):
        return unknown("It asks for a weight, and the plan counts packs")
    if money_asked and (several or code.save_code not in (0, 6) or purchase.threshold > MOST_CENTS):
        return unknown("It asks for an amount of money in a way that the plan cannot reckon")
    if money_asked or off_transaction:
        if several or (off_transaction and not money_asked):
            why = f"The plan takes it off the transaction; buying {ways[0][0].of} is for you to see to."
            questions.append(Question(field="asks", why=why))
        elif off_transaction != (purchase.counts == "transaction_cents"):
            why = "Amount and value are not of the same goods (qualifying items, whole transaction)."
            questions.append(Question(field="asks", why=why))
        return BasketOff(cents=code.save_value, from_cents=purchase.threshold if money_asked else 0)
    if code.save_code == 0:
        return CentsOff(cents=code.save_value)
    leg = _leg(code, ways)
    if leg is None:
        return unknown("The reduced item is another one in each of the ways to meet it")
    units = ways[0][leg].units
    named = leg if len(ways[0]) > 1 else None
    if code.save_code == 5:
        bp = code.save_value * 100
        if named is None and units == 1:
            return PercentOff(bp=bp)
        if units > 1:
            why = f"It asks for {units} and takes a percent off; read as off the cheapest one."
            questions.append(Question(field="gives", why=why))
        return FreeItem(off_bp=bp, leg=named)
    if code.save_code == 2 and code.save_value > 1:
        return unknown(f"It makes {code.save_value} items free, and the plan knows one")
    cap = code.save_value if code.save_code == 1 else 0
    return FreeItem(up_to_cents=cap or None, leg=named)


def _leg(code: CouponCode, ways: list[Way]) -> int | None:
    """Which requirement of every way holds the reduced item; None if that differs from way to way."""
    if code.rule == 0:
        # Any one of the purchases will do, and the value is named for one: it only fits if that is the one.
        return 0 if len(ways) == 1 else None
    return min(code.applies_to, len(ways[0]) - 1) if len(ways) == 1 or code.applies_to == 0 else None
