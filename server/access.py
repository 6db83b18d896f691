"""Who is asking, and may they: keys of paired devices, guards, and how often one may try.

A device shows its key as a cookie (browsers; HttpOnly, SameSite=Strict) or as a bearer token
(programs). ``KeyReader`` finds whose it is and leaves it as ``connection.user``; the guards
``household`` and ``owner`` stand on the routers. A stranger gets the same answer whatever he
asks for, so nothing can be learnt by guessing.

A server that trusts its own machine takes who sits there for an owner: asked over the loopback
by one of its local names and by no proxy. It must not be told so behind a reverse proxy, whose
requests all come from there.
"""

from __future__ import annotations

import ipaddress
from http import HTTPStatus
from typing import Any

from litestar import Request
from litestar.connection import ASGIConnection
from litestar.datastructures import Cookie, MutableScopeHeaders
from litestar.handlers import BaseRouteHandler
from litestar.middleware import AbstractAuthenticationMiddleware, AuthenticationResult
from litestar.middleware.rate_limit import RateLimitConfig
from litestar.types import ASGIApp, Message, Receive, Scope, Send

from .errors import not_taken
from .security import host_name
from .store.interface import THIS_MACHINE, Device, Keyring, StoreUnavailable

Asking = ASGIConnection[Any, Any, Any, Any]

KEY_COOKIE = "counterfoil-key"
KEY_COOKIE_TLS = f"__Host-{KEY_COOKIE}"  # the prefix ties it to this host and to https (RFC 6265bis, 4.1.3.2)
KEY_SECONDS = 400 * 24 * 3600  # the longest that browsers keep a cookie; renewed as it is used
PAIRINGS_A_MINUTE = 10  # of one address
SYNCS_A_MINUTE = 300  # of one device; one that is tapped all the time makes some 100

_FORWARDED = ("forwarded", "via", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-real-ip")


class KeyReader(AbstractAuthenticationMiddleware):
    """Sets ``connection.user`` to the device that asks, or None. It refuses nothing: the guards do."""

    def __init__(self, app: ASGIApp, keyring: Keyring, trusts_this_machine: bool) -> None:
        super().__init__(app)
        self._keyring = keyring
        self._trusts_this_machine = trusts_this_machine

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """As the framework's, and renews the cookie of a device that is not often here."""
        await super().__call__(scope, receive, _renewing(scope, send))

    async def authenticate_request(self, connection: Asking) -> AuthenticationResult:
        """Whose key it is; who sits at a trusted machine needs none."""
        cookie = connection.cookies.get(KEY_COOKIE_TLS if is_secure(connection) else KEY_COOKIE)
        scheme, _, token = connection.headers.get("authorization", "").partition(" ")
        key = token.strip() if scheme.lower() == "bearer" else cookie
        device = await self._keyring.device_of(key) if key else None
        if device is not None and device.revoked_at == "":
            try:
                seen_anew = await self._keyring.seen(device)
            except StoreUnavailable:
                seen_anew = False  # what was asked for may not need to write
            if seen_anew and cookie is not None and key == cookie:
                connection.scope["state"]["renewed_key"] = key_cookie(connection, cookie)
        elif self._trusts_this_machine and _is_this_machine(connection):
            device = THIS_MACHINE
        return AuthenticationResult(user=device, auth=None)


def paired_before(connection: Asking) -> str:
    """The id of the device that this browser was until now, by its cookie, its key good or revoked; "" for
    none. A program that shows its key in a header speaks for others too."""
    device: Device | None = connection.user
    if device is None or device.id == THIS_MACHINE.id or "authorization" in connection.headers:
        return ""
    return device.id


def household(connection: Asking, handler: BaseRouteHandler) -> None:
    """Guard: paired devices may pass."""
    device: Device | None = connection.user
    if device is None:
        raise not_taken(
            "key",
            "",
            "This device is not paired with the household. Ask for a code at the Desk and open /pair here; "
            "what this device has noted stays on it until then.",
            status=HTTPStatus.UNAUTHORIZED,
        )
    if device.revoked_at:
        raise not_taken(
            "key",
            "",
            "This device's key was revoked at the Desk. What it has noted stays on it; "
            "to go on, ask for a new code there and open /pair here.",
            status=HTTPStatus.UNAUTHORIZED,
        )


def owner(connection: Asking, handler: BaseRouteHandler) -> None:
    """Guard: of the household's devices, those that may pair and revoke."""
    household(connection, handler)
    if connection.user.role != "owner":
        raise not_taken(
            "key",
            connection.user.name,
            "This device may shop and plan; pairing, revoking and erasing are for an owner's device: "
            "`counterfoil pair --owner` on the server's machine makes a code for one.",
            status=HTTPStatus.FORBIDDEN,
        )


def key_cookie(connection: Asking, key: str) -> Cookie:
    """The cookie that carries a key; over https only, where there is https."""
    secure = is_secure(connection)
    return Cookie(
        key=KEY_COOKIE_TLS if secure else KEY_COOKIE,
        value=key,
        max_age=KEY_SECONDS,
        path="/",
        secure=secure,
        httponly=True,
        samesite="strict",
    )


def is_secure(connection: Asking) -> bool:
    """Whether the browser came by https, here or as far as a proxy that says so."""
    return connection.scope["scheme"] == "https"


def is_local_name(host: str) -> bool:
    """Whether a host name means the machine that the browser runs on."""
    if host == "localhost" or host.endswith(".localhost"):
        return True
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def limit_pairing() -> RateLimitConfig:
    """How often one address may try a code."""
    return RateLimitConfig(
        ("minute", PAIRINGS_A_MINUTE), identifier_for_request=_who_pairs, check_throttle_handler=_tries_a_code
    )


def limit_sync() -> RateLimitConfig:
    """How often one device may sync, and one address that is nobody's."""
    return RateLimitConfig(
        ("minute", SYNCS_A_MINUTE), identifier_for_request=_who_syncs, set_rate_limit_headers=False
    )


def _who_pairs(request: Request[Any, Any, Any]) -> str:
    return f"pair {_address(request)}"


def _tries_a_code(request: Request[Any, Any, Any]) -> bool:
    return request.method == "POST"


def _who_syncs(request: Request[Any, Any, Any]) -> str:
    device: Device | None = request.user
    return f"sync {device.id}" if device is not None else f"sync from {_address(request)}"


def _address(request: Request[Any, Any, Any]) -> str:
    return request.client.host if request.client else ""


def _is_this_machine(connection: Asking) -> bool:
    if connection.client is None or any(name in connection.headers for name in _FORWARDED):
        return False
    return is_local_name(connection.client.host) and is_local_name(
        host_name(connection.headers.get("host", ""))
    )


def _renewing(scope: Scope, send: Send) -> Send:
    async def send_renewed(message: Message) -> None:
        if message["type"] == "http.response.start" and "renewed_key" in scope["state"]:
            cookie: Cookie = scope["state"]["renewed_key"]
            MutableScopeHeaders.from_message(message).add("set-cookie", cookie.to_header(header=""))
        await send(message)

    return send_renewed
