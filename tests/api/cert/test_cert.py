"""The shop's certificates: for its own names alone, short-lived, keys for nobody else."""

from __future__ import annotations

import hashlib
import ssl
import stat
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509 import verification

from api.commands.cert import CertificateError, create, files, fingerprint, names_in
from api.settings import Settings
from triage.errors import DocumentError

NOW = datetime.now(UTC)


def read(path: Path) -> x509.Certificate:
    """Return the first certificate of a file."""
    return x509.load_pem_x509_certificate(path.read_bytes())


@pytest.fixture
def made(tmp_path: Path) -> Path:
    """Return a folder with an authority and a certificate for two hosts."""
    return create(tmp_path / "cert", ("shop-pc", "192.168.7.2"))


def test_the_library_of_the_field_accepts_the_chain(made: Path) -> None:
    """Held against the path validation of RFC 5280 in another library (cryptography's)."""
    store = verification.Store([read(made / "shop-ca.pem")])
    builder = verification.PolicyBuilder().store(store).time(NOW)
    for subject in (x509.DNSName("shop-pc"), x509.DNSName("localhost")):
        chain = builder.build_server_verifier(subject).verify(read(made / "shop.pem"), [])
        assert len(chain) == 2


def test_a_certificate_lasts_less_than_398_days(made: Path) -> None:
    """CA/Browser Forum Baseline Requirements 6.3.2: 398 days at most."""
    leaf = read(made / "shop.pem")

    assert leaf.not_valid_after_utc - leaf.not_valid_before_utc < timedelta(days=398)
    assert leaf.not_valid_before_utc < NOW + timedelta(seconds=5)


def test_the_authority_vouches_for_the_shop_alone(made: Path) -> None:
    """A stolen key must not open a bank: a name outside is refused by whoever checks."""
    authority = read(made / "shop-ca.pem")
    held = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert held.critical
    assert {str(one.value) for one in held.value.permitted_subtrees or ()} == {
        "shop-pc",
        "192.168.7.2/32",
        "localhost",
        "127.0.0.1/32",
    }
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert (basic.value.ca, basic.value.path_length) == (True, 0)


def test_a_forged_name_is_refused(made: Path, tmp_path: Path) -> None:
    """With the authority's own key, and a name that it was not made for."""
    key = (made / "shop-ca-key.pem").read_bytes()
    signing = serialization.load_pem_private_key(key, None)
    assert isinstance(signing, ec.EllipticCurvePrivateKey)
    authority, own = read(made / "shop-ca.pem"), ec.generate_private_key(ec.SECP256R1())
    name = x509.DNSName("bank.test")
    forged = (
        x509.CertificateBuilder()
        .subject_name(x509.Name([]))
        .issuer_name(authority.subject)
        .public_key(own.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(NOW - timedelta(hours=1))
        .not_valid_after(NOW + timedelta(days=9))
        .add_extension(x509.SubjectAlternativeName([name]), critical=True)
        .add_extension(
            x509.AuthorityKeyIdentifier.from_issuer_public_key(signing.public_key()), critical=False
        )
        .sign(signing, hashes.SHA256())
    )
    store = verification.Store([authority])
    verifier = verification.PolicyBuilder().store(store).time(NOW).build_server_verifier(name)

    with pytest.raises(verification.VerificationError, match=r"(?i)name constraint|subtree|permit"):
        verifier.verify(forged, [])


@pytest.mark.skipif(sys.platform == "win32", reason="no such modes there")
def test_nobody_else_can_read_the_keys(made: Path) -> None:
    """Whoever reads a key can pose as the shop."""
    keys = sorted(made.glob("*-key.pem"))

    assert len(keys) == 2
    assert {stat.S_IMODE(key.stat().st_mode) for key in keys} == {0o600}
    assert stat.S_IMODE(made.stat().st_mode) == 0o700


def test_the_authority_is_never_overwritten(made: Path) -> None:
    """Every tablet trusts it; a new one would undo that."""
    before = (made / "shop-ca.pem").read_bytes(), (made / "shop-ca-key.pem").read_bytes()
    leaf = (made / "shop.pem").read_bytes()

    create(made, ("shop-pc",), now=NOW + timedelta(days=300))

    assert ((made / "shop-ca.pem").read_bytes(), (made / "shop-ca-key.pem").read_bytes()) == before
    assert (made / "shop.pem").read_bytes() != leaf
    assert names_in(made / "shop.pem") == ["shop-pc", "localhost", "127.0.0.1"]


def test_a_host_outside_the_authority_is_refused(made: Path) -> None:
    """A certificate that no tablet accepts helps nobody."""
    leaf = (made / "shop.pem").read_bytes()

    with pytest.raises(CertificateError, match=r"not for other-pc; nothing was overwritten"):
        create(made, ("other-pc",))
    assert (made / "shop.pem").read_bytes() == leaf


@pytest.mark.parametrize("host", ["http://shop", "a b", "*.shop", "", "-x"])
def test_what_is_no_host_is_refused(host: str, tmp_path: Path) -> None:
    """A typing error must not end in a certificate."""
    with pytest.raises(DocumentError, match="neither a name nor an address"):
        create(tmp_path / "cert", (host,))
    assert not (tmp_path / "cert").exists()


def test_the_server_finds_its_files_or_says_what_to_do(made: Path, tmp_path: Path) -> None:
    """`serve --tls` before `cert create` is the usual first mistake."""
    cert, key = files(Settings(data=tmp_path))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)

    with pytest.raises(CertificateError, match="drypark cert create"):
        files(Settings(data=tmp_path / "empty"))


def test_the_number_is_the_one_that_a_tablet_shows(made: Path) -> None:
    """SHA-256 over the DER bytes, in pairs; here by the standard library."""
    der = ssl.PEM_cert_to_DER_cert((made / "shop-ca.pem").read_text(encoding="ascii"))
    assert fingerprint(made).replace(":", "").lower() == hashlib.sha256(der).hexdigest()
