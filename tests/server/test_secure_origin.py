"""A secure origin at home: an authority that can vouch for home alone, and http that does not pretend."""

from __future__ import annotations

import ipaddress
import re
import ssl
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, cast

import pytest
from cryptography import x509
from litestar.testing import TestClient

from counterfoil.authority import RENEW_DAYS, SERVER_DAYS, certify
from counterfoil.cli.serving import Codes, welcome
from counterfoil.reach import Reach, SecurePort
from counterfoil.web import create_app
from tests.served import free_port

from .conftest import Client, key_for

NAMES = ("localhost", "kitchen", "kitchen.local")
ADDRESSES = ("192.168.1.20", "fd00::20")
NOW = datetime(2026, 12, 5, 12, tzinfo=UTC)


def made(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def names_of(certificate: x509.Certificate) -> set[str]:
    held = certificate.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(each.value) for each in held}


def test_the_certificate_is_for_the_machines_names_and_addresses(tmp_path: Path) -> None:
    files = certify(tmp_path / "c", NAMES, ADDRESSES, now=lambda: NOW)
    certificate = made(files.certificate)
    assert names_of(certificate) == {*NAMES, *ADDRESSES, "127.0.0.1", "::1"}
    certificate.verify_directly_issued_by(made(files.authority))
    lasts = certificate.not_valid_after_utc - certificate.not_valid_before_utc
    assert lasts < timedelta(days=398)  # what phones accept
    assert files.addresses == ADDRESSES


def test_only_the_owner_of_the_folder_reads_the_keys(tmp_path: Path) -> None:
    certify(tmp_path / "c", NAMES, ADDRESSES)
    for key in ("authority.key", "server.key"):
        assert (tmp_path / "c" / key).stat().st_mode & 0o777 == 0o600
    assert (tmp_path / "c").stat().st_mode & 0o777 == 0o700


def test_the_authority_can_vouch_for_no_site_of_the_internet(tmp_path: Path) -> None:
    files = certify(tmp_path / "c", NAMES, ADDRESSES, now=lambda: NOW)
    constraints = made(files.authority).extensions.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical
    permitted = constraints.value.permitted_subtrees or []
    domains = {each.value for each in permitted if isinstance(each, x509.DNSName)}
    assert domains == {"localhost", "local", "home.arpa", "kitchen", "kitchen.local"}
    networks = [each.value for each in permitted if isinstance(each, x509.IPAddress)]
    for address in ("8.8.8.8", "203.0.113.1", "2001:db8::1"):
        assert not any(ipaddress.ip_address(address) in cast(Any, network) for network in networks)
    later = certify(tmp_path / "c", (*NAMES, "bank.example"), (*ADDRESSES, "203.0.113.1"), now=lambda: NOW)
    assert not names_of(made(later.certificate)) & {"bank.example", "203.0.113.1"}


def test_the_authority_is_made_once_and_the_certificate_when_it_must(tmp_path: Path) -> None:
    def run(addresses: tuple[str, ...] = ADDRESSES, after_days: int = 0) -> tuple[bytes, bytes]:
        now = NOW + timedelta(days=after_days)
        files = certify(tmp_path / "c", NAMES, addresses, now=lambda: now)
        return files.authority.read_bytes(), files.certificate.read_bytes()

    authority, first = run()
    assert run() == (authority, first)
    assert run(after_days=SERVER_DAYS - RENEW_DAYS - 2) == (authority, first)
    same, renewed = run(after_days=SERVER_DAYS - RENEW_DAYS + 1)
    assert (same == authority, renewed != first) == (True, True)
    same, moved = run(("192.168.7.7",))
    assert (same == authority, moved != renewed) == (True, True)


def test_a_machine_with_a_public_address_can_use_it(tmp_path: Path) -> None:
    files = certify(tmp_path / "c", NAMES, ("203.0.113.20",))
    assert files.addresses == ("203.0.113.20",)


@pytest.fixture
def secure(tmp_path: Path) -> Iterator[Client]:
    """The server of ``serve --lan``, asked by a paired device."""
    files = certify(tmp_path / "c", NAMES, ADDRESSES)
    reach = Reach(
        beyond=("https://192.168.1.20:8443",),
        secure=SecurePort(port=8443, authority=files.authority, fingerprint=files.fingerprint),
    )
    app = create_app(tmp_path / "data", reach=reach)
    key = key_for(tmp_path / "data")
    with TestClient(app, base_url="http://192.168.1.20:8000", raise_server_exceptions=False) as client:
        client.headers["Authorization"] = f"Bearer {key}"
        yield client


def test_plain_http_from_another_machine_leads_to_the_steps_alone(secure: Client) -> None:
    for address in ("/", "/desk", "/sw.js", "/pair/ABCDE-FGHJK"):
        answer = secure.get(address, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (302, "/trust"), address
    for answer in (secure.get("/api/trips"), secure.post("/sync", json={"device": "phone-a"})):
        assert answer.status_code == 403
        assert "https, on port 8443" in answer.json()["error"]["mend"]


def test_the_steps_name_the_address_and_the_fingerprint(secure: Client) -> None:
    page = secure.get("/trust").text
    assert "https://192.168.1.20:8443/" in page
    assert re.search(r"(?:[0-9A-F]{2}:){31}[0-9A-F]{2}", page)
    fetched = secure.get("/trust/authority.crt")
    assert fetched.headers["content-type"] == "application/x-x509-ca-cert"
    certificate = x509.load_pem_x509_certificate(fetched.content)
    assert certificate.extensions.get_extension_for_class(x509.BasicConstraints).value.ca
    assert b"PRIVATE" not in fetched.content


def test_the_machine_itself_and_https_get_everything(secure: Client) -> None:
    for base in ("http://localhost:8000", "https://192.168.1.20:8443", "https://kitchen.local:8443"):
        for address in ("/", "/desk", "/sw.js", "/manifest.webmanifest", "/api/trips"):
            assert secure.get(base + address, follow_redirects=False).status_code == 200, base + address


def test_without_an_authority_there_is_nothing_to_trust(client: Client) -> None:
    assert client.get("/trust").status_code == 404


def test_plain_http_beyond_localhost_is_not_offered_for_installing(client: Client) -> None:
    for address in ("/sw.js", "/manifest.webmanifest"):
        assert client.get(address).status_code == 200
        answer = client.get(address, headers={"Host": "192.168.1.20:8000"})
        assert answer.status_code == 403
        assert "--lan" in answer.json()["error"]["mend"]
    assert "not offered\n" in client.get("/pair", headers={"Host": "192.168.1.20:8000"}).text
    assert "not offered\n" not in client.get("/pair").text


def test_hsts_goes_out_over_https_and_not_for_localhost(secure: Client) -> None:
    assert "strict-transport-security" in secure.get("https://kitchen.local:8443/").headers
    assert "strict-transport-security" not in secure.get("https://localhost:8443/").headers
    assert "strict-transport-security" not in secure.get("http://localhost:8000/").headers


def test_the_words_at_the_start_say_how_to_trust_and_who_is_first() -> None:
    reach = Reach(
        beyond=("https://192.168.1.20:8443",),
        secure=SecurePort(port=8443, authority=Path("a"), fingerprint=":".join(["AB"] * 32)),
    )
    words = welcome("0.0.0.0", 8000, Path("d"), demo=False, reach=reach, codes=Codes(owner="ABCDE-FGHJK"))
    assert "http://localhost:8000/pair/ABCDE-FGHJK" in words
    assert "http://192.168.1.20:8000/trust" in words
    assert "█" in words
    assert words.count("AB") >= 32


def test_a_real_server_speaks_https_that_verifies(tmp_path: Path) -> None:
    port, tls = free_port(), free_port()
    arguments = ["serve", "--lan", "--host", "127.0.0.1", "--port", str(port), "--tls-port", str(tls)]
    server = subprocess.Popen(
        [sys.executable, "-m", "counterfoil", *arguments, "--data", str(tmp_path / "data")],
        env={"PYTHONPATH": ".dev", "PYTHONUNBUFFERED": "1", "PATH": "/usr/bin:/bin"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        assert server.stdout is not None
        said = ""
        while "Stop with Ctrl-C" not in said:
            line = server.stdout.readline()
            assert line, said
            said += line
        trusting = ssl.create_default_context(cafile=tmp_path / "data" / "certificates" / "authority.crt")
        for host in ("localhost", "127.0.0.1"):
            with urllib.request.urlopen(f"https://{host}:{tls}/", context=trusting) as answer:
                assert answer.status == 200
        with pytest.raises(urllib.error.URLError, match="certificate verify failed"):
            urllib.request.urlopen(f"https://127.0.0.1:{tls}/")
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/") as answer:
            assert answer.status == 200
    finally:
        server.terminate()
        assert server.wait(20) == 0
