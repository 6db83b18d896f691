"""``/trust``: how a phone comes to trust the household's own certificate authority.

These pages are the only ones that go out over plain http beyond this machine while the server
speaks https itself: what a phone needs before it can come in securely.
"""

from __future__ import annotations

import asyncio
from http import HTTPStatus
from typing import Any
from urllib.parse import quote

from litestar import Request, Response, Router, get
from litestar.di import NamedDependency
from litestar.response import Redirect, Template

from ..access import is_local_name, is_secure
from ..errors import not_taken
from ..reach import Reach, SecurePort
from ..security import Before, host_name

# Without a key and without TLS: the steps, the certificate, and what a page of them is made of.
_OPEN = ("/trust", "/web/styles/desk.css", "/icons/")


@get("/", opt={"exclude_from_auth": True, "exclude_from_csrf": True})
async def steps(request: Request[Any, Any, Any], reach: NamedDependency[Reach]) -> Template:
    """Plain steps, for the phone that asks and for others."""
    secure = _secure(reach)
    name = host_name(request.headers.get("host", ""))
    agent = request.headers.get("user-agent", "").lower()
    return Template(
        "trust.html",
        context={
            "fingerprint": secure.fingerprint,
            "address": f"https://{_in_address(name)}:{secure.port}/",
            "first": "apple"
            if "iphone" in agent or "ipad" in agent
            else "android"
            if "android" in agent
            else "",
        },
    )


@get("/authority.crt", opt={"exclude_from_auth": True, "exclude_from_csrf": True})
async def certificate(reach: NamedDependency[Reach]) -> Response[bytes]:
    """The authority's certificate, as phones install it."""
    return Response(
        await asyncio.to_thread(_secure(reach).authority.read_bytes),
        media_type="application/x-x509-ca-cert",
        headers={"Content-Disposition": 'attachment; filename="counterfoil-household.crt"'},
    )


trust_router = Router("/trust", route_handlers=[steps, certificate], include_in_schema=False)


def secure_beyond(reach: Reach) -> Before:
    """A check that sends who comes by plain http from another machine to where it can become secure."""

    async def check(request: Request[Any, Any, Any]) -> Response[Any] | None:
        host = host_name(request.headers.get("host", ""))
        path = request.url.path
        if reach.secure is None or is_secure(request) or is_local_name(host) or path.startswith(_OPEN):
            return None
        if request.method in ("GET", "HEAD") and not path.startswith(("/api/", "/sync")):
            return Redirect("/trust")
        raise not_taken(
            "address",
            f"http://{quote(host)}",
            f"From another machine this server is used by https, on port {reach.secure.port}. "
            "Open /trust here for the steps.",
            status=HTTPStatus.FORBIDDEN,
        )

    return check


def _secure(reach: Reach) -> SecurePort:
    if reach.secure is None:
        raise not_taken(
            "address",
            "/trust",
            "This server has no certificate authority of its own. Start it with --lan.",
            status=HTTPStatus.NOT_FOUND,
        )
    return reach.secure


def _in_address(name: str) -> str:
    return f"[{name}]" if ":" in name else name
