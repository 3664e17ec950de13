"""`drypark cert create`: the shop's own certificate authority, and this machine's certificate.

The one idea: a tablet that trusts the shop's authority trusts it for the shop's names and for
nothing else (name constraints, RFC 5280 section 4.2.1.10), so that a stolen key opens no bank.
The authority is made once and never overwritten; the certificate of the machine lasts less than
398 days and is made again with the same command.
"""

from __future__ import annotations

import ipaddress
import os
import re
import socket
import sys
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from api.settings import Settings
from triage.errors import DocumentError, TriageError

__all__ = ["AUTHORITY", "CertificateError", "create", "files", "fingerprint", "folder", "names_in"]

AUTHORITY: Final = "shop-ca.pem"
_AUTHORITY_KEY: Final = "shop-ca-key.pem"
_LEAF: Final = "shop.pem"
_LEAF_KEY: Final = "shop-key.pem"
#: Phones refuse a certificate for longer; the usual limit is 398 days.
_LEAF_DAYS: Final = 397
_AUTHORITY_DAYS: Final = 3650
_HOST: Final = re.compile(r"(?=.{1,253}$)[a-z0-9]([a-z0-9-]{0,61}[a-z0-9])?(\.[a-z0-9-]{1,63})*")
_ALWAYS: Final = ("localhost", "127.0.0.1")


class CertificateError(TriageError):
    """A certificate can't be made or used as asked."""


def folder(settings: Settings | None = None) -> Path:
    """Return where keys and certificates lie: in the data folder."""
    return (settings or Settings()).data / "cert"


def run(hosts: Sequence[str]) -> None:
    """Make what is missing, and say what to do next."""
    settings = Settings()
    asked = hosts or (*settings.hosts, socket.gethostname().lower())
    made = create(folder(settings), asked)
    print_ = sys.stdout.write
    print_(f"Certificate for {', '.join(names_in(made / _LEAF))}\n")
    print_(f"Shop authority, SHA-256 {fingerprint(made)}\n")
    print_("Compare that number on the page /trust before a tablet is told to trust it.\n")
    print_(f"The keys lie in {made}; whoever has them can pose as this machine.\n")
    print_("Next: drypark serve --tls\n")


def create(into: Path, hosts: Sequence[str], *, now: datetime | None = None) -> Path:
    """Make the authority if there is none, and a certificate for the hosts.

    Parameters
    ----------
    into : folder, made if need be, for its owner only
    hosts : names and addresses by which the machine is asked for
    now : time of making; none: this moment

    Raises
    ------
    DocumentError
        If a host is neither a name nor an address.
    CertificateError
        If the authority that is there may not vouch for one of the hosts, or they cannot be kept.
    """
    names = _general_names((*hosts, *_ALWAYS))
    when = now or datetime.now(UTC)
    try:
        into.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not (into / AUTHORITY).exists():
            _make_authority(into, names, when)
        _make_leaf(into, names, when)
    except OSError as error:
        raise CertificateError(
            f"{into}: keys and certificates cannot be kept there "
            f"({(error.strerror or 'unknown reason').lower()}); nothing was changed; choose "
            "another data folder with DRYPARK_DATA"
        ) from None
    return into


def files(settings: Settings | None = None) -> tuple[str, str]:
    """Return certificate and key for the server.

    Raises
    ------
    CertificateError
        If there are none.
    """
    here = folder(settings)
    if not (here / _LEAF).is_file() or not (here / _LEAF_KEY).is_file():
        raise CertificateError(
            f"there is no certificate in {here}; make one with: drypark cert create"
        )
    return str(here / _LEAF), str(here / _LEAF_KEY)


def fingerprint(here: Path) -> str:
    """Return the authority's SHA-256, in pairs, as phones show it."""
    digest = _read(here / AUTHORITY).fingerprint(hashes.SHA256()).hex().upper()
    return ":".join(digest[k : k + 2] for k in range(0, len(digest), 2))


def names_in(path: Path) -> list[str]:
    """Return the names and addresses that a certificate is for."""
    alternative = _read(path).extensions.get_extension_for_class(x509.SubjectAlternativeName)
    return [str(one.value) for one in alternative.value]


def _general_names(hosts: Sequence[str]) -> list[x509.GeneralName]:
    """Return names and addresses, each once, in the order given."""
    names: list[x509.GeneralName] = []
    for host in dict.fromkeys(host.strip().lower().strip("[]") for host in hosts):
        try:
            names.append(x509.IPAddress(ipaddress.ip_address(host)))
        except ValueError:
            if not _HOST.fullmatch(host):
                raise DocumentError(
                    f"host {host!r} is neither a name nor an address",
                    where="--host",
                    allowed="names such as shop-pc or shop.lan, and IP addresses",
                    remedy="correct it",
                ) from None
            names.append(x509.DNSName(host))
    return names


def _constraints(names: Sequence[x509.GeneralName]) -> x509.NameConstraints:
    """Return what the authority may vouch for: these names, and these addresses alone."""
    allowed: list[x509.GeneralName] = [
        x509.IPAddress(ipaddress.ip_network(str(one.value)))
        if isinstance(one, x509.IPAddress)
        else one
        for one in names
    ]
    return x509.NameConstraints(permitted_subtrees=allowed, excluded_subtrees=None)


def _make_authority(into: Path, names: Sequence[x509.GeneralName], when: datetime) -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Drypark shop authority")])
    made = (
        _builder(name, name, key, when, _AUTHORITY_DAYS)
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs=True), critical=True)
        .add_extension(_constraints(names), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    _write_key(into / _AUTHORITY_KEY, key)
    (into / AUTHORITY).write_bytes(made.public_bytes(serialization.Encoding.PEM))


def _make_leaf(into: Path, names: Sequence[x509.GeneralName], when: datetime) -> None:
    authority = _read(into / AUTHORITY)
    _may_vouch(authority, names, into)
    signing = serialization.load_pem_private_key((into / _AUTHORITY_KEY).read_bytes(), None)
    if not isinstance(signing, ec.EllipticCurvePrivateKey):
        raise CertificateError(f"{into / _AUTHORITY_KEY} is not a key that this program made")
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Drypark")])
    made = (
        _builder(subject, authority.subject, key, when, _LEAF_DAYS)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .add_extension(_issued_by(signing), critical=False)
        .sign(signing, hashes.SHA256())
    )
    _write_key(into / _LEAF_KEY, key)
    chain = [one.public_bytes(serialization.Encoding.PEM) for one in (made, authority)]
    (into / _LEAF).write_bytes(b"".join(chain))


def _may_vouch(authority: x509.Certificate, names: Sequence[x509.GeneralName], into: Path) -> None:
    """Refuse a host that the authority was not made for."""
    held = authority.extensions.get_extension_for_class(x509.NameConstraints).value
    allowed = {str(one.value).partition("/")[0] for one in held.permitted_subtrees or ()}
    others = [str(one.value) for one in names if str(one.value) not in allowed]
    if others:
        raise CertificateError(
            f"the shop's authority may vouch for {', '.join(sorted(allowed))}, not for "
            f"{', '.join(others)}; nothing was overwritten; leave the name out, or move "
            f"{into} away, make both anew and have every tablet trust the new one"
        )


def _builder(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    when: datetime,
    days: int,
) -> x509.CertificateBuilder:
    """Return what both certificates have in common; valid from an hour ago, clocks differ."""
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(when - timedelta(hours=1))
        .not_valid_after(when - timedelta(hours=1) + timedelta(days=days))
    )


def _usage(*, signs: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs,
        crl_sign=signs,
        encipher_only=False,
        decipher_only=False,
    )


def _issued_by(key: ec.EllipticCurvePrivateKey) -> x509.AuthorityKeyIdentifier:
    """Return the mark by which a chain is put together."""
    return x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key())


def _write_key(path: Path, key: ec.EllipticCurvePrivateKey) -> None:
    """Write a key that only its owner can read, from the first byte on."""
    text = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    fresh = path.with_suffix(".new")
    fresh.unlink(missing_ok=True)
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(text)
    fresh.replace(path)


def _read(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())
