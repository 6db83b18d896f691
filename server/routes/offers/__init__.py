"""``/desk/offers``: what is on offer, and how it gets in: forms, pasted shorthand, barcodes, shared texts.

Reading order: ``listing.py`` (the list), ``records.py`` (one record on its form), ``forms/`` (what each form
is), ``pasting.py`` and ``photos.py`` (what is read, as ``cards.py`` has it, and taken, by ``taking.py``),
``shared.py`` (texts from phones). ``page.py`` is what they share. Nothing is kept until it was confirmed.
"""

from litestar import Router

from ...access import household
from . import listing, pasting, photos, records, shared
from .shared import inbox_router

offers_router = Router(
    "/desk/offers",
    route_handlers=[
        listing.offer_list,
        listing.products_found,
        listing.take_back,
        pasting.paste_page,
        pasting.read_paste,
        photos.photo_page,
        photos.read_upload,
        photos.read_digits,
        shared.shared_list,
        shared.done_with,
        records.new_record,
        records.add_record,
        records.record_page,
        records.change_record,
        records.removal_page,
        records.remove_record,
    ],
    guards=[household],
    include_in_schema=False,
)

__all__ = ["inbox_router", "offers_router"]
