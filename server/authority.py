"""A certificate authority for one household, so that phones have a secure origin at home.

Browsers keep a page for use without a network only from https, and nobody certifies a kitchen's
address. So the server is its own authority, made once: the phone is told to trust it, and from
then on the server's certificate is as good as any. What trusting it can cost is bounded by name
constraints (RFC 5280, 4.2.1.10): it can speak for this machine's names, ``.local``, ``home.arpa``
(RFC 8375) and private addresses, and for no site of the internet, even if its key is stolen.
"""

from __future__ import annotations

import ipaddress
import os
import socket
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import msgspec
from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_DAYS = 3_650
SERVER_DAYS = 365  # Apple's systems refuse more than 825, others than 398
RENEW_DAYS = 30  # before its end the server's certificate is made anew, at a start
BACKDATED = timedelta(days=1)  # a phone whose clock is behind must not find it to be of tomorrow

Address = ipaddress.IPv4Address | ipaddress.IPv6Address
# What the authority may speak for: loopback, private, link-local, and carriers' shared addresses.
_NETWORKS = (
    "127.0.0.0/8", "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "100.64.0.0/10",
    "::1/128", "fc00::/7", "fe80::/10",
)  # fmt: skip
_DOMAINS = ("localhost", "local", "home.arpa")


class Certified(msgspec.Struct, frozen=True, kw_only=True):
    """The files to serve with. ``fingerprint``: the authority's, SHA-256, for eyes to compare;
    ``addresses``: those of the asked ones that the certificate is good for, in the order asked."""

    authority: Path
    certificate: Path
    key: Path
    fingerprint: str
    addresses: tuple[str, ...]


def certify(
    folder: Path,
    names: Sequence[str],
    addresses: Sequence[str],
    *,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> Certified:
    """The household's authority (made at the first call) and a certificate for these names and addresses.

    The authority is made for private addresses and for the names and addresses of the first call;
    what it cannot speak for later is left out. The keys are readable
    by the owner of ``folder`` alone.
    """
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    authority, authority_key = folder / "authority.crt", folder / "authority.key"
    if not (authority.is_file() and authority_key.is_file()):
        _make_authority(authority, authority_key, names, addresses, now())
    wanted = _alternative_names(names, addresses, authority)
    covered = {str(each.value) for each in wanted if isinstance(each, x509.IPAddress)}
    files = Certified(
        authority=authority,
        certificate=folder / "server.crt",
        key=folder / "server.key",
        fingerprint=_fingerprint(authority),
        addresses=tuple(address for address in addresses if address in covered),
    )
    if not _still_good(files, wanted, now()):
        _make_server_certificate(files, authority_key, wanted, now())
    return files


def own_names() -> tuple[str, ...]:
    """What this machine is called in its network: its name, and the same under ``.local``."""
    name = socket.gethostname().lower().removesuffix(".local")
    bare = name.partition(".")[0]
    return tuple(dict.fromkeys(("localhost", name, f"{bare}.local")))


def own_addresses() -> tuple[str, ...]:
    """This machine's addresses, the one that others most likely reach it by first.

    Nothing is sent: a datagram socket that is only connected asks the routing table
    (192.0.2.1 and 2001:db8:: are for documentation, RFC 5737 and RFC 3849).
    """
    found: list[str] = []
    for family, beyond in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        try:
            with socket.socket(family, socket.SOCK_DGRAM) as probe:
                probe.connect((beyond, 9))
                found.append(str(probe.getsockname()[0]))
        except OSError:
            continue
    with suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None)]
    plain = (address.partition("%")[0] for address in found)
    return tuple(dict.fromkeys(each for each in plain if not ipaddress.ip_address(each).is_loopback))


def _make_authority(
    certificate: Path, key: Path, names: Sequence[str], addresses: Sequence[str], now: datetime
) -> None:
    private = ec.generate_private_key(ec.SECP256R1())
    host = socket.gethostname()
    name = x509.Name(
        [x509.NameAttribute(NameOID.COMMON_NAME, f"Counterfoil household authority on {host}"[:64])]
    )
    domains = [*_DOMAINS, *(each for each in names if each not in _DOMAINS and _is_domain(each))]
    networks = [ipaddress.ip_network(each) for each in _NETWORKS]
    for text in addresses:
        if not any(ipaddress.ip_address(text) in network for network in networks):
            networks.append(ipaddress.ip_network(text))
    permitted: list[x509.GeneralName] = [
        *(x509.DNSName(each) for each in dict.fromkeys(domains)),
        *(x509.IPAddress(network) for network in networks),
    ]
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(now + timedelta(days=AUTHORITY_DAYS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_may(sign_certificates=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(private.public_key()), critical=False)
        .add_extension(x509.NameConstraints(permitted, None), critical=True)
        .sign(private, hashes.SHA256())
    )
    _write_secret(key, _key_text(private))
    _write(certificate, made.public_bytes(serialization.Encoding.PEM))


def _make_server_certificate(
    files: Certified, authority_key: Path, wanted: Sequence[x509.GeneralName], now: datetime
) -> None:
    authority = x509.load_pem_x509_certificate(files.authority.read_bytes())
    signing = serialization.load_pem_private_key(authority_key.read_bytes(), password=None)
    assert isinstance(signing, ec.EllipticCurvePrivateKey)
    private = ec.generate_private_key(ec.SECP256R1())
    made = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Counterfoil")]))
        .issuer_name(authority.subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - BACKDATED)
        .not_valid_after(now + timedelta(days=SERVER_DAYS))
        .add_extension(x509.SubjectAlternativeName(wanted), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_may(sign_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False
        )
        .sign(signing, hashes.SHA256())
    )
    _write_secret(files.key, _key_text(private))
    _write(files.certificate, made.public_bytes(serialization.Encoding.PEM))


def _still_good(files: Certified, wanted: Sequence[x509.GeneralName], now: datetime) -> bool:
    """Whether the server's certificate is of this authority, for these names, and not about to end."""
    if not (files.certificate.is_file() and files.key.is_file()):
        return False
    made = x509.load_pem_x509_certificate(files.certificate.read_bytes())
    authority = x509.load_pem_x509_certificate(files.authority.read_bytes())
    try:
        made.verify_directly_issued_by(authority)
    except (InvalidSignature, ValueError, TypeError):
        return False
    held = made.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    ends = made.not_valid_after_utc - timedelta(days=RENEW_DAYS)
    return set(held) == set(wanted) and made.not_valid_before_utc <= now < ends


def _alternative_names(
    names: Sequence[str], addresses: Sequence[str], authority: Path
) -> tuple[x509.GeneralName, ...]:
    """The names and addresses that the authority may speak for, each once."""
    made = x509.load_pem_x509_certificate(authority.read_bytes())
    permitted = made.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    domains = [each.value for each in permitted if isinstance(each, x509.DNSName)]
    networks = [each.value for each in permitted if isinstance(each, x509.IPAddress)]
    wanted: list[x509.GeneralName] = [
        x509.DNSName(name)
        for name in dict.fromkeys(names)
        if any(name == domain or name.endswith(f".{domain}") for domain in domains)
    ]
    for text in dict.fromkeys(("127.0.0.1", "::1", *addresses)):
        address = ipaddress.ip_address(text)
        if any(_holds(network, address) for network in networks):
            wanted.append(x509.IPAddress(address))
    return tuple(wanted)


def _holds(network: object, address: Address) -> bool:
    return isinstance(network, ipaddress.IPv4Network | ipaddress.IPv6Network) and address in network


def _is_domain(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name.isascii() and bool(name) and "_" not in name
    return False


def _may(*, sign_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not sign_certificates,
        key_cert_sign=sign_certificates,
        crl_sign=sign_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )


def _fingerprint(certificate: Path) -> str:
    digest = x509.load_pem_x509_certificate(certificate.read_bytes()).fingerprint(hashes.SHA256())
    return digest.hex(":").upper()


def _key_text(private: ec.EllipticCurvePrivateKey) -> bytes:
    return private.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write_secret(path: Path, text: bytes) -> None:
    """Written under another name and moved, so that it is never there without its mode, or in part."""
    beside = path.with_suffix(".new")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(text)
    beside.replace(path)


def _write(path: Path, text: bytes) -> None:
    beside = path.with_suffix(".new")
    beside.write_bytes(text)
    beside.replace(path)
