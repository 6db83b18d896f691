"""Finding products by what a person types: a number under a barcode, a name, a few words of it.

find("rolled oats", products)  ->  every product that has all of the words
likely(["Wickel oats any"], products)  ->  those that have most of them, the best first
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from ..engine.offers import Product
from ..intake.product_code import ProductCode, read_product_code

MOST_SHOWN = 40
# Words of offers that say nothing of which product is meant.
_IDLE_WORDS = """
a an and any the of or on for with in at by one all each variety varieties kind kinds flavor flavors flavour
flavours scent scents size sizes select selected assorted product products item items pack oz ct count lb g kg
ml l
"""
_IDLE = frozenset(_IDLE_WORDS.split())
_WORD = re.compile(r"[^\W_]+")


def find(typed: str, products: Mapping[str, Product]) -> list[Product]:
    """What ``typed`` means: the product of that number, id or whole name, else all that have every word.

    By name; a word counts where a product's word begins with it ("oat" finds "oats"). Nothing typed: none.
    """
    text = typed.strip()
    number = read_product_code(text)
    if isinstance(number, ProductCode):
        return [product for product in products.values() if has_number(product, number.gtin)]
    if text in products:
        return [products[text]]
    same = [product for product in products.values() if product.description.lower() == text.lower()]
    wanted = _words(text)
    if same or not wanted:
        return same
    return by_name(product for product in products.values() if _all_begin(wanted, _words_of(product)))


def likely(left_over: Sequence[str], products: Mapping[str, Product], most: int = 8) -> list[Product]:
    """Products that have at least half of the words that tell something, those with most of them first."""
    wanted = telling(left_over)
    if not wanted:
        return []
    ranked: list[tuple[int, str, Product]] = []
    for product in products.values():
        theirs = _words_of(product)
        hits = sum(_begins(word, theirs) for word in wanted)
        if hits * 2 >= len(wanted):
            ranked.append((-hits, product.description.lower(), product))
    return [product for _, _, product in sorted(ranked, key=lambda entry: entry[:2])[:most]]


def fits_whole(left_over: Sequence[str], product: Product) -> bool:
    """Whether every word that tells something is one of the product's."""
    wanted = telling(left_over)
    return bool(wanted) and _all_begin(wanted, _words_of(product))


def telling(texts: Sequence[str]) -> list[str]:
    """The words in ``texts`` that tell which product is meant, in small letters."""
    return [word for text in texts for word in _words(text) if word not in _IDLE]


def by_name(products: Iterable[Product]) -> list[Product]:
    """The products in the order of their names."""
    return sorted(products, key=lambda product: (product.description.lower(), product.id))


def has_number(product: Product, gtin: str) -> bool:
    """Whether the product has that number; zeros on the left do not matter."""
    return product.gtin is not None and product.gtin.rjust(14, "0") == gtin.rjust(14, "0")


@lru_cache(maxsize=8_192)  # a paste asks every product's words for every card
def _words(text: str) -> tuple[str, ...]:
    return tuple(_WORD.findall(text.lower()))


def _words_of(product: Product) -> tuple[str, ...]:
    size = f"{product.size.amount} {product.size.unit}"
    return _words(f"{product.description} {product.category} {size}")


def _all_begin(wanted: Sequence[str], theirs: Sequence[str]) -> bool:
    return all(_begins(word, theirs) for word in wanted)


def _begins(word: str, theirs: Sequence[str]) -> bool:
    return any(other.startswith(word) for other in theirs)
