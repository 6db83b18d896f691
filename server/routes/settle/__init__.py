"""``/desk/settle`` and ``/desk/reports``: after the trip.

Reading order: ``page.py`` (what the pages share), ``overview.py`` (all trips), ``one_trip.py`` (a trip's
receipts, claims and photos), ``writing.py`` (what a form becomes: a note), ``purchase.py`` (bought without a
plan), ``reports.py``. Nothing that was written is ever changed: a correction is another note.
"""

from litestar import Router

from ...access import household
from . import one_trip, overview, purchase, reports, writing

settle_router = Router(
    "/desk",
    route_handlers=[
        overview.settle_page,
        writing.write_note,
        purchase.purchase_form,
        purchase.correct_form,
        purchase.take_purchase,
        one_trip.trip_settle_page,
        one_trip.keep_photo,
        one_trip.show_photo,
        reports.report_page,
        reports.report_file,
    ],
    guards=[household],
    include_in_schema=False,
)

__all__ = ["settle_router"]
