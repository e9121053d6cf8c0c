"""A certificate and its key for TLS: looked at before they are used, taken anew when they change.

A certificate that is no longer good is told and used all the same: devices refuse it by themselves,
and the station's own screen goes on weighing.
"""

from __future__ import annotations

import ssl
import stat
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

from weighd.domain.errors import ConfigError

#: It is told so many days before a certificate ends.
SOON_DAYS = 21
_READABLE_BY_OTHERS = stat.S_IROTH | stat.S_IWOTH | stat.S_IWGRP


class Certificate:
    """A certificate and its key in two files. Raises :class:`ConfigError` for what cannot be used:
    ``no-certificate``, ``bad-certificate``, ``key-readable``."""

    def __init__(self, certificate: Path, key: Path) -> None:
        self._certificate, self._key = certificate, key
        _check_rights(key)
        self._seen = self._stamp()
        self.context = _context(certificate, key)

    def changed(self) -> bool:
        """Whether other files stand there by now."""
        try:
            return self._stamp() != self._seen
        except ConfigError:
            return False  # being written just now, or taken away: what was loaded goes on

    def renew(self) -> None:
        """Use what stands there now for whoever comes from now on. Raises as when it was made."""
        self._seen = self._stamp()
        _check_rights(self._key)
        _context(self._certificate, self._key)  # looked at by itself first
        self.context.load_cert_chain(self._certificate, self._key, password=_no_password)

    def doubts(self, utc: str) -> Iterator[str]:
        """What is wrong with its time, or soon will be. ``utc`` is the time now, RFC 3339."""
        from cryptography.x509 import load_pem_x509_certificate

        now = datetime.fromisoformat(utc)
        one = load_pem_x509_certificate(self._certificate.read_bytes())
        begins, ends = one.not_valid_before_utc, one.not_valid_after_utc
        if now < begins:
            yield f"the certificate is good from {begins:%Y-%m-%d} only: is the clock right?"
        elif now >= ends:
            yield f"the certificate ended on {ends:%Y-%m-%d}: other devices refuse it"
        elif ends - now < timedelta(days=SOON_DAYS):
            yield f"the certificate ends on {ends:%Y-%m-%d}"

    def _stamp(self) -> tuple[int, ...]:
        try:
            found = [one.stat() for one in (self._certificate, self._key)]
        except OSError as error:
            raise _missing(error) from error
        return tuple(value for one in found for value in (one.st_mtime_ns, one.st_size, one.st_ino))


def _check_rights(key: Path) -> None:
    try:
        mode = key.stat().st_mode
    except OSError as error:
        raise _missing(error) from error
    if mode & _READABLE_BY_OTHERS:
        raise ConfigError(
            "key-readable",
            "Everybody on this computer can read the private key, or change it.",
            where=str(key),
            remedy=f"chmod 600 {key} and give it to the user that runs weighd. If others could "
            "have read it, have a new key made.",
        )


def _context(certificate: Path, key: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    context.options |= ssl.OP_NO_COMPRESSION | ssl.OP_CIPHER_SERVER_PREFERENCE
    context.set_alpn_protocols(["http/1.1"])
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
    except _PasswordError as error:
        raise ConfigError(
            "bad-certificate",
            "The private key has a password, which nobody could type at the start.",
            where=str(key),
            remedy="Keep the key without a password, readable by weighd alone.",
        ) from error
    except ssl.SSLError as error:
        other = "MISMATCH" in (error.reason or "")
        raise ConfigError(
            "bad-certificate",
            "The key is not that of the certificate."
            if other
            else "Certificate or key is not PEM, or the chain stands before the certificate.",
            where=f"{certificate}, {key}",
            remedy="Give the two that belong together.",
        ) from error
    except OSError as error:
        raise _missing(error) from error
    return context


class _PasswordError(Exception):
    """A password would have to be typed."""


def _no_password() -> str:
    raise _PasswordError


def _missing(error: OSError) -> ConfigError:
    return ConfigError(
        "no-certificate",
        f"A file for TLS cannot be read: {error.strerror or error}.",
        where=str(error.filename or ""),
        remedy="See to certificate and key in the section elsewhere, and to who may read them.",
    )
