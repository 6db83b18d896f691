"""``/desk/offers/import``: a table comes in. Sent, looked at row by row, then taken in whole or not at all.

What is sent is kept for the device that sent it, for a day. Nothing of the household changes before the
confirmation, which looks at every row again.
"""

from __future__ import annotations

from http import HTTPStatus
from pathlib import PurePath
from typing import Any

import msgspec
from litestar import Response, Router, get, post
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Stream, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import household
from ..errors import bad_input, not_taken, status_of
from ..home.tables import PRICE_HISTORY, TABLE_KINDS, TABLE_TYPES
from ..homes import Home
from ..importing import Importing, currency_of
from ..intake.bad_input import BadInput, Finding, shorten
from ..intake.tables.columns import columns_of
from ..intake.tables.delimited import MOST_BYTES
from ..passing import Passing
from ..store.facts import Facts
from ..tables_out import example_table, history_parts, table_of
from .import_pages import (
    HERE,
    Again,
    Asked,
    begin_page,
    device_of,
    done_page,
    gone_page,
    rows_page,
    working_page,
)

CSV = "text/csv; charset=utf-8"
LARGEST_UPLOAD = MOST_BYTES + 10_000  # bytes: the file and the form around it


@get("/")
async def import_page(
    home: NamedDependency[Home], done: FromQuery[str] = "", written: FromQuery[str] = ""
) -> Template:
    """The form that takes a file, the columns of each kind, and everything to take away."""
    return await begin_page(home, done=_number(done), written=_number(written))


@post("/", request_max_body_size=LARGEST_UPLOAD, status_code=HTTPStatus.OK)
async def upload(
    request: Asked, home: NamedDependency[Home], importing: NamedDependency[Importing]
) -> Response[Any]:
    """Keeps the file for its preview; the form again where there is none or it is too large."""
    form = await request.form()
    sent: object = form.get("table")
    kind = str(form.get("kind") or "")
    data = await sent.read() if isinstance(sent, UploadFile) else b""
    name = PurePath(sent.filename.replace("\\", "/")).name if isinstance(sent, UploadFile) else ""
    try:
        if not data:
            mend = (
                "there is nothing in this file: choose another"
                if name
                else "choose a file (CSV or JSON) first"
            )
            raise bad_input("table", name or "nothing", mend)
        if len(data) > MOST_BYTES:
            raise bad_input("table", f"{len(data):,} bytes", f"at most {MOST_BYTES:,}: split the file")
        if kind and kind not in TABLE_KINDS:
            raise bad_input("kind", kind, "choose one of the list")
    except BadInput as error:
        return await begin_page(home, kind=kind, findings=error.findings, status=status_of(error))
    token = await importing.begin(
        Passing(device=device_of(request), name=shorten(name)[:80], kind=kind, data=data)
    )
    return Redirect(f"{HERE}/{token}", status_code=HTTP_303_SEE_OTHER)


@get("/{token:str}")
async def preview_page(
    request: Asked,
    home: NamedDependency[Home],
    importing: NamedDependency[Importing],
    token: FromPath[str],
    show: FromQuery[str] = "",
    page: FromQuery[str] = "1",
) -> Response[Any]:
    """Each row's fate, the refused ones first."""
    if importing.is_being_taken(token):
        outcome = await importing.taken(token)
        if outcome is None:
            return working_page(token, "It is being taken in.")
        if not outcome.findings:
            return done_page(outcome)
        return await rows_page(request, home, importing, token, outcome=outcome)
    return await rows_page(request, home, importing, token, show=show, page=_number(page) or 1)


@post("/{token:str}", status_code=HTTPStatus.OK)
async def confirm(
    request: Asked, home: NamedDependency[Home], importing: NamedDependency[Importing], token: FromPath[str]
) -> Response[Any]:
    """Takes the file in as one change, or says which rows are in the way."""
    form = await request.form()
    file = await importing.file(token, device_of(request))
    if file is None:
        return await gone_page(home)
    outcome = await importing.take_in(
        token, file, seen=str(form.get("seen") or ""), without_refused=bool(form.get("without"))
    )
    if outcome is None:
        return Redirect(f"{HERE}/{token}", status_code=HTTP_303_SEE_OTHER)
    if outcome.findings:
        return await rows_page(request, home, importing, token, outcome=outcome)
    return done_page(outcome)


@post("/{token:str}/drop", status_code=HTTPStatus.OK)
async def drop(request: Asked, importing: NamedDependency[Importing], token: FromPath[str]) -> Response[Any]:
    """Forgets the file."""
    if await importing.file(token, device_of(request)) is not None:
        importing.drop(token)
    return Redirect(HERE, status_code=HTTP_303_SEE_OTHER)


@post("/{token:str}/kind", status_code=HTTPStatus.OK)
async def change_kind(
    request: Asked, home: NamedDependency[Home], importing: NamedDependency[Importing], token: FromPath[str]
) -> Response[Any]:
    """Looks at the same file again, as rows of another kind."""
    file = await importing.file(token, device_of(request))
    if file is None:
        return await gone_page(home)
    kind = str((await request.form()).get("kind") or "")
    if kind not in TABLE_KINDS:
        findings = (Finding(field="kind", value=shorten(kind), mend="choose one of the list"),)
        return await begin_page(
            home, findings=findings, status=HTTPStatus.BAD_REQUEST, again=Again(file.name, token)
        )
    if not importing.is_being_taken(token):
        fresh = await importing.begin(msgspec.structs.replace(file, kind=kind))
        importing.drop(token)
        token = fresh
    return Redirect(f"{HERE}/{token}", status_code=HTTP_303_SEE_OTHER)


@get("/columns/{kind:str}")
async def columns_page(kind: FromPath[str]) -> Template:
    """What the columns of a kind are called and what is written in them."""
    _known(kind)
    return Template(
        "imports/columns.html", context={"kind": TABLE_KINDS[kind], "columns": columns_of(TABLE_TYPES[kind])}
    )


@get("/template/{file:str}")
async def template(home: NamedDependency[Home], file: FromPath[str]) -> Response[bytes]:
    """A table of a kind with all its columns and one example row."""
    kind = _known(file.removesuffix(".csv"))
    snapshot = await home.snapshot()
    return _csv(f"{kind}-example.csv", example_table(kind, currency_of(snapshot)))


@get("/export/{file:str}")
async def export(
    home: NamedDependency[Home], facts: NamedDependency[Facts], file: FromPath[str]
) -> Response[Any]:
    """Everything of a kind as a table that can be brought in again."""
    kind = _known(file.removesuffix(".csv"))
    snapshot = await home.snapshot()
    currency = currency_of(snapshot)
    if kind == PRICE_HISTORY:
        parts = history_parts(facts, list(snapshot.products), currency)
        return Stream(parts, media_type=CSV, headers=_download(f"{kind}.csv"))
    return _csv(f"{kind}.csv", table_of(kind, snapshot, await facts.all_stock(), currency))


imports_router = Router(
    HERE,
    route_handlers=[
        import_page,
        upload,
        columns_page,
        template,
        export,
        preview_page,
        confirm,
        drop,
        change_kind,
    ],
    guards=[household],
    include_in_schema=False,
)


def _known(kind: str) -> str:
    if kind not in TABLE_KINDS:
        mend = f"there is no table of this kind: one of {', '.join(TABLE_KINDS)}"
        raise not_taken("kind", kind, mend, status=HTTPStatus.NOT_FOUND)
    return kind


def _csv(name: str, table: bytes) -> Response[bytes]:
    return Response(table, media_type=CSV, headers=_download(name))


def _download(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None
