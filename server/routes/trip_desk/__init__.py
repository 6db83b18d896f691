"""``/desk/trips/new`` and ``/desk/drafts/...``: a trip in the making, from its stores to the phone.

Reading order: ``at_hand.py`` (what a page stands on), ``drafts.py`` with ``draft_form.py`` (the form),
``planning.py`` (the plan while it is made, and once it is there) with ``comparing.py`` (what is worked out
beside it) and ``plan_view.py`` (its rows), ``deals.py`` (one deal), ``deciding.py`` (pins, what is left
out, taking back), ``sending.py`` (to the phone). ``example.py`` moves the demo household in.
"""

from litestar import Router

from ...access import household
from . import deals, deciding, drafts, example, planning, sending

trip_desk_router = Router(
    "/desk",
    route_handlers=[
        drafts.new_draft,
        drafts.add_draft,
        drafts.draft_page,
        drafts.change_draft,
        drafts.remove_draft,
        planning.plan_page,
        planning.plan_state,
        planning.plan_arriving,
        planning.stop_planning,
        deals.deal_page,
        deals.deal_arriving,
        deciding.decide,
        deciding.take_back,
        sending.send,
        example.move_in_example,
    ],
    guards=[household],
    include_in_schema=False,
)
