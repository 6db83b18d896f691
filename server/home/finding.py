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
    return same or by_name(_with_all(_words(text), products))


def likely(left_over: Sequence[str], products: Mapping[str, Product], most: int = 8) -> list[Product]:
    """Products that have at least half of the words that tell something, those with most of them first."""
    wanted = [f" {word}" for word in telling(left_over)]
    if not wanted:
        return []
    ranked: list[tuple[int, str, str]] = []
    for product in products.values():
        line = _line_of(product)
        hits = sum(word in line for word in wanted)
        if hits * 2 >= len(wanted):
            ranked.append((-hits, product.description.lower(), product.id))
    return [products[id] for _, _, id in sorted(ranked)[:most]]


def fitting(left_over: Sequence[str], products: Mapping[str, Product]) -> list[Product]:
    """Products that have every word that tells something; none where no word does."""
    return by_name(_with_all(telling(left_over), products))


def telling(texts: Sequence[str]) -> list[str]:
    """The words in ``texts`` that tell which product is meant, in small letters."""
    return [word for text in texts for word in _words(text) if word not in _IDLE]


def by_name(products: Iterable[Product]) -> list[Product]:
    """The products in the order of their names."""
    return sorted(products, key=lambda product: (product.description.lower(), product.id))


def has_number(product: Product, gtin: str) -> bool:
    """Whether the product has that number; zeros on the left do not matter."""
    return product.gtin is not None and product.gtin.rjust(14, "0") == gtin.rjust(14, "0")


def _with_all(words: Sequence[str], products: Mapping[str, Product]) -> list[Product]:
    wanted = [f" {word}" for word in words]
    if not wanted:
        return []
    return [
        product
        for product in products.values()
        if all(word in line for line in (_line_of(product),) for word in wanted)
    ]


def _line_of(product: Product) -> str:
    """A product's words in small letters, a space before each, so that " oat" finds what begins with it."""
    return _line(product.description, product.category, product.size.amount, product.size.unit)


@lru_cache(maxsize=8_192)  # a paste asks every product for every card
def _line(*texts: str) -> str:
    return "".join(f" {word}" for text in texts for word in _words(text))


def _words(text: str) -> list[str]:
    return _WORD.findall(text.lower())
