"""A receipt, or a refusal, as ``counterfoil price`` prints it: every cent with its why."""

from __future__ import annotations

from ..engine.money import show
from ..engine.papers import Receipt, Refusal, Transaction
from .columns import amount, words


def receipt_page(transaction: Transaction, receipt: Receipt) -> str:
    """The receipt as text: each unit with what came off it and why, then the sum, then what prints."""

    def money(cents: int) -> str:
        return show(cents, transaction.currency, transaction.exponent)

    names = {product.id: product.description for product in transaction.products}
    parts = [words(f"{transaction.store.name}, {transaction.day}"), ""]
    for unit in receipt.units:
        parts.append(amount(names.get(unit.product, unit.product), money(unit.tag_cents)))
        parts += [amount(taken.why, money(-taken.cents), indent="  ") for taken in unit.adjustments]
        if unit.adjustments:
            parts.append(amount("pays", money(unit.paid_cents), indent="  "))
    parts += ["", amount("Merchandise after coupons", money(receipt.merchandise_cents))]
    parts += [amount(f"Tax: {tax.why}", money(tax.cents)) for tax in receipt.taxes]
    parts.append(amount("Total", money(receipt.total_cents)))
    parts += [
        amount(f"{tender.kind.replace('_', ' ')} {tender.id}", money(tender.cents), indent="  ")
        for tender in receipt.tenders
    ]
    parts += ["", amount("Out of pocket", money(receipt.out_of_pocket_cents))]
    saved = receipt.shelf_cents - receipt.merchandise_cents
    parts.append(amount(f"You saved (of {money(receipt.shelf_cents)} at the tags)", money(saved)))
    if receipt.earned:
        parts += ["", "Must print back or load:"]
    for earned in receipt.earned:
        kind = earned.kind.replace("_", " ")
        parts.append(amount(f"{earned.times} x {kind}: {earned.why}", money(earned.cents), indent="  "))
    parts += [words(f"Note: {why}") for why in receipt.why]
    return "\n".join(parts)


def refusal_page(refusal: Refusal) -> str:
    """The refusal as text: the rule, what it is said of, the sentence."""
    return f"{words(f'Refused ({refusal.rule}): {refusal.subject}')}\n{words(refusal.sentence)}"
