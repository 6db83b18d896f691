"""What the server says when it cannot do what was asked: one shape, as JSON and as a page.

The JSON, in full, whatever went wrong::

    {"error": {"status": 400, "title": "Bad Request", "field": "events[2].id",
               "value": "", "mend": "An event's id has 1 to 64 characters.",
               "also": [{"field": ..., "value": ..., "mend": ...}]}}

``field``: where, as a path into the document ("" when no field is to blame); ``value``: what stood
there, shortened; ``mend``: what to do about it; ``also``: the further findings, if any.
They are the findings of ``intake/bad_input.py``, which the command line prints too.
Three kinds are kept apart: a refusal is a value and never comes here; bad input is ``BadInput``;
a fault of ours is any other exception, logged whole and told without its details.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from http import HTTPStatus
from typing import Any

import msgspec
from litestar import MediaType, Request, Response
from litestar.exceptions import HTTPException
from litestar.response import Template

from .intake.bad_input import BadInput, Finding, shorten
from .store.interface import StoreUnavailable

log = logging.getLogger("counterfoil")


class Trouble(msgspec.Struct, frozen=True, kw_only=True):
    """The body of ``error``: the first finding, and the others in ``also``."""

    status: int
    title: str
    field: str
    value: str
    mend: str
    also: tuple[Finding, ...] = ()


class ErrorAnswer(msgspec.Struct, frozen=True, kw_only=True):
    """The whole JSON answer."""

    error: Trouble


class NotTaken(BadInput):
    """Bad input that has an HTTP status of its own: forbidden, not there, in conflict."""

    def __init__(self, *findings: Finding, status: HTTPStatus) -> None:
        super().__init__(*findings)
        self.status = status


def bad_input(field: str, value: object, mend: str) -> BadInput:
    """A ``BadInput`` of one finding, its value shortened."""
    return BadInput(Finding(field=field, value=shorten(value), mend=mend))


def not_taken(field: str, value: object, mend: str, *, status: HTTPStatus) -> NotTaken:
    """A ``NotTaken`` of one finding, its value shortened."""
    return NotTaken(Finding(field=field, value=shorten(value), mend=mend), status=status)


def status_of(error: BadInput) -> HTTPStatus:
    """The HTTP status that goes with bad input: 400 unless it has its own."""
    return error.status if isinstance(error, NotTaken) else HTTPStatus.BAD_REQUEST


def answer_bad_input(request: Request[Any, Any, Any], error: BadInput) -> Response[Any]:
    """Exception handler for ``BadInput``."""
    return _answer(request, status_of(error), error.findings)


def answer_http_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[Any]:
    """Exception handler for what the framework refuses (no such page, method, body too large)."""
    status = HTTPStatus(error.status_code)
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return answer_fault(request, error)
    mends = {
        HTTPStatus.NOT_FOUND: "Nothing is at this address. The Desk is at /desk, the phone's page at /.",
        HTTPStatus.METHOD_NOT_ALLOWED: "This address does not answer to this method.",
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "The body is too large and was not stored; send less at a time.",
        HTTPStatus.REQUEST_TIMEOUT: "The body did not arrive in time. Nothing was stored; send it again.",
        HTTPStatus.TOO_MANY_REQUESTS: "That was too often. Nothing is lost; try again in a minute.",
        # The framework refuses only one thing so: a form without the token of its page.
        HTTPStatus.FORBIDDEN: "The form is not of a page that this browser has just opened. "
        "Go back, reload the page and send it again.",
    }
    at_fault = status in (HTTPStatus.NOT_FOUND, HTTPStatus.METHOD_NOT_ALLOWED)
    finding = Finding(
        field="address" if at_fault else "body" if status is HTTPStatus.REQUEST_ENTITY_TOO_LARGE else "",
        value=shorten(request.url.path) if at_fault else "",
        mend=mends.get(status, error.detail),
    )
    headers = dict(error.headers or {})
    if status is HTTPStatus.TOO_MANY_REQUESTS:
        headers["Retry-After"] = headers.get("RateLimit-Reset", "60")
    return _answer(request, status, (finding,), headers=headers)


def answer_unavailable(request: Request[Any, Any, Any], error: StoreUnavailable) -> Response[Any]:
    """Exception handler for a database that can take nothing now: 503, and when to come back."""
    log.warning("%s %s: %s", request.method, _logged_path(request), error)
    finding = Finding(field="", value="", mend=str(error))
    retry = {"Retry-After": str(error.retry_seconds)}
    return _answer(request, HTTPStatus.SERVICE_UNAVAILABLE, (finding,), headers=retry)


def answer_fault(request: Request[Any, Any, Any], error: Exception) -> Response[Any]:
    """Exception handler for a fault of ours: the log gets all of it, the shopper what matters."""
    log.error("%s %s failed", request.method, _logged_path(request), exc_info=error)
    mend = (
        "The fault is the server's, not yours, and nothing is lost: what the phone has not been told "
        "is stored stays on the phone. Try again; if it stays, the server's log says why."
    )
    return _answer(request, HTTPStatus.INTERNAL_SERVER_ERROR, (Finding(field="", value="", mend=mend),))


def _answer(
    request: Request[Any, Any, Any],
    status: HTTPStatus,
    findings: Sequence[Finding],
    *,
    headers: dict[str, str] | None = None,
) -> Response[Any]:
    first, *others = findings
    if status is HTTPStatus.UNAUTHORIZED:
        headers = {"WWW-Authenticate": "Bearer"} | (headers or {})
    trouble = Trouble(
        status=status,
        title=status.phrase,
        field=first.field,
        value=first.value,
        mend=first.mend,
        also=tuple(others),
    )
    if _wants_page(request):
        return Template(
            "trouble.html", context={"trouble": trouble}, status_code=status, headers=headers or {}
        )
    return Response(
        ErrorAnswer(error=trouble), status_code=status, media_type=MediaType.JSON, headers=headers or {}
    )


def _logged_path(request: Request[Any, Any, Any]) -> str:
    """The path for the log: a pairing code in it is a secret, and so is the calendar feed's key."""
    path = request.url.path
    for secret in ("/pair/", "/calendar/"):
        if path.startswith(secret):
            return f"{secret}..."
    return path


def _wants_page(request: Request[Any, Any, Any]) -> bool:
    """Whether a person is looking: the browser asked for HTML, and not at an address for programs."""
    path = request.url.path
    for_programs = path == "/sync" or path.startswith(("/api/", "/web/"))
    return not for_programs and "text/html" in request.headers.get("accept", "")
