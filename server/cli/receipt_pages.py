"""A receipt, or a refusal, as ``counterfoil price`` prints it: every cent with its why."""

from __future__ import annotations

import textwrap

from ..engine.money import show
from ..engine.papers import Receipt, Refusal, Transaction
from ..intake.bad_input import shorten

WIDTH = 78  # characters of a line on a terminal
MONEY_WIDTH = 14  # of them kept free for the cents


def receipt_page(transaction: Transaction, receipt: Receipt, currency: str = "USD") -> str:
    """The receipt as text. A transaction names no currency, only its exponent: dollars unless told."""

    def money(cents: int) -> str:
        return show(cents, currency, transaction.exponent)

    names = {product.id: product.description for product in transaction.products}
    parts = [f"{shorten(transaction.store.name)}, {transaction.day}", ""]
    for unit in receipt.units:
        parts.append(_amount(names.get(unit.product, unit.product), money(unit.tag_cents)))
        parts += [_amount("  " + taken.why, money(-taken.cents)) for taken in unit.adjustments]
        if unit.adjustments:
            parts.append(_amount("  pays", money(unit.paid_cents)))
    parts += ["", _amount("Merchandise after coupons", money(receipt.merchandise_cents))]
    parts += [_amount(f"Tax: {tax.why}", money(tax.cents)) for tax in receipt.taxes]
    parts.append(_amount("Total", money(receipt.total_cents)))
    parts += [
        _amount(f"  {tender.kind.replace('_', ' ')} {tender.id}".rstrip(), money(tender.cents))
        for tender in receipt.tenders
    ]
    parts += ["", _amount("Out of pocket", money(receipt.out_of_pocket_cents))]
    saved = receipt.shelf_cents - receipt.merchandise_cents
    parts.append(_amount(f"You saved (of {money(receipt.shelf_cents)} at the tags)", money(saved)))
    if receipt.earned:
        parts += ["", "Must print back or load:"]
    for earned in receipt.earned:
        kind = earned.kind.replace("_", " ")
        parts.append(_amount(f"  {earned.times} x {kind}: {earned.why}", money(earned.cents)))
    parts += [f"Note: {shorten(why)}" for why in receipt.why]
    return "\n".join(parts)


def refusal_page(refusal: Refusal) -> str:
    """The refusal as text: the rule, what it is said of, the sentence."""
    return f"Refused ({refusal.rule}): {shorten(refusal.subject)}\n{shorten(refusal.sentence)}"


def _amount(what: str, money: str) -> str:
    """``what`` on the left, the money at its end on the right; a long sentence takes several lines."""
    indent = "  " if what.startswith("  ") else ""
    *above, last = textwrap.wrap(
        shorten(what.strip()),
        WIDTH - MONEY_WIDTH,
        initial_indent=indent,
        subsequent_indent=indent + "  ",
    ) or [indent]
    return "\n".join([*above, last + money.rjust(WIDTH - len(last))])
