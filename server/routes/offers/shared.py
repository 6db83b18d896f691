"""Texts shared by phones: ``POST /desk/inbox/shared`` takes them in, ``/desk/offers/shared`` shows them.

    {"texts": [{"id": "01943f...", "at": "2026-12-05T10:00:00.000Z",
                "title": "", "text": "2/$5 oats", "url": ""}]}
 -> {"kept": ["01943f..."]}

The request may be repeated: an id that is known is kept once, as it came first, and acknowledged again.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Annotated, Any

import msgspec
from litestar import Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER
from msgspec import Meta

from ...access import household, limit_sync
from ...errors import bad_input, not_taken
from ...intake.bad_input import BadInput
from ...intake.decoding import finding_of
from ...security import LARGEST_BATCH, no_endless_number
from ...store.shared_texts import SharedText, SharedTexts
from .page import Asked, device_of

MOST_TEXTS = 50  # at a time


class Shared(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A text as a phone sends it. ``at``: when it was shared, by the phone's clock."""

    id: Annotated[str, Meta(min_length=1, max_length=64)]
    at: Annotated[str, Meta(max_length=40)] = ""
    title: Annotated[str, Meta(max_length=1_000)] = ""
    text: Annotated[str, Meta(max_length=100_000)] = ""
    url: Annotated[str, Meta(max_length=4_000)] = ""


class SharedBatch(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a phone sends."""

    texts: Annotated[tuple[Shared, ...], Meta(max_length=MOST_TEXTS)]


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """The ids that are kept now, and need not be sent again."""

    kept: tuple[str, ...]


@post("/", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_BATCH)
async def take_in(request: Asked, shared_texts: NamedDependency[SharedTexts]) -> Kept:
    """Keeps the texts that are new; every id of the request is kept afterwards."""
    batch = _read(await request.body())
    device = device_of(request)
    await shared_texts.keep(
        [
            SharedText(id=text.id, device=device, at=text.at, title=text.title, text=text.text, url=text.url)
            for text in batch.texts
        ]
    )
    return Kept(kept=tuple(text.id for text in batch.texts))


inbox_router = Router(
    "/desk/inbox/shared",
    route_handlers=[take_in],
    guards=[household],
    middleware=[limit_sync().middleware],
    # As the sync: a program without forms; SameSite and same_origin keep other sites out.
    opt={"exclude_from_csrf": True},
    include_in_schema=False,
)


@get("/shared")
async def shared_list(shared_texts: NamedDependency[SharedTexts]) -> Template:
    """The texts that wait."""
    return Template("offers/shared.html", context={"texts": await shared_texts.waiting()})


@post("/shared/{id:str}/done", status_code=HTTPStatus.OK)
async def done_with(shared_texts: NamedDependency[SharedTexts], id: FromPath[str]) -> Response[Any]:
    """Puts a text away; a second press changes nothing."""
    if not await shared_texts.done(id) and await shared_texts.text(id) is None:
        raise not_taken("text", id, "There is no such text.", status=HTTPStatus.NOT_FOUND)
    return Redirect("/desk/offers/shared", status_code=HTTP_303_SEE_OTHER)


def text_to_read(shared: SharedText) -> str:
    """All that was shared, as one would paste it."""
    return "\n".join(part for part in (shared.title, shared.text) if part.strip())


def _read(body: bytes) -> SharedBatch:
    no_endless_number(body)
    try:
        batch = msgspec.json.decode(body, type=SharedBatch)
    except (msgspec.DecodeError, RecursionError) as error:
        raise BadInput(finding_of(error, body, SharedBatch)) from None
    for index, shared in enumerate(batch.texts):
        for name in ("id", "at", "title", "text", "url"):
            text: str = getattr(shared, name)
            if not _can_be_kept(text):
                raise bad_input(f"texts[{index}].{name}", text, "Send text that can be written as UTF-8.")
    return batch


def _can_be_kept(text: str) -> bool:
    """Whether the database can keep it: no half of a surrogate pair, no NUL."""
    try:
        return b"\0" not in text.encode()
    except UnicodeEncodeError:
        return False
