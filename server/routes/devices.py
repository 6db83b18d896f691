"""``/desk/devices``: who may come in, one more phone, and away with a lost one. For owners."""

from __future__ import annotations

import io
from http import HTTPStatus
from typing import Any

import segno
from litestar import Request, Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import is_local_name, owner
from ..errors import not_taken
from ..reach import Reach
from ..security import host_name
from ..store.interface import Keyring, Role
from ..store.keyring import readable_code

CODE_MINUTES = 5


@get("/")
async def device_list(request: Request[Any, Any, Any], keyring: NamedDependency[Keyring]) -> Template:
    """All devices, and the form that pairs another."""
    return Template("devices.html", context={"devices": await keyring.devices(), "me": request.user})


@post("/codes", status_code=HTTPStatus.OK)
async def show_code(
    request: Request[Any, Any, Any], keyring: NamedDependency[Keyring], reach: NamedDependency[Reach]
) -> Template:
    """A fresh code, as a picture for the phone's camera and as letters; it is shown this once."""
    role: Role = "owner" if (await request.form()).get("role") == "owner" else "phone"
    code = await keyring.make_code(role, CODE_MINUTES * 60)
    base = _address_for_phones(request, reach)
    link = f"{base}/pair/{readable_code(code)}" if base else ""
    return Template(
        "code.html",
        context={
            "code": readable_code(code),
            "role": role,
            "minutes": CODE_MINUTES,
            "address": f"{base}/pair" if base else "",
            "picture": qr_picture(link) if link else "",
            "secure": base.startswith("https://"),
        },
    )


@post("/{device_id:str}/revoke", status_code=HTTPStatus.OK)
async def revoke(keyring: NamedDependency[Keyring], device_id: FromPath[str]) -> Response[Any]:
    """Revokes a device's key; it is refused from its next request on."""
    if not await keyring.revoke(device_id):
        raise not_taken(
            "device",
            device_id,
            "There is no such device, or its key was revoked before. The list at /desk/devices tells.",
            status=HTTPStatus.NOT_FOUND,
        )
    return Redirect("/desk/devices", status_code=HTTP_303_SEE_OTHER)


devices_router = Router(
    "/desk/devices", route_handlers=[device_list, show_code, revoke], guards=[owner], include_in_schema=False
)


def qr_picture(text: str) -> str:
    """A QR code as SVG for a page: black on white in every colour scheme, with its quiet zone."""
    out = io.BytesIO()
    code = segno.make_qr(text)
    # Without a size of its own it takes the page's.
    code.save(out, kind="svg", dark="#000", light="#fff", omitsize=True, xmldecl=False, svgns=False, nl=False)
    return out.getvalue().decode()


def _address_for_phones(request: Request[Any, Any, Any], reach: Reach) -> str:
    """The server's address as a phone must write it; "" if it listens to this machine alone."""
    host = request.headers.get("host", "")
    if not is_local_name(host_name(host)):
        return f"{request.scope['scheme']}://{host}"
    return reach.beyond[0] if reach.beyond else ""
