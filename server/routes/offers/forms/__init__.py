"""The forms of everything on offer: each reads a sheet into a record, and fills itself from one.

Reading order: ``sheet.py`` (what a form reads from, how products are chosen), ``form.py`` (what a form
is), then a file for each kind.
"""

from collections.abc import Mapping

from . import coupons, percent_offers, products, rebates, rewards, stores, tags
from .form import Form

FORMS: Mapping[str, Form] = {
    form.kind: form
    for form in (
        tags.FORM,
        coupons.FORM,
        percent_offers.FORM,
        rewards.FORM,
        rebates.REBATE,
        rebates.SET_BONUS,
        products.FORM,
        stores.FORM,
    )
}

__all__ = ["FORMS", "Form"]
