"""The example household, moved in for somebody who wants to see a full Desk first."""

from __future__ import annotations

from collections.abc import Callable
from http import HTTPStatus
from typing import Any

from litestar import Request, Response, post
from litestar.di import NamedDependency
from litestar.response import Redirect
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...demo_household import demo_household, move_in
from ...errors import not_taken
from ...homes import Home
from ...store.facts import Facts


@post("/example", status_code=HTTPStatus.OK)
async def move_in_example(
    request: Request[Any, Any, Any],
    home: NamedDependency[Home],
    facts: NamedDependency[Facts],
    today: NamedDependency[Callable[[], str]],
) -> Response[Any]:
    """Keeps the example's records of the coming week where there are none yet, as one batch."""
    snapshot = await home.snapshot()
    if snapshot.stores or snapshot.products:
        raise not_taken(
            "household",
            f"{len(snapshot.stores)} stores, {len(snapshot.products)} products",
            "The example is for an empty household, so that nothing of yours is mixed with it.",
            status=HTTPStatus.CONFLICT,
        )
    batch = await move_in(home, facts, demo_household(today()), str(request.user.id))
    return Redirect(f"/desk?kept={batch}", status_code=HTTP_303_SEE_OTHER)
