"""The pages of a table that comes in: the form that takes it, each row's fate, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any, NamedTuple

from litestar import Request, Response
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..errors import status_of
from ..home.importing import FATES, Fate, FateName
from ..home.tables import TABLE_KINDS
from ..homes import Home
from ..importing import Importing, Outcome, Weighed, digest_of
from ..intake.bad_input import BadInput, Finding
from ..intake.tables.delimited import MOST_BYTES, MOST_ROWS
from ..intake.tables.lists import is_json, is_list
from ..passing import Passing

Asked = Request[Any, Any, Any]
HERE = "/desk/offers/import"
A_PAGE = 100  # rows
MOST_CHANGED_SHOWN = 20


class Again(NamedTuple):
    """A file that is kept although it could not be read: as rows of another kind it may be."""

    name: str
    token: str


async def begin_page(
    home: Home,
    *,
    kind: str = "",
    findings: Sequence[Finding] = (),
    status: HTTPStatus = HTTPStatus.OK,
    done: int | None = None,
    written: int | None = None,
    again: Again | None = None,
) -> Template:
    """The form that takes a file. ``done``, ``written``: the batch that was just taken in and its rows;
    ``again``: a file that is still here, whose kind she may choose.
    """
    snapshot = await home.snapshot()
    return Template(
        "imports/begin.html",
        context={
            "kinds": [(each, len(snapshot.records.get(name, ()))) for name, each in TABLE_KINDS.items()],
            "kind": kind,
            "again": again,
            "table_kinds": TABLE_KINDS,
            "findings": findings,
            "most_rows": MOST_ROWS,
            "most_bytes": MOST_BYTES,
            "done": done,
            "written": written,
            "batch": next((b for b in await home.kept.batches(50) if b.number == done), None),
        },
        status_code=int(status),
    )


async def rows_page(
    request: Asked,
    home: Home,
    importing: Importing,
    token: str,
    *,
    show: str = "",
    page: int = 1,
    outcome: Outcome | None = None,
) -> Response[Any]:
    """Each row's fate; the form again where the file cannot be read; one that waits where it takes long."""
    file = await importing.file(token, device_of(request))
    if file is None:
        return await gone_page(home)
    try:
        weighed = await importing.weighed(token, file)
    except BadInput as error:
        asks_kind = bool(file.kind) or any(finding.field == "kind" for finding in error.findings)
        again = Again(file.name, token) if asks_kind and _is_of_one_kind(file.data) else None
        if again is None:
            importing.drop(token)
        return await begin_page(
            home, kind=file.kind, findings=error.findings, status=status_of(error), again=again
        )
    if weighed is None:
        return working_page(token, "Each row is being looked at.")
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
            "kind": file.kind or (preview.fates[0].kind if preview.fates else ""),
            "is_of_one_kind": _is_of_one_kind(file.data),
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


def working_page(token: str, words: str) -> Template:
    """Says that it goes on by itself, and asks again."""
    return Template("imports/working.html", context={"token": token, "words": words})


def done_page(outcome: Outcome) -> Response[Any]:
    """On to what was taken in."""
    address = f"{HERE}?done={outcome.batch}&written={outcome.written}"
    return Redirect(address, status_code=HTTP_303_SEE_OTHER)


async def gone_page(home: Home) -> Template:
    """The form, saying that no such file is here."""
    mend = "it was sent from another device, is older than a day, or was taken in: send it again"
    findings = (Finding(field="table", value="no such file here", mend=mend),)
    return await begin_page(home, findings=findings, status=HTTPStatus.NOT_FOUND)


def _is_of_one_kind(data: bytes) -> bool:
    """Whether a file is a table or a list of records, whose kind can be chosen; a trip or export tells it."""
    return not is_json(data) or is_list(data)


def device_of(request: Asked) -> str:
    """The device that asks."""
    return str(request.user.id)
