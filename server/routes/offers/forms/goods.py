"""What the forms of several offers share: the goods that an offer is for, and how they are said."""

from __future__ import annotations

from collections.abc import Sequence

from ....home.saying import MEASURES, Saying
from .sheet import Sheet

MEASURE_CHOICES = tuple(MEASURES.items())
NEEDS_A_STORE = "choose the store whose offer it is"


def saying_of(sheet: Sheet) -> Saying:
    """Sentences about what is on a sheet."""
    settings = sheet.snapshot.settings
    return Saying(sheet.snapshot.stores, sheet.known, currency=settings.currency, exponent=settings.exponent)


def goods(saying: Saying, products: Sequence[str]) -> str:
    """The products of a made description: the first by its name, with how many others."""
    if len(products) < 2:
        return saying.goods(products)
    return f"{saying.product(products[0])} or {len(products) - 1} more"


def products_or_everything(sheet: Sheet) -> tuple[str, ...]:
    """The chosen products; none only where everything in the store is said to count."""
    everything = sheet.fields.flag("everything")
    products = sheet.products(
        "products", needed="" if everything else "choose the products, or say that everything counts"
    )
    if everything and products:
        sheet.fields.wrong("products", "either the chosen products, or everything", "both")
    return products


def of_products(path: str) -> str:
    return "products" if path.startswith("products") else path
