"""``/desk/offers/import``: a table comes in. Sent, looked at row by row, then taken in whole or not at all.

What is sent is kept for the device that sent it, for a day. Nothing of the household changes before the
confirmation, which looks at every row again.
"""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from pathlib import PurePath
from typing import Any

from litestar import Request, Response, Router, get, post
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.params import FromPath, FromQuery
from litestar.response import Redirect, Stream, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import household
from ..errors import bad_input, not_taken, status_of
from ..home.importing import FATES, Fate, FateName
from ..home.tables import PRICE_HISTORY, TABLE_KINDS, TABLE_TYPES
from ..homes import Home
from ..importing import Importing, Outcome, Weighed, currency_of, digest_of
from ..intake.bad_input import BadInput, Finding, shorten
from ..intake.tables.columns import columns_of
from ..intake.tables.delimited import MOST_BYTES, MOST_ROWS
from ..passing import Passing
from ..store.facts import Facts
from ..tables_out import example_table, history_parts, table_of

Asked = Request[Any, Any, Any]
CSV = "text/csv; charset=utf-8"
HERE = "/desk/offers/import"
A_PAGE = 100  # rows
LARGEST_UPLOAD = MOST_BYTES + 10_000  # bytes: the file and the form around it
MOST_CHANGED_SHOWN = 20


@get("/")
async def import_page(
    home: NamedDependency[Home], done: FromQuery[str] = "", written: FromQuery[str] = ""
) -> Template:
    """The form that takes a file, the columns of each kind, and everything to take away."""
    return await _begin(home, done=_number(done), written=_number(written))


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
        return await _begin(home, kind=kind, findings=error.findings, status=status_of(error))
    token = await importing.begin(
        Passing(device=_device(request), name=shorten(name)[:80], kind=kind, data=data)
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
            return _working(token, "It is being taken in.")
        if not outcome.findings:
            return _done(outcome)
        return await _preview(request, home, importing, token, outcome=outcome)
    return await _preview(request, home, importing, token, show=show, page=_number(page) or 1)


@post("/{token:str}", status_code=HTTPStatus.OK)
async def confirm(
    request: Asked, home: NamedDependency[Home], importing: NamedDependency[Importing], token: FromPath[str]
) -> Response[Any]:
    """Takes the file in as one change, or says which rows are in the way."""
    form = await request.form()
    file = await importing.file(token, _device(request))
    if file is None:
        return await _gone(home)
    outcome = await importing.take_in(
        token, file, seen=str(form.get("seen") or ""), without_refused=bool(form.get("without"))
    )
    if outcome is None:
        return Redirect(f"{HERE}/{token}", status_code=HTTP_303_SEE_OTHER)
    if outcome.findings:
        return await _preview(request, home, importing, token, outcome=outcome)
    return _done(outcome)


@post("/{token:str}/drop", status_code=HTTPStatus.OK)
async def drop(request: Asked, importing: NamedDependency[Importing], token: FromPath[str]) -> Response[Any]:
    """Forgets the file."""
    if await importing.file(token, _device(request)) is not None:
        importing.drop(token)
    return Redirect(HERE, status_code=HTTP_303_SEE_OTHER)


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
    route_handlers=[import_page, upload, columns_page, template, export, preview_page, confirm, drop],
    guards=[household],
    include_in_schema=False,
)


# --- pages --------------------------------------------------------------------------------


async def _begin(
    home: Home,
    *,
    kind: str = "",
    findings: Sequence[Finding] = (),
    status: HTTPStatus = HTTPStatus.OK,
    done: int | None = None,
    written: int | None = None,
) -> Template:
    snapshot = await home.snapshot()
    return Template(
        "imports/begin.html",
        context={
            "kinds": [(each, len(snapshot.records.get(name, ()))) for name, each in TABLE_KINDS.items()],
            "kind": kind,
            "findings": findings,
            "most_rows": MOST_ROWS,
            "most_bytes": MOST_BYTES,
            "done": done,
            "written": written,
            "batch": next((b for b in await home.kept.batches(50) if b.number == done), None),
        },
        status_code=int(status),
    )


async def _preview(
    request: Asked,
    home: Home,
    importing: Importing,
    token: str,
    *,
    show: str = "",
    page: int = 1,
    outcome: Outcome | None = None,
) -> Response[Any]:
    file = await importing.file(token, _device(request))
    if file is None:
        return await _gone(home)
    try:
        weighed = await importing.weighed(token, file)
    except BadInput as error:
        importing.drop(token)
        return await _begin(home, kind=file.kind, findings=error.findings, status=status_of(error))
    if weighed is None:
        return _working(token, "Each row is being looked at.")
    return _rows(token, file, weighed, show, page, outcome)


def _rows(
    token: str, file: Passing, weighed: Weighed, show: str, page: int, outcome: Outcome | None
) -> Template:
    preview = weighed.preview
    counts: dict[FateName, int] = {fate: preview.count(fate) for fate in FATES}
    chosen: Sequence[Fate] = [fate for fate in preview.fates if show in ("", fate.fate)]
    ordered = sorted(chosen, key=lambda fate: FATES.index(fate.fate))
    pages = max(1, -(-len(ordered) // A_PAGE))
    page = min(max(page, 1), pages)
    findings = outcome.findings if outcome else ()
    return Template(
        "imports/preview.html",
        context={
            "token": token,
            "file": file,
            "kinds": TABLE_KINDS,
            "one_kind": TABLE_KINDS[file.kind] if file.kind else None,
            "counts": counts,
            "writes": preview.writes,
            "notes": preview.notes,
            "rows": ordered[(page - 1) * A_PAGE : page * A_PAGE],
            "show": show,
            "page": page,
            "pages": pages,
            "seen": digest_of(preview),
            "findings": findings,
            "changed": outcome.changed[:MOST_CHANGED_SHOWN] if outcome else (),
            "changed_in_all": len(outcome.changed) if outcome else 0,
        },
        status_code=int(HTTPStatus.CONFLICT if findings else HTTPStatus.OK),
    )


def _working(token: str, words: str) -> Template:
    return Template("imports/working.html", context={"token": token, "words": words})


def _done(outcome: Outcome) -> Response[Any]:
    address = f"{HERE}?done={outcome.batch}&written={outcome.written}"
    return Redirect(address, status_code=HTTP_303_SEE_OTHER)


async def _gone(home: Home) -> Template:
    mend = "it was sent from another device, is older than a day, or was taken in: send it again"
    findings = (Finding(field="table", value="no such file here", mend=mend),)
    return await _begin(home, findings=findings, status=HTTPStatus.NOT_FOUND)


def _known(kind: str) -> str:
    if kind not in TABLE_KINDS:
        mend = f"there is no table of this kind: one of {', '.join(TABLE_KINDS)}"
        raise not_taken("kind", kind, mend, status=HTTPStatus.NOT_FOUND)
    return kind


def _csv(name: str, table: bytes) -> Response[bytes]:
    return Response(table, media_type=CSV, headers=_download(name))


def _download(name: str) -> dict[str, str]:
    return {"Content-Disposition": f'attachment; filename="{name}"', "Cache-Control": "no-store"}


def _device(request: Asked) -> str:
    return str(request.user.id)


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None
