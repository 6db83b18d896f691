"""What the server says when it cannot do what was asked: one shape, as JSON and as a page.

The JSON, in full, whatever went wrong::

    {"error": {"status": 400, "title": "Bad Request", "field": "events[2].id",
               "value": "", "mend": "An event's id has 1 to 64 characters.",
               "also": [{"field": ..., "value": ..., "mend": ...}]}}

``field``: where, as a path into the document ("" when no field is to blame); ``value``: what stood
there, shortened; ``mend``: what to do about it; ``also``: the further findings, if any.
Three kinds are kept apart: a refusal is a value and never comes here; bad input is ``BadInput``;
a fault of ours is any other exception, logged whole and told without its details.
"""

from __future__ import annotations

import logging
from collections.abc import Sequence
from http import HTTPStatus
from typing import Any, NoReturn

import msgspec
from litestar import MediaType, Request, Response
from litestar.exceptions import HTTPException
from litestar.response import Template

log = logging.getLogger("counterfoil")

LONGEST_VALUE = 200  # characters of an offending value that are worth showing


class Finding(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that is wrong: where, what stood there, what to do."""

    field: str
    value: str
    mend: str


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


class BadInput(Exception):
    """What was sent cannot be used; ``findings`` (at least one) say why."""

    def __init__(self, *findings: Finding, status: int = HTTPStatus.BAD_REQUEST) -> None:
        super().__init__("; ".join(f"{finding.field}: {finding.mend}" for finding in findings))
        self.findings = findings
        self.status = int(status)


def bad_input(field: str, value: object, mend: str, *, status: int = HTTPStatus.BAD_REQUEST) -> BadInput:
    """A ``BadInput`` of one finding, its value shortened."""
    return BadInput(Finding(field=field, value=shorten(value), mend=mend), status=status)


def shorten(value: object) -> str:
    """``value`` as text of at most 200 characters, safe to print and to encode."""
    text = value if isinstance(value, str) else repr(value)
    text = text.encode("utf-8", "replace").decode("utf-8")
    return text if len(text) <= LONGEST_VALUE else text[: LONGEST_VALUE - 1] + "…"


def unreadable(error: Exception, *, within: str = "") -> BadInput:
    """The ``BadInput`` for a document that msgspec would not decode.

    msgspec ends a validation message with "- at `$.events[2].id`"; that path, set after
    ``within``, is the field. Anything else (no JSON, no UTF-8, too deep) blames the body.
    """
    if isinstance(error, msgspec.ValidationError):
        said, _, path = str(error).partition(" - at `")
        field = path.rstrip("`").removeprefix("$").removeprefix(".")
        where = ".".join(part for part in (within, field) if part)
        return bad_input(where or "body", said, f"{said}. The JSON Schema at /api/schema says what to send.")
    if isinstance(error, RecursionError):
        return bad_input(within or "body", "", "The JSON is nested too deeply; send a flatter document.")
    return bad_input(within or "body", str(error), "Send one whole JSON document in UTF-8.")


def no_such(field: str, value: object, mend: str) -> NoReturn:
    """Raises the 404 that names the thing."""
    raise bad_input(field, value, mend, status=HTTPStatus.NOT_FOUND)


def answer_bad_input(request: Request[Any, Any, Any], error: BadInput) -> Response[Any]:
    """Exception handler for ``BadInput``."""
    return _answer(request, error.status, error.findings)


def answer_http_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[Any]:
    """Exception handler for what the framework refuses (no such page, method, body too large)."""
    status = error.status_code
    if status >= HTTPStatus.INTERNAL_SERVER_ERROR:
        return answer_fault(request, error)
    mends = {
        HTTPStatus.NOT_FOUND: "Nothing is at this address. The Desk is at /desk, the phone's page at /.",
        HTTPStatus.METHOD_NOT_ALLOWED: "This address does not answer to this method.",
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE: "The body is too large; send less at a time.",
    }
    finding = Finding(
        field="address" if status in (404, 405) else "body" if status == 413 else "",
        value=shorten(request.url.path if status in (404, 405) else ""),
        mend=mends.get(HTTPStatus(status), error.detail),
    )
    return _answer(request, status, (finding,), headers=error.headers)


def answer_fault(request: Request[Any, Any, Any], error: Exception) -> Response[Any]:
    """Exception handler for a fault of ours: the log gets all of it, the shopper what matters."""
    log.error("%s %s failed", request.method, request.url.path, exc_info=error)
    mend = (
        "The fault is the server's, not yours, and nothing is lost: what the phone has not been told "
        "is stored stays on the phone. Try again; if it stays, the server's log says why."
    )
    return _answer(request, 500, (Finding(field="", value="", mend=mend),))


def _answer(
    request: Request[Any, Any, Any],
    status: int,
    findings: Sequence[Finding],
    *,
    headers: dict[str, str] | None = None,
) -> Response[Any]:
    first, *others = findings
    trouble = Trouble(
        status=status,
        title=HTTPStatus(status).phrase,
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


def _wants_page(request: Request[Any, Any, Any]) -> bool:
    """Whether a person is looking: the browser asked for HTML, and not at an address for programs."""
    path = request.url.path
    for_programs = path == "/sync" or path.startswith(("/api/", "/web/"))
    return not for_programs and "text/html" in request.headers.get("accept", "")
