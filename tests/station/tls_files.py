"""Certificates for tests, made when they are needed and good for a few days around now."""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID

from weighd.clock import SystemClock


@dataclass(frozen=True)
class TlsFiles:
    """A certificate and its key. ``toml`` are the two lines of a configuration."""

    certificate: Path
    key: Path

    @property
    def toml(self) -> str:
        return f'certificate = "{self.certificate}"\nkey = "{self.key}"'


def tls_files(
    folder: Path, *, days: float = 30, password: str = "", name: str = "bench"
) -> TlsFiles:
    """A certificate for bench.example and 127.0.0.2 that ends in so many days."""
    key = ec.generate_private_key(ec.SECP256R1())
    whose = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "bench.example")])
    now = datetime.fromisoformat(SystemClock().utc())
    names = [x509.DNSName("bench.example"), x509.IPAddress(ipaddress.ip_address("127.0.0.2"))]
    made = (
        x509.CertificateBuilder()
        .subject_name(whose)
        .issuer_name(whose)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=40))
        .not_valid_after(now + timedelta(days=days))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .sign(key, hashes.SHA256())
    )
    hidden = (
        serialization.BestAvailableEncryption(password.encode())
        if password
        else serialization.NoEncryption()
    )
    it = TlsFiles(folder / f"{name}.pem", folder / f"{name}.key")
    it.certificate.write_bytes(made.public_bytes(serialization.Encoding.PEM))
    it.key.touch(mode=0o600)
    it.key.chmod(0o600)
    it.key.write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, hidden)
    )
    return it
