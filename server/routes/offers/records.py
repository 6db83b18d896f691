"""One record on its form: a new one, one more like another, a change, its removal."""

from __future__ import annotations

from collections.abc import Sequence
from http import HTTPStatus
from typing import Any
from urllib.parse import urlencode

from litestar import Response, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ...errors import NotTaken, not_taken
from ...home.checking import refers_to
from ...home.finding import find
from ...home.kinds import KINDS, Record, kind_of, title_of
from ...homes import Home, Snapshot, key_of
from ...intake.bad_input import BadInput, Finding
from .adding import add_product, all_that_fit, chosen_too
from .forms import FORMS, Form
from .forms.form import rows_of
from .forms.sheet import Sheet, Values, values_of
from .page import (
    LARGEST_FORM,
    Asked,
    checked,
    device_of,
    fields_of,
    findings_of,
    form_page,
    sheet_of,
    written,
)

LIST = "/desk/offers"
# What the next offer of the same leaflet or insert most often has too.
CARRIED = ("store", "stores", "kind", "issuer", "form", "from_date", "until", "where")


@get("/{kind:str}/new")
async def new_record(request: Asked, home: NamedDependency[Home], kind: FromPath[str]) -> Template:
    """A form to fill: blank, or as another record is (``?like=ID``), with what the page before says in it."""
    form, snapshot = _form(kind), await home.snapshot()
    asked: Values = {}
    for name, value in request.query_params.multi_items():
        asked.setdefault(name, []).append(str(value))
    like = snapshot.records[kind].get(asked.pop("like", [""])[0])
    values = form.blank if like is None else form.fill(like, written(snapshot))
    return form_page(form, sheet_of(snapshot, {**values, **asked}))


@post("/{kind:str}/new", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def add_record(request: Asked, home: NamedDependency[Home], kind: FromPath[str]) -> Response[Any]:
    """Keeps a new record, or shows the form again with every finding."""
    return await _sent(request, home, _form(kind), None)


@get("/{kind:str}/{id:str}")
async def record_page(home: NamedDependency[Home], kind: FromPath[str], id: FromPath[str]) -> Template:
    """A record on its form, to be changed."""
    form, snapshot = _form(kind), await home.snapshot()
    record = _there(snapshot, kind, id)
    sheet = sheet_of(snapshot, form.fill(record, written(snapshot)))
    return form_page(form, sheet, id=id, revision=snapshot.revisions[kind, id])


@post("/{kind:str}/{id:str}", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_FORM)
async def change_record(
    request: Asked, home: NamedDependency[Home], kind: FromPath[str], id: FromPath[str]
) -> Response[Any]:
    """Keeps the change, or shows the form again with every finding."""
    return await _sent(request, home, _form(kind), id)


@get("/{kind:str}/{id:str}/remove")
async def removal_page(home: NamedDependency[Home], kind: FromPath[str], id: FromPath[str]) -> Template:
    """Asks whether it is really to go, and says what still names it."""
    _form(kind)
    return _removal(await home.snapshot(), kind, id)


@post("/{kind:str}/{id:str}/remove", status_code=HTTPStatus.OK)
async def remove_record(
    request: Asked, home: NamedDependency[Home], kind: FromPath[str], id: FromPath[str]
) -> Response[Any]:
    """Takes the record out, unless others name it."""
    _form(kind)
    snapshot = await home.snapshot()
    _there(snapshot, kind, id)
    revision = (await fields_of(request, snapshot)).whole("revision", high=10**9)
    try:
        await home.remove(kind, id, device=device_of(request), revision=revision)
    except BadInput as error:
        return _removal(await home.snapshot(), kind, id, error.findings, HTTPStatus.CONFLICT)
    return Redirect(f"{LIST}?kind={kind}", status_code=HTTP_303_SEE_OTHER)


# --- a form that was sent -----------------------------------------------------------------


async def _sent(request: Asked, home: Home, form: Form, id: str | None) -> Response[Any]:
    snapshot = await home.snapshot()
    sheet = Sheet(await fields_of(request, snapshot), snapshot)
    verb, _, name = sheet.fields.text("do").partition(":")
    revision = sheet.fields.whole("revision", high=10**9) or 0
    if verb in ("find", "take", "add") and name in form.choosers(sheet.fields.typed):
        return await _round(home, form, sheet, verb, name, id, revision, device_of(request))
    if verb == "more" and form.more:
        counter, most, first = form.more
        values = values_of(sheet.fields.typed)
        rows = min(rows_of(sheet.fields.typed, counter, 1, most) + 1, most)
        values[counter] = [str(rows)]
        again = sheet_of(sheet.snapshot, values)
        return form_page(form, again, id=id, revision=revision, at=f"{first}{rows - 1}")
    try:
        records = await _keep(home, form, sheet, id, revision, device_of(request))
    except BadInput as error:
        return await _again(home, form, sheet, id, revision, error)
    if sheet.fields.text("then") == "another":
        carried = {name: sheet.fields.lines(name) for name in CARRIED}
        asked = urlencode({name: values for name, values in carried.items() if values}, doseq=True)
        return Redirect(f"{LIST}/{form.kind}/new?{asked}", status_code=HTTP_303_SEE_OTHER)
    return Redirect(f"{LIST}?kind={form.kind}&kept={len(records)}", status_code=HTTP_303_SEE_OTHER)


async def _keep(
    home: Home, form: Form, sheet: Sheet, id: str | None, revision: int, device: str
) -> Sequence[Record]:
    read = form.read(sheet, id)
    sheet.fields.finish()
    records = [_as_kept(checked(record, form.kind), sheet.snapshot) for record in read]
    made = [checked(made.product, "product") for made in sheet.made]
    revisions = {key_of(record): 0 for record in (*made, *records)}
    replaced = []
    if id is not None:
        revisions[form.kind, id] = revision
        replaced = [(form.kind, id)] if key_of(records[0]) != (form.kind, id) else []
    title, one = title_of(records[0]), KINDS[form.kind]
    what = f"{one.one}: {title}" if len(records) == 1 else f"{len(records)} {one.many}"
    await home.save(
        [*made, *records],
        words=f"{'New' if id is None else 'Changed'} {what}",
        device=device,
        revisions=revisions,
        replaced=replaced,
    )
    return records


def _as_kept(record: Record, snapshot: Snapshot) -> Record:
    """The kept record where it is equal: a default that was written out is no change."""
    kind, id = key_of(record)
    kept = snapshot.records[kind].get(id)
    return record if kept is None or kept != record else kept


async def _again(
    home: Home, form: Form, sheet: Sheet, id: str | None, revision: int, error: BadInput
) -> Template:
    """The form as it was typed, with what is wrong. After somebody else's change, saving again puts this
    version in its place: the page says so, and shows the way to the other one."""
    findings = findings_of(error, form, sheet)
    raced = any(found.field == "revision" for found in findings)
    if raced:
        revision = (await home.snapshot()).revisions.get((form.kind, id or ""), 0)
    return form_page(
        form,
        sheet,
        id=id,
        revision=revision,
        findings=findings,
        told="raced" if raced and id is not None else "",
        status=HTTPStatus.CONFLICT if raced else HTTPStatus.BAD_REQUEST,
    )


async def _round(
    home: Home, form: Form, sheet: Sheet, verb: str, name: str, id: str | None, revision: int, device: str
) -> Template:
    """The form comes back as it was, with the products that fit, all of them taken, or a new one added."""
    values = values_of(sheet.fields.typed)
    if verb == "take":
        fits = find(sheet.fields.text(f"{name}-words"), sheet.known)
        values = all_that_fit(values, name, [product.id for product in fits])
    if verb == "add":
        try:
            values = chosen_too(values, name, await add_product(home, sheet, name, device))
        except BadInput as error:
            return form_page(
                form,
                sheet,
                id=id,
                revision=revision,
                findings=error.findings,
                heading="The product was not added yet.",
                status=HTTPStatus.BAD_REQUEST,
            )
    return form_page(form, sheet_of(await home.snapshot(), values), id=id, revision=revision, at=name)


# --- removal ------------------------------------------------------------------------------


def _removal(
    snapshot: Snapshot,
    kind: str,
    id: str,
    findings: Sequence[Finding] = (),
    status: HTTPStatus = HTTPStatus.OK,
) -> Template:
    record = _there(snapshot, kind, id)
    naming = [
        other
        for others in snapshot.records.values()
        for other in others.values()
        if (kind, id) in refers_to(other)
    ]
    return Template(
        "offers/remove.html",
        context={
            "kind": KINDS[kind],
            "record_id": id,
            "title": title_of(record),
            "revision": snapshot.revisions[kind, id],
            "naming": [
                (kind_of(other), key_of(other)[1], title_of(other), kind_of(other).name in FORMS)
                for other in naming
            ],
            "findings": findings,
        },
        status_code=int(status),
    )


def _form(kind: str) -> Form:
    form = FORMS.get(kind)
    if form is None:
        raise not_taken("address", kind, "Offers have no such kind.", status=HTTPStatus.NOT_FOUND)
    return form


def _there(snapshot: Snapshot, kind: str, id: str) -> Record:
    record = snapshot.records[kind].get(id)
    if record is None:
        raise NotTaken(
            Finding(
                field="address",
                value=id[:80],
                mend=f"There is no such {KINDS[kind].one}; it may have been removed. The list is at {LIST}.",
            ),
            status=HTTPStatus.NOT_FOUND,
        )
    return record
