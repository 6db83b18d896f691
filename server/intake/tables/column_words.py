"""What columns are called, and which other headings are understood: the words that do not follow from the
record's type."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

# What a field is called, by its struct and name; a nested name comes after its prefix.
_WORDS: Mapping[tuple[str, str], str] = {
    ("ShelfPrice", "cents"): "price",
    ("ShelfPrice", "regular_cents"): "regular price",
    ("ShelfPrice", "low_cents"): "low price",
    ("ShelfPrice", "high_cents"): "high price",
    ("ShelfPrice", "kind"): "kind of price",
    ("RainCheck", "cents"): "price",
    ("NForM", "cents"): "price",
    ("NForM", "n"): "units",
    ("BasketOff", "from_cents"): "from spend of",
    ("CentsOff", "regional_cents"): "amount by region",
    ("Staple", "stock_up_cents"): "stock up price",
    ("PriceOnADay", "cents"): "price",
    ("PriceOnADay", "each_cents"): "price of one with the deal",
}
PREFIXES: Mapping[str, str] = {"rules": "", "tiers": "tier"}
# Further headings that are understood, by the column's name.
SYNONYMS: Mapping[str, Sequence[str]] = {
    "from date": ("from", "starts", "first day", "valid from", "begins"),
    "until": ("to", "ends", "last day", "valid until", "expires", "expiry", "expiration date", "exp"),
    "gtin": ("barcode", "bar code", "upc", "ean"),
    "size": ("size amount", "contents"),
    "size unit": ("unit", "unit of measure"),
    "price": ("tag", "shelf price", "tag price"),
    "regular price": ("regular", "price without the sale"),
    "place": ("aisle", "shelf"),
    "gives amount": ("amount", "value", "face", "face value", "amount off"),
    "gives percent": ("percent", "percent off"),
    "asks products": ("products", "product", "for products"),
    "asks units": ("units", "buy", "buy units"),
    "copies": ("in hand", "how many", "count"),
    "stores": ("store", "taken at"),
    "where": ("kept at", "binder"),
    "amount": ("value", "gets", "balance", "face", "face value"),
    "percent": ("percent off", "off"),
    "tier amount": ("amount", "value", "gets"),
    "tier threshold": ("threshold", "buy"),
    "products": ("product", "for products"),
    "deadline days": ("claim within days", "days to claim"),
    "stock up price": ("stock up", "buy at or under"),
    "weekly use": ("use a week", "used a week"),
    "keep": ("keep at least", "never fewer than"),
    "room": ("room for", "at most"),
    "day": ("date", "on"),
    "units": ("packs", "count", "counted"),
    "price of one with the deal": ("each", "price each", "each price"),
    "kind of price": ("price kind",),
    "note": ("notes", "remark"),
    "description": ("name", "what", "title"),
}


def named(struct: str, field: str) -> str:
    """What a field is called: ``regular_cents`` is "regular price"."""
    if (struct, field) in _WORDS:
        return _WORDS[struct, field]
    bare = field.removesuffix("_cents").removesuffix("_bp")
    if bare == "cents":
        return "amount"
    if field.endswith("bp"):
        return "percent" if bare == "bp" else f"{bare.replace('_', ' ')} percent"
    return bare.replace("_", " ")


def joined(prefix: str, words: str) -> str:
    """The name of a column within a part of the record."""
    if words == "amount" and prefix == "size":
        return prefix
    return f"{prefix} {words}".strip()
