"""``/desk/settle`` and ``/desk/reports``: after the trip.

Reading order: ``page.py`` (what the pages share), ``overview.py`` (all trips), ``one_trip.py`` (a trip's
receipts, claims and photos), ``photos.py`` (kept, shown, erased), ``writing.py`` (what a form becomes: a
note), ``purchase.py`` (bought without a plan), ``reports.py``. Nothing that was written is ever changed: a
correction is another note. Only a photo can be erased.
"""

from litestar import Router

from ...access import household
from . import one_trip, overview, photos, purchase, reports, writing

settle_router = Router(
    "/desk",
    route_handlers=[
        overview.settle_page,
        writing.write_note,
        purchase.purchase_form,
        purchase.correct_form,
        purchase.take_purchase,
        one_trip.trip_settle_page,
        photos.keep_photo,
        photos.show_photo,
        photos.erasing_page,
        photos.erase_photo,
        reports.report_page,
        reports.report_file,
    ],
    guards=[household],
    include_in_schema=False,
)

__all__ = ["settle_router"]
