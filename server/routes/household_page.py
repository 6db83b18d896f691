"""What the pages of the binder, the larder and the price book share."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from http import HTTPStatus
from typing import Any

from litestar import Request
from litestar.di import NamedDependency
from litestar.response import Redirect
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..engine.measure import UNITS, show_unit_price
from ..engine.money import show
from ..engine.offers import Product, Store
from ..errors import NotTaken, not_taken
from ..home.finding import find
from ..home.saying import Saying
from ..homes import Snapshot
from .fields import Fields

Asked = Request[Any, Any, Any]
Today = NamedDependency[Callable[[], str]]
LARGEST_FORM = 400_000  # bytes; a count of 1,500 products stays below it
MOST_FITS = 12  # products offered where words fit several


async def fields_of(request: Asked, snapshot: Snapshot) -> Fields:
    """The fields of a form that was sent, amounts in the household's money."""
    settings = snapshot.settings
    return Fields(await request.form(), currency=settings.currency, exponent=settings.exponent)


def device_of(request: Asked) -> str:
    """The id of the device that asks."""
    return str(request.user.id)


def go_to(address: str) -> Redirect:
    """The page to see after a form was taken."""
    return Redirect(address, status_code=HTTP_303_SEE_OTHER)


def no_such(what: str, id: str, list_address: str) -> NotTaken:
    """The 404 of something that is not there (any more)."""
    mend = f"There is no such {what}; it may have been removed. The list is at {list_address}."
    return not_taken("address", id, mend, status=HTTPStatus.NOT_FOUND)


class Shown:
    """How a page shows money, unit prices and names of the household."""

    def __init__(self, snapshot: Snapshot) -> None:
        settings = snapshot.settings
        self._currency, self._exponent = settings.currency, settings.exponent
        self.saying = Saying(
            snapshot.stores, snapshot.products, currency=settings.currency, exponent=settings.exponent
        )

    def money(self, cents: int) -> str:
        """``$2.37``."""
        return show(cents, self._currency, self._exponent)

    def written(self, cents: int) -> str:
        """An amount as it is typed: ``2.37``."""
        return show(cents, "", self._exponent).strip()

    def unit_price(self, price: Fraction, per: str) -> str:
        """As on a shelf tag: ``21.8¢/oz``."""
        return show_unit_price(price, per, self._currency, self._exponent)

    def store(self, id: str) -> str:
        """A store's name."""
        return self.saying.store(id)

    def product(self, id: str) -> str:
        """A product's description."""
        return self.saying.product(id)


def stores_of(snapshot: Snapshot) -> Sequence[Store]:
    """The stores by name."""
    return sorted(snapshot.stores.values(), key=lambda store: (store.name.lower(), store.id))


def units_by_kind() -> Mapping[str, Sequence[str]]:
    """Units of measure, grouped for a list to choose from."""
    groups: dict[str, list[str]] = {}
    for unit, (dimension, _) in UNITS.items():
        groups.setdefault(dimension, []).append(unit)
    return groups


def product_meant(
    fields: Fields, name: str, products: Mapping[str, Product], *, needed: str = ""
) -> str | None:
    """The product that typed words mean: an id, a number under a barcode, a name or words of it.

    Where several fit, or none does, that is a finding; the form offers what fits (``fits``).
    """
    words = fields.text(name, needed=needed)
    if not words:
        return None
    found = find(words, products)
    if len(found) == 1:
        return found[0].id
    if found:
        fields.wrong(name, f"which of the {len(found)} is meant? Choose below, or write more of its name")
    else:
        fields.wrong(name, "no product has all of these words: try fewer, or add it at Offers first")
    return None


def fits(words: str, products: Mapping[str, Product]) -> Sequence[Product]:
    """What typed words may mean, a few of them, where they do not mean one product."""
    found = find(words, products)
    return found[:MOST_FITS] if len(found) > 1 else ()
