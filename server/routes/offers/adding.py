"""A product that is not in the list yet, added from within another form, which loses nothing by it."""

from __future__ import annotations

from ...home.kinds import title_of
from ...homes import Home, NotSound, key_of
from ...intake.bad_input import BadInput, Finding, shorten
from .forms.sheet import Sheet, Values
from .page import checked, new_product_field

NEW_PARTS = ("description", "amount", "unit", "category", "gtin")


async def add_product(home: Home, sheet: Sheet, chooser: str, device: str) -> str:
    """Keeps the product in the ``chooser``'s fields for a new one; its id. ``BadInput`` by those fields."""
    prefix = f"{chooser}-new"
    product = sheet.new_product(prefix)
    if product is None:
        sheet.fields.wrong(f"{prefix}-description", "write what it is", "nothing")
    sheet.fields.finish()
    assert product is not None, "the finding above ends here"
    try:
        await home.save(
            [checked(product, "product")],
            words=f"New product: {title_of(product)}",
            device=device,
            revisions={key_of(product): 0},
        )
    except NotSound as error:
        raise BadInput(
            *(
                Finding(
                    field=new_product_field(chooser, misfit.field),
                    value=shorten(misfit.value),
                    mend=misfit.mend,
                )
                for misfit in error.misfits
            )
        ) from None
    return product.id


def chosen_too(values: Values, chooser: str, product: str) -> Values:
    """What was typed, with the new product ticked and its fields empty again."""
    emptied = {f"{chooser}-new-{part}": list[str]() for part in NEW_PARTS}
    return {**values, **emptied, f"{chooser}-words": [], chooser: [*values.get(chooser, []), product]}


def all_that_fit(values: Values, chooser: str, products: list[str]) -> Values:
    """What was typed, with all of the products ticked that fit its words."""
    return {**values, f"{chooser}-words": [], chooser: [*values.get(chooser, []), *products]}
