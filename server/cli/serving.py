"""Runs the server and says, once it is open, where: in words, and as a code for the phone's camera."""

from __future__ import annotations

import io
import socket
from collections.abc import Sequence
from pathlib import Path

import segno
import uvicorn

from ..intake.bad_input import BadInput, Finding
from ..web import create_app

STOP_SECONDS = 5  # how long open requests may go on after a stop is asked for


def serve_until_stopped(data: Path, host: str, port: int, known_as: Sequence[str], *, demo: bool) -> None:
    """Serves the data in ``data`` until it is interrupted.

    Raises ``BadInput`` if it cannot listen there (then nothing is written) or cannot use the data.
    """
    data = data.resolve()
    with _listen(host, port) as listening:
        port = int(listening.getsockname()[1])
        config = uvicorn.Config(
            create_app(data, demo=demo, allowed_hosts=known_as),
            log_level="warning",
            timeout_graceful_shutdown=STOP_SECONDS,
            server_header=False,
        )
        server = _Announcing(config, welcome(host, port, data, demo=demo))
        server.run(sockets=[listening])
    if not server.started:
        raise RuntimeError("the server could not start: the lines above say why")


class _Announcing(uvicorn.Server):
    """A server that prints its words when it answers, not before."""

    def __init__(self, config: uvicorn.Config, words: str) -> None:
        super().__init__(config)
        self._words = words

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self.started:
            print(self._words, flush=True)


def welcome(host: str, port: int, data: Path, *, demo: bool) -> str:
    """What is printed at the start: the address here, the address for a phone with its code, the data."""
    here = "localhost" if host in ("0.0.0.0", "::", "127.0.0.1", "::1") else host
    whose = " with the demo household" if demo else ""
    lines = [f"Counterfoil is open at http://{here}:{port}{whose}"]
    beyond = _own_address() if host in ("0.0.0.0", "::") else None
    if beyond:
        address = f"http://{beyond}:{port}/"
        lines += ["", f"A phone in the same network: {address}", qr_code(address)]
        lines += [
            "Browsers keep a page for offline use only from a secure address: on the phone that is a reverse",
            "proxy with a certificate; on this computer http://localhost counts as one.",
        ]
    lines += [f"Data: {data}", "Stop with Ctrl-C."]
    return "\n".join(lines)


def qr_code(text: str) -> str:
    """A QR code in block characters, two modules to a character, with its quiet zone."""
    out = io.StringIO()
    segno.make_qr(text).terminal(out, compact=True)
    return out.getvalue()


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listening = socket.socket(family, socket.SOCK_STREAM)
    # A server started again at once must get its port back.
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind((host, port))
    except OSError as error:
        listening.close()
        found = f"{host}:{port} ({(error.strerror or 'no such address').lower()})"
        mend = "stop what listens there, or choose another with --port (PORT=... for demo/run.sh)"
        raise BadInput(Finding(field="--port", value=found, mend=mend)) from None
    return listening


def _own_address() -> str | None:
    """This machine's address in its own network, or None without one. Nothing is sent: a datagram
    socket that is only connected asks the routing table (192.0.2.1 is for documentation, RFC 5737)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if address.startswith("127.") else address
