"""A record in a sentence, for lists and cards."""

from __future__ import annotations

import pytest

from counterfoil.engine.offers import Product, Size
from counterfoil.home.saying import Saying


@pytest.mark.parametrize(
    ("size", "words"),
    [
        (Size(amount="12", unit="roll"), "12 rolls; Paper"),
        (Size(amount="1", unit="roll"), "1 roll; Paper"),
        (Size(amount="16", unit="oz"), "16 oz; Paper"),
    ],
)
def test_a_product_is_said_with_the_plural_of_its_unit(size: Size, words: str) -> None:
    product = Product(id="towels", description="Dabwick paper towels", category="Paper", size=size)

    assert Saying({}, {}).of(product) == words
