"""What a browser may do with our pages, and who may ask at all.

``headers`` goes on every answer. The policy allows our own files only: no inline script but the
import map (by its hash), no inline style, nothing of third parties, WebAssembly for the solver.
``hosts_allowed`` and ``same_origin`` turn away pages of other sites that point a visitor's
browser at this server. ``body_in_time`` lets nobody hold a request open by sending it in drips.
Who may ask at all is the matter of ``access.py``.
"""

from __future__ import annotations

import asyncio
import base64
import hashlib
import ipaddress
import re
import socket
from collections.abc import Awaitable, Callable, Sequence
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

from litestar import Request, Response
from litestar.exceptions import HTTPException
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from .errors import bad_input, not_taken

KILOBYTE = 1_000
LARGEST_BODY = 64 * KILOBYTE  # bytes; a route that takes documents says so itself
LARGEST_TRIP = 8_000 * KILOBYTE  # a trip of 20,000 tags stays below it
LARGEST_BATCH = 4_000 * KILOBYTE  # bytes of one sync; a finished transaction takes some 20 KB
BODY_SECONDS = 30  # for a whole body; a phone gives up after half of it
MOST_DIGITS = 1_000
_ENDLESS = re.compile(rb"[0-9]{%d}" % MOST_DIGITS)
HSTS_SECONDS = 180 * 24 * 3600

# A check before the route: raises, answers in its place, or (None) lets the request pass.
Before = Callable[[Request[Any, Any, Any]], Awaitable[Response[Any] | None]]


def headers(import_map: str) -> dict[str, str]:
    """The headers of every answer; ``import_map`` is the shell's inline import map, to the letter."""
    allowed_hash = base64.b64encode(hashlib.sha256(import_map.encode()).digest()).decode()
    policy = (
        "default-src 'none'",
        f"script-src 'self' 'sha256-{allowed_hash}' 'wasm-unsafe-eval'",
        "style-src 'self'",
        "img-src 'self' blob:",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
    return {
        "Content-Security-Policy": "; ".join(policy),
        "X-Content-Type-Options": "nosniff",
        "Referrer-Policy": "no-referrer",
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": "camera=(self), geolocation=(), microphone=(), payment=()",
    }


def headers_on_everything(texts: dict[str, str]) -> Callable[[Message, Scope], Awaitable[None]]:
    """A hook that sets the headers on every answer, errors and unknown addresses included."""

    ours = [(name.lower().encode(), text.encode()) for name, text in texts.items()]
    named = {name for name, _ in ours}

    async def set_headers(message: Message, scope: Scope) -> None:
        if message["type"] != "http.response.start":
            return
        fields = [field for field in message.get("headers", ()) if field[0].lower() not in named] + ours
        if _may_insist_on_tls(scope):
            fields.append((b"strict-transport-security", f"max-age={HSTS_SECONDS}".encode()))
        # What a household buys stays in no cache, unless the route says how it may be kept.
        if not any(name.lower() == b"cache-control" for name, _ in fields):
            fields.append((b"cache-control", b"no-store"))
        message["headers"] = fields

    return set_headers


def body_in_time(app: ASGIApp) -> ASGIApp:
    """A middleware that gives up (408) on a body that is not whole in ``BODY_SECONDS``."""

    async def with_deadline(scope: Scope, receive: Receive, send: Send) -> None:
        deadline = asyncio.get_running_loop().time() + BODY_SECONDS
        whole = False

        async def receive_in_time() -> Any:
            nonlocal whole
            if whole:
                return await receive()  # waits for the end of the connection, as long as it takes
            try:
                async with asyncio.timeout_at(deadline):
                    message = await receive()
            except TimeoutError:
                raise HTTPException(status_code=HTTPStatus.REQUEST_TIMEOUT) from None
            whole = message["type"] != "http.request" or not message.get("more_body", False)
            return message

        await app(scope, receive_in_time, send)

    return with_deadline


def each_of(*checks: Before) -> Before:
    """One check after the other."""

    async def check(request: Request[Any, Any, Any]) -> Response[Any] | None:
        for each in checks:
            answer = await each(request)
            if answer is not None:
                return answer
        return None

    return check


def hosts_allowed(names: Sequence[str]) -> Before:
    """Refuses requests for a host name that is not ours, whatever port it names.

    A page elsewhere can give its own name this machine's address, but it cannot choose the
    Host header. Ours are ``names``, ``localhost``, this machine's name, names under ``.local``
    (the home network's own) and ``.localhost``, and bare addresses, which no page can rebind.
    """
    ours = {"localhost", socket.gethostname().lower(), *(name.lower() for name in names)}

    async def check(request: Request[Any, Any, Any]) -> None:
        host = host_name(request.headers.get("host", ""))
        if "*" in names or host in ours or host.endswith((".local", ".localhost")) or _is_address(host):
            return
        raise not_taken(
            "Host",
            host,
            "This server does not go by that name. Use one of its own, or start it with the name allowed.",
            status=HTTPStatus.MISDIRECTED_REQUEST,
        )

    return check


async def same_origin(request: Request[Any, Any, Any]) -> None:
    """Refuses a change that a page of another site asks for (Fetch Metadata; Origin in old browsers)."""
    if request.method in ("GET", "HEAD", "OPTIONS"):
        return
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    if site is not None:
        ours = site in ("same-origin", "none")
    else:
        ours = origin is None or origin.lower().partition("://")[2] == request.headers.get("host", "").lower()
    if not ours:
        raise not_taken(
            "Origin",
            origin or site,
            "Changes are taken from this server's own pages only. Open the page here and try again.",
            status=HTTPStatus.FORBIDDEN,
        )


async def not_packed(request: Request[Any, Any, Any]) -> None:
    """Refuses packed bodies: a few kilobytes could unfold to a full memory, and no phone sends them."""
    packing = request.headers.get("content-encoding", "identity")
    if packing.lower() != "identity":
        raise not_taken(
            "Content-Encoding",
            packing,
            "Send the body as it is, not packed.",
            status=HTTPStatus.UNSUPPORTED_MEDIA_TYPE,
        )


def no_endless_number(body: bytes) -> None:
    """Refuses a number that nobody means: one of a million digits would take seconds of everyone's time."""
    if found := _ENDLESS.search(body):
        raise bad_input(
            f"byte {found.start()}",
            found[0][:20].decode(),
            f"Write numbers of fewer than {MOST_DIGITS} digits.",
        )


def host_name(host: str) -> str:
    """The name in a Host header: lower case, without port, an IPv6 address without brackets; "" if broken."""
    try:
        return (urlsplit(f"//{host}").hostname or "") if "@" not in host else ""
    except ValueError:
        return ""


def _may_insist_on_tls(scope: Scope) -> bool:
    """HSTS goes out over https, but not for the name that every developer's servers share."""
    if scope["type"] != "http" or scope["scheme"] != "https":
        return False
    host = next((value for name, value in scope["headers"] if name == b"host"), b"").decode("latin-1")
    return host_name(host) not in ("", "localhost")


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
