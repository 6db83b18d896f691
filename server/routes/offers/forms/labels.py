"""What each field of a form is called, beside the field and where a finding is told."""

from __future__ import annotations

from collections.abc import Mapping

from ....engine.rules import RULES

_COMMON: Mapping[str, str] = {
    "description": "What it says",
    "store": "Store",
    "stores": "Stores that take it",
    "products": "Products",
    "everything": "Everything in the store counts",
    "from_date": "From",
    "until": "Until",
    "per_transaction": "At most in one transaction",
    "per_day": "At most in a day",
    "per_household": "At most per household",
    "per_visit": "At most in one visit",
    "note": "Note",
    "revision": "The record",
    "form": "Where it comes from",
    "issuer": "Who pays for it",
}
_OF_NEW_PRODUCT: Mapping[str, str] = {
    "description": "What it is",
    "amount": "How much is in a pack",
    "unit": "Unit",
    "category": "Category",
    "gtin": "Number under the barcode",
}
_OF_KIND: Mapping[str, Mapping[str, str]] = {
    "store": {
        **{field: rule.plain for field, rule in RULES.items()},
        "name": "Name",
        "region": "Region",
        "channel_of": "It is another way to buy at",
        "cash_ceiling": "Most cash to put down here",
        "treatment": "Which coupons lower the taxed amount",
        "basis": "Tax is rounded",
        "rate-class": "Tax class",
        "rate": "Rate in percent",
        "multiplying-times": "How many times",
        "multiplying-up-to": "Face values up to",
        "multiplying-first": "Only the first so many of a transaction",
    },
    "product": {
        **_OF_NEW_PRODUCT,
        "pieces": "Pieces in a pack",
        "tax_class": "Tax class",
    },
    "price": {
        "cents": "Price of one on the tag",
        "regular": "Price without the sale",
        "low": "Lowest price by region",
        "high": "Highest price by region",
        "kind": "Kind of price",
        "deal": "Deal on the tag",
        "n": "How many",
        "m": "What they cost together",
        "must_buy": "Only whole groups get the price",
        "off": "Percent off the cheaper one",
        "mix": "Pairs with tags that have the same word",
        "place": "Place",
        "place_note": "Note on the place or price",
    },
    "coupon": {
        "gives": "What it gives",
        "off": "Amount off",
        "regional": "Other amounts by region",
        "percent": "Percent off",
        "free-percent": "Percent off the item",
        "free-up-to": "At most",
        "free-leg": "Which item",
        "fixed": "Price of the items together",
        "basket-off": "Amount off the spend",
        "basket-from": "From a spend of",
        "basket-measure": "Spend is measured",
        "units": "How many to buy",
        "copies": "Copies in hand",
        "may_multiply": "A store may multiply it",
        "where": "Where the coupon is kept",
        "legible": "Code printed on it",
    },
    "percent_offer": {
        "percent": "Percent off",
        "units_per_transaction": "On at most so many in a transaction",
        "transactions": "In at most so many transactions of a visit",
    },
    "reward": {
        "kind": "What comes back",
        "by": "Earned by",
        "measure": "Spend is measured",
        "threshold": "Buy or spend",
        "back": "Get back",
        "per_transaction": "Earned at most so often in one transaction",
        "per_household": "Earned at most so often per household",
        "rolls": "It rolls",
        "valid_days": "Days that a slip is good for",
    },
    "rebate": {
        "cents": "Cash back",
        "units": "For how many units",
        "limit": "Claimed at most so often",
        "from_receipt": "On a receipt of at least",
        "needs_receipt": "The claim needs the receipt",
        "deadline_days": "Days to claim it after the purchase",
    },
    "set_bonus": {"cents": "Cash back on top", "rebates": "Rebates of the set"},
}
_ONE_ROW = ("products", "units", "everything")
_ROWS: Mapping[str, str] = {
    "products": "Products of requirement {row}",
    "units": "How many to buy, requirement {row}",
    "everything": "Everything counts, requirement {row}",
    "rate-class": "Tax class {row}",
    "rate": "Rate {row} in percent",
    "threshold": "Step {row}: buy or spend",
    "back": "Step {row}: get back",
}


def label_of(kind: str, field: str, *, rows: int = 0) -> str:
    """The label of a field in the form of a kind; a row's with its number ("products-1": requirement 2),
    unless there is one only (``rows``)."""
    base, _, row = field.rpartition("-")
    if rows == 1 and row == "0" and base in _ONE_ROW:
        return label_of(kind, base)
    if row.isdigit() and base in _ROWS:
        return _ROWS[base].format(row=int(row) + 1)
    before, new, part = field.partition("-new-")
    if new:
        return f"New product: {_OF_NEW_PRODUCT[part].lower()}"
    if field.endswith("-words"):
        return "Find by name, words or number"
    return _OF_KIND.get(kind, {}).get(field) or _COMMON.get(field) or before
