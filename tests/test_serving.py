"""``counterfoil demo`` opens where it says, stops and opens again on the same data, or says why not."""

from __future__ import annotations

import asyncio
import re
import socket
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from counterfoil.cli import main
from counterfoil.cli.serving import listening_at
from tests.served import Running, free_port


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Running]:
    """The demo household's server, started as a user starts it."""
    server = Running(tmp_path / "data", "demo")
    yield server.start()
    server.stop()


def test_the_demo_opens_and_answers_at_the_address_it_prints(demo: Running) -> None:
    printed = re.search(r"open at (http://\S+)", demo.output)
    assert printed
    with urllib.request.urlopen(printed[1]) as page:
        assert page.status == 200
        assert page.headers.get_content_type() == "text/html"


def test_a_stopped_server_opens_again_at_the_same_address_with_the_same_data(demo: Running) -> None:
    kept = _read(demo.url + "/api/trips/")
    demo.stop()
    with pytest.raises(OSError, match="refused"):
        _read(demo.url + "/api/trips/")
    demo.start()
    assert _read(demo.url + "/api/trips/") == kept


def test_an_answer_leaves_at_once_and_waits_for_no_acknowledgement() -> None:
    """TCP_NODELAY (RFC 9293, 3.7.4 on Nagle's algorithm): head and body of an answer are sent apart."""

    async def asked() -> int:
        at_once: list[int] = []

        async def answer(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            connection = writer.get_extra_info("socket")
            at_once.append(connection.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        with listening_at("127.0.0.1", 0, "--port") as listening:
            server = await asyncio.start_server(answer, sock=listening)
            reader, writer = await asyncio.open_connection(*listening.getsockname())
            await reader.read()
            writer.close()
            server.close()
        return at_once[0]

    assert asyncio.run(asked())


def test_a_port_in_use_is_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        arguments = ["--host", "127.0.0.1", "--port", str(port), "--data", str(tmp_path / "data")]
        assert main(["demo", *arguments]) == 2
    said = capsys.readouterr()
    assert said.err.startswith(f"--port: found 127.0.0.1:{port} (address already in use); mend: ")
    assert not (tmp_path / "data").exists()


def test_data_that_cannot_be_used_are_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "data").write_text("a file where a folder should be")
    assert main(["serve", "--port", "0", "--data", str(tmp_path / "data")]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert said.err.startswith("data: found ")


def test_a_server_under_test_that_dies_early_says_why(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        server = Running(tmp_path / "data", "demo", taken.getsockname()[1])
        with pytest.raises(AssertionError, match="address already in use"):
            server.start()


def test_a_phone_is_offered_the_address_as_a_code() -> None:
    from counterfoil.cli.serving import welcome

    port = free_port()
    words = welcome("0.0.0.0", port, Path("data"), demo=True)
    assert words.startswith(f"Counterfoil is open at http://localhost:{port} with the demo household\n")
    offered = re.search(r"A phone in the same network: (http://[0-9.]+:\d+/)\n", words)
    # Without any network there is nothing to offer.
    assert offered is None or "█" in words
    assert "phone" not in welcome("127.0.0.1", port, Path("data"), demo=False)


def _read(address: str) -> bytes:
    with urllib.request.urlopen(address) as answer:
        return answer.read()
