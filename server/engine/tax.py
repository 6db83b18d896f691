"""Step 6 of the register: sales tax, with the treatment and basis of the place as settings.

Which coupons lower the taxed amount differs by state: store coupons alone in most
(Tennessee SUT-24, New York TB-ST-140, Virginia 23VAC10-210-430 and others), both kinds in
Texas (34 TAC 3.369) and Massachusetts (830 CMR 64H.1.4). Rounding: Streamlined Sales and
Use Tax Agreement section 324, by invoice or by item; carried out as one half-up rounding of
the exact product, which gives the same cent. Settings, never advice: local law and the
printed receipt decide.
"""

from __future__ import annotations

from .belt import Belt, Item
from .money import round_half_up
from .papers import Adjustment, TaxLine

_TREATMENT_IN_WORDS = {
    "store_funded": "Reductions that the store pays lower what is taxed; manufacturer coupons do not.",
    "all": "All coupons lower what is taxed.",
    "none": "No coupon lowers what is taxed.",
}


def tax_cents(rate: int, taxable_cents: int) -> int:
    """Tax in cents, half up once: ``rate`` in parts per 100,000. 8875 of 800 is 71."""
    return round_half_up(rate * taxable_cents, 100_000)


def taxable_amounts(belt: Belt) -> list[int]:
    """Per unit, what tax is reckoned on before food benefits; 0 for an untaxed class."""
    rates = belt.transaction.store.tax.rates
    return [_taxable(belt, item) if item.product.tax_class in rates else 0 for item in belt.items]


def _taxable(belt: Belt, item: Item) -> int:
    lowered = sum(a.cents for a in item.adjustments if _lowers_tax(belt, a))
    return max(0, item.shelf_cents - lowered)


def _lowers_tax(belt: Belt, adjustment: Adjustment) -> bool:
    treatment = belt.transaction.store.tax.treatment
    if adjustment.kind == "sale" or treatment == "none":
        return False
    if treatment == "all" or adjustment.kind in ("percent_offer", "multiplied"):
        return True
    # A coupon's own part, on its units, the basket or as overage: as its issuer's.
    return belt.coupons[adjustment.source].issuer == "store"


def tax_lines(belt: Belt, taxable: list[int]) -> tuple[TaxLine, ...]:
    """One line for each tax class on the belt, by the class's name.

    ``taxable``: cents per unit. Basis ``invoice``: one rounding per class; ``item``: per unit.
    """
    tax = belt.transaction.store.tax
    lines: list[TaxLine] = []
    for tax_class, rate in sorted(tax.rates.items()):
        amounts = [
            cents
            for item, cents in zip(belt.items, taxable, strict=True)
            if item.product.tax_class == tax_class
        ]
        if not amounts:
            continue
        base = sum(amounts)
        per_item = tax.basis == "item"
        cents = sum(tax_cents(rate, amount) for amount in amounts) if per_item else tax_cents(rate, base)
        rounded = "rounded for each item" if per_item else "rounded once"
        why = f"{rate_in_words(rate)} of {belt.money(base)}, {rounded}. {_TREATMENT_IN_WORDS[tax.treatment]}"
        lines.append(TaxLine(tax_class=tax_class, rate=rate, taxable_cents=base, cents=cents, why=why))
    return tuple(lines)


def rate_in_words(rate: int) -> str:
    """Parts per 100,000 for a reader: 8875 is ``8.875 %``, 7000 is ``7 %``."""
    whole, rest = divmod(rate, 1_000)
    return f"{whole}.{rest:03d}".rstrip("0") + " %" if rest else f"{whole} %"
