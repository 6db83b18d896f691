"""Runs the server and says, once it is open, where: in words, and as a code for the phone's camera."""

from __future__ import annotations

import asyncio
import contextlib
import io
import signal
import socket
from collections.abc import Generator, Sequence
from pathlib import Path

import msgspec
import segno
import uvicorn

from ..authority import Certified, certify, own_addresses, own_names
from ..intake.bad_input import BadInput, Finding
from ..reach import Reach, SecurePort
from ..store.interface import Keyring
from ..store.keyring import readable_code
from ..web import create_app
from .patience import PatientProtocol

STOP_SECONDS = 5  # how long open requests may go on after a stop is asked for
FIRST_CODE_MINUTES = 60  # for the code that is printed at the start: a person reads it, installs, comes back
EVERYWHERE = ("0.0.0.0", "::")
MOST_CONNECTIONS = 500  # at once; a stranger who opens more only keeps himself out


class Serving(msgspec.Struct, frozen=True, kw_only=True):
    """What the command line asked for. ``tls_port``: None without ``--lan``."""

    data: Path
    host: str
    port: int
    known_as: tuple[str, ...] = ()
    demo: bool = False
    trusts_this_machine: bool = False
    tls_port: int | None = None


def serve_until_stopped(asked: Serving) -> None:
    """Serves until it is interrupted.

    Raises ``BadInput`` if it cannot listen there (then nothing is written) or cannot use the data.
    """
    asked = msgspec.structs.replace(asked, data=asked.data.resolve())
    with contextlib.ExitStack() as open_sockets:
        plain = open_sockets.enter_context(listening_at(asked.host, asked.port, "--port"))
        asked = msgspec.structs.replace(asked, port=_port_of(plain))
        if asked.tls_port is None:
            certified, tls = None, None
        else:
            tls = open_sockets.enter_context(listening_at(asked.host, asked.tls_port, "--tls-port"))
            asked = msgspec.structs.replace(asked, tls_port=_port_of(tls))
            names = (*own_names(), *asked.known_as)
            certified = certify(asked.data / "certificates", names, own_addresses())
        reach = _reach(asked, certified)
        app = create_app(
            asked.data,
            demo=asked.demo,
            allowed_hosts=asked.known_as,
            trusts_this_machine=asked.trusts_this_machine,
            reach=reach,
        )
        servers = [(_Server(_config(app)), plain)]
        if tls is not None:
            servers.append((_Server(_config(app, certified)), tls))
        asyncio.run(_run(servers, asked, reach, app.state.keyring))
    if not all(server.started for server, _ in servers):
        raise RuntimeError("the server could not start: the lines above say why")


class _Server(uvicorn.Server):
    """A server among several, which leaves the signals to whoever runs them all."""

    @contextlib.contextmanager
    def capture_signals(self) -> Generator[None]:
        yield


def _config(app: object, certified: Certified | None = None) -> uvicorn.Config:
    return uvicorn.Config(
        app,  # pyright: ignore[reportArgumentType]  # the two libraries describe the same ASGI in types of their own
        # The store is opened by the first of the servers alone.
        lifespan="on" if certified is None else "off",
        http=PatientProtocol,
        ws="none",
        log_level="warning",
        timeout_graceful_shutdown=STOP_SECONDS,
        limit_concurrency=MOST_CONNECTIONS,
        server_header=False,
        ssl_certfile=certified.certificate if certified else None,
        ssl_keyfile=certified.key if certified else None,
    )


async def _run(
    servers: Sequence[tuple[_Server, socket.socket]], asked: Serving, reach: Reach, keyring: Keyring
) -> None:
    """Opens the servers one after the other, says where, and runs them until a stop is asked for."""

    def stop() -> None:
        for server, _ in servers:
            server.force_exit = server.should_exit
            server.should_exit = True

    for number in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(number, stop)
    running: list[asyncio.Task[None]] = []
    for server, listening in servers:
        task = asyncio.create_task(server.serve(sockets=[listening]))
        running.append(task)
        while not server.started and not task.done():
            await asyncio.sleep(0.01)
        if not server.started:
            stop()
            break
    else:
        codes = await _first_codes(asked, reach, keyring)
        print(
            welcome(asked.host, asked.port, asked.data, demo=asked.demo, reach=reach, codes=codes), flush=True
        )
    # The first server closes the store, so the others finish first.
    for task in reversed(running):
        await task


class Codes(msgspec.Struct, frozen=True, kw_only=True):
    """Pairing codes to print: for the household's owner, for a phone; "" where none is needed."""

    owner: str = ""
    phone: str = ""


async def _first_codes(asked: Serving, reach: Reach, keyring: Keyring) -> Codes:
    seconds = FIRST_CODE_MINUTES * 60
    orphan = not asked.trusts_this_machine and not await keyring.has_owner()
    return Codes(
        owner=readable_code(await keyring.make_code("owner", seconds)) if orphan else "",
        phone=readable_code(await keyring.make_code("phone", seconds)) if asked.demo and reach.beyond else "",
    )


def welcome(
    host: str, port: int, data: Path, *, demo: bool, reach: Reach | None = None, codes: Codes | None = None
) -> str:
    """What is printed at the start: the address here, the address for a phone with its code, the data."""
    reach, codes = reach or _reach(Serving(data=data, host=host, port=port), None), codes or Codes()
    here = "localhost" if host in (*EVERYWHERE, "127.0.0.1", "::1") else host
    whose = " with the demo household" if demo else ""
    lines = [f"Counterfoil is open at http://{here}:{port}{whose}"]
    if codes.owner:
        lines += [
            "",
            "Nobody is paired yet. Open this once, here on this machine, to become the household's owner",
            f"(good for {FIRST_CODE_MINUTES} minutes, once):",
            f"  http://{here}:{port}/pair/{codes.owner}",
        ]
    if reach.secure is not None and reach.beyond:
        lines += _secure_words(reach.beyond[0], port, reach.secure)
    elif reach.beyond:
        lines += _plain_words(reach.beyond[0], codes.phone)
    lines += [f"Data: {data}", "Stop with Ctrl-C."]
    return "\n".join(lines)


def _plain_words(beyond: str, code: str) -> list[str]:
    lines = ["", f"A phone in the same network: {beyond}/"]
    if code:
        lines += [f"This picture also pairs it (good for {FIRST_CODE_MINUTES} minutes, once; code {code}):"]
    return [
        *lines,
        qr_code(f"{beyond}/pair/{code}" if code else f"{beyond}/"),
        "That is plain http: others in the network can read it, and browsers keep no page from it for",
        "offline use. On this computer http://localhost is secure enough; for phones there is",
        "`counterfoil serve --lan`, or a reverse proxy with a certificate.",
    ]


def _secure_words(beyond: str, port: int, secure: SecurePort) -> list[str]:
    trust = beyond.replace("https://", "http://").rpartition(":")[0] + f":{port}/trust"
    return [
        "",
        f"A phone in the same network: {beyond}/",
        "It must trust this server first. The steps, with the certificate, are at",
        f"  {trust}",
        qr_code(trust),
        "The fingerprint to compare there (SHA-256):",
        f"  {secure.fingerprint[:47]}",
        f"  {secure.fingerprint[48:]}",
    ]


def qr_code(text: str) -> str:
    """A QR code in block characters, two modules to a character, with its quiet zone."""
    out = io.StringIO()
    segno.make_qr(text).terminal(out, compact=True)
    return out.getvalue()


def _reach(asked: Serving, certified: Certified | None) -> Reach:
    """Where other machines find this server: at its first address, or at the one that it listens on."""
    if asked.host in EVERYWHERE:
        found = (certified.addresses if certified else own_addresses())[:1]
    else:
        found = () if asked.host in ("127.0.0.1", "::1", "localhost") else (asked.host,)
    hosts = [f"[{each}]" if ":" in each else each for each in found]
    if certified is None or asked.tls_port is None:
        return Reach(beyond=tuple(f"http://{each}:{asked.port}" for each in hosts))
    return Reach(
        beyond=tuple(f"https://{each}:{asked.tls_port}" for each in hosts),
        secure=SecurePort(
            port=asked.tls_port, authority=certified.authority, fingerprint=certified.fingerprint
        ),
    )


def listening_at(host: str, port: int, option: str) -> socket.socket:
    """A TCP socket bound to the address; BadInput that names ``option`` where it cannot be had."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    # With the protocol named, asyncio sends what it is given at once (TCP_NODELAY) on each connection;
    # without, every answer of two pieces waits some 40 ms for the first to be acknowledged.
    listening = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    # A server started again at once must get its port back.
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OSError as error:
        listening.close()
        found = f"{host}:{port} ({(error.strerror or 'no such address').lower()})"
        mend = f"stop what listens there, or choose another with {option}"
        if option == "--port":
            mend += " (PORT=... for demo/run.sh)"
        raise BadInput(Finding(field=option, value=found, mend=mend)) from None
    return listening


def _port_of(listening: socket.socket) -> int:
    return int(listening.getsockname()[1])
