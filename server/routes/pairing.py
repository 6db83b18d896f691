"""``/pair``: where a new device turns a code from the Desk into a key of its own.

Opening the link only shows the form, so a preview of the link or a second look does not use the
code up; sending the form does, once. What is wrong with a code is never told apart. A browser that was
paired before leaves its old key behind, and goes on as the device that it was.
"""

from __future__ import annotations

from http import HTTPStatus
from typing import Any

from litestar import Request, Response, Router, get, post
from litestar.di import NamedDependency
from litestar.params import FromPath
from litestar.response import Redirect, Template
from litestar.status_codes import HTTP_303_SEE_OTHER

from ..access import is_local_name, is_secure, key_cookie, limit_pairing, paired_before
from ..intake.bad_input import plain
from ..security import host_name
from ..store.interface import Device, Keyring
from ..store.keyring import LONGEST_NAME, plain_code, readable_code

# What a browser says of itself -> how the Desk may call its device, until a person names it.
_KINDS = (
    ("iphone", "iPhone"),
    ("ipad", "iPad"),
    ("android", "Android phone"),
    ("windows", "Windows computer"),
    ("macintosh", "Mac"),
    ("linux", "Linux computer"),
)


@get(["/", "/{code:str}"])
async def pairing_form(request: Request[Any, Any, Any], code: FromPath[str] = "") -> Template:
    """The form, with the code in it if the link brought one."""
    return _form(request, code)


@post("/", status_code=HTTPStatus.OK)
async def pair(request: Request[Any, Any, Any], keyring: NamedDependency[Keyring]) -> Response[Any]:
    """Redeems the code and lets the device in; the form again if the code opens nothing."""
    form = await request.form()
    code, name = str(form.get("code", "")), plain(str(form.get("name", ""))).strip()
    device: Device | None = request.user
    if device is not None and device.revoked_at == "" and device.role == "owner":
        return Redirect("/desk", status_code=HTTP_303_SEE_OTHER)  # nothing to gain, and the code stays good
    redeemed = await keyring.redeem(
        code, name[:LONGEST_NAME] or _kind_of(request), instead_of=paired_before(request)
    )
    if redeemed is None:
        return _form(request, code, failed=True)
    key, device = redeemed
    answer = Redirect("/desk" if device.role == "owner" else "/", status_code=HTTP_303_SEE_OTHER)
    answer.set_cookie(key_cookie(request, key))
    return answer


pairing_router = Router(
    "/pair",
    route_handlers=[pairing_form, pair],
    middleware=[limit_pairing().middleware],
    include_in_schema=False,
)


def _form(request: Request[Any, Any, Any], code: str, *, failed: bool = False) -> Template:
    device: Device | None = request.user
    return Template(
        "pair.html",
        context={
            "code": readable_code(plain_code(code)) if code else "",
            "name": _kind_of(request),
            "failed": failed,
            "device": device if device is not None and not device.revoked_at else None,
            "revoked": device is not None and bool(device.revoked_at),
            # Browsers keep a page for use without a network only from a secure address.
            "kept_offline": is_secure(request) or is_local_name(host_name(request.headers.get("host", ""))),
        },
        status_code=HTTPStatus.FORBIDDEN if failed else HTTPStatus.OK,
    )


def _kind_of(request: Request[Any, Any, Any]) -> str:
    agent = request.headers.get("user-agent", "").lower()
    return next((kind for word, kind in _KINDS if word in agent), "Phone")
