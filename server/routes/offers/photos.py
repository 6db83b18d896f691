"""``/desk/offers/photo``: a photo of barcodes, or the digits of one; a card for each coupon."""

from __future__ import annotations

import asyncio
from http import HTTPStatus
from typing import Any

from litestar import Response, get, post
from litestar.datastructures import UploadFile
from litestar.di import NamedDependency
from litestar.response import Template

from ...home.codes import read_code
from ...homes import Home
from ...intake.bad_input import BadInput, Finding
from ...intake.pictures import LARGEST_PICTURE
from ...intake.symbols import read_photo
from .page import Asked, Today, fields_of, sheet_of
from .pasting import cards_page


@get("/photo")
async def photo_page() -> Template:
    """A file input, which is the camera on a phone, and a box for the digits."""
    return _page()


# A little more than the largest photo, for what the form puts around it.
@post("/photo", status_code=HTTPStatus.OK, request_max_body_size=LARGEST_PICTURE + 100_000)
async def read_upload(request: Asked, home: NamedDependency[Home], today: Today) -> Response[Any]:
    """Every barcode in the photo, each told; the photo itself is not kept."""
    upload: object = (await request.form()).get("photo")
    photo = await upload.read() if isinstance(upload, UploadFile) else b""
    try:
        symbols = await asyncio.to_thread(read_photo, photo)
    except BadInput as error:
        return _page(error.findings, HTTPStatus.BAD_REQUEST)
    digits = [symbol.digits for symbol in symbols]
    return cards_page(sheet_of(await home.snapshot(), {"code": digits}), today())


@post("/digits", status_code=HTTPStatus.OK)
async def read_digits(request: Asked, home: NamedDependency[Home], today: Today) -> Response[Any]:
    """The code that was typed; what is wrong with it is told beside it."""
    snapshot = await home.snapshot()
    fields = await fields_of(request, snapshot)
    digits = fields.text("digits", longest=200)
    code = read_code(digits)
    if code.mend:
        findings = (Finding(field="digits", value=digits or "nothing", mend=code.mend),)
        return _page(findings, HTTPStatus.BAD_REQUEST, digits)
    return cards_page(sheet_of(snapshot, {"code": [digits]}), today())


def _page(
    findings: tuple[Finding, ...] = (), status: HTTPStatus = HTTPStatus.OK, digits: str = ""
) -> Template:
    return Template(
        "offers/photo.html",
        context={
            "findings": findings,
            "digits": digits,
            "labels": {"photo": "Photo", "digits": "Digits"},
        },
        status_code=int(status),
    )
