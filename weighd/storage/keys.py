"""The station's key: made on first start, kept beside the record, read by nobody else.

Ed25519 (RFC 8032), private in PKCS #8 and public in X.509 form, both as PEM, so that any tool for
keys reads them. ``cryptography`` does all of it.
"""

from __future__ import annotations

import os
import re
from pathlib import Path

from cryptography.exceptions import InvalidSignature, UnsupportedAlgorithm
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
    load_pem_public_key,
)

from weighd.domain.errors import JournalError
from weighd.storage.syncing import sync

KEY_FILE = "station-key.pem"
#: A key is a few lines of text.
LARGEST_BYTES = 8 * 1024
_HEX = re.compile(r"[0-9a-fA-F]{64}")


class StationKey:
    """Signs for the station."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self._public = private.public_key()

    @property
    def key(self) -> str:
        """The public key in hex."""
        return self._public.public_bytes(Encoding.Raw, PublicFormat.Raw).hex()

    @property
    def public_pem(self) -> str:
        """The public key as others read it."""
        return self._public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode()

    def sign(self, statement: bytes) -> str:
        """The signature of a statement in hex."""
        return self._private.sign(statement).hex()


def station_key(path: Path) -> StationKey:
    """The key in a file, which is made if it is not there.

    Raises :class:`JournalError`: ``key-exposed`` where others could read it, ``key-unreadable``
    for a file that is none, ``key-not-kept`` where it cannot be written.
    """
    if not path.exists():
        _make(path)
    return read_station_key(path)


def read_station_key(path: Path) -> StationKey:
    """The key in a file that is there. Raises :class:`JournalError` as :func:`station_key`."""
    try:
        mode = path.stat().st_mode
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES)
    except FileNotFoundError as error:
        raise JournalError(
            "key-unreadable",
            "There is no key of a station here.",
            where=str(path),
            remedy="It lies beside the station's record: name the station's configuration "
            "(--config). A lost one is put back from a copy, or made anew by weighd serve.",
        ) from error
    except OSError as error:
        raise _unreadable(path, error.strerror or str(error)) from error
    if mode & 0o077:
        raise JournalError(
            "key-exposed",
            "Others on this computer can read the station's key, so its signatures prove nothing.",
            where=str(path),
            remedy=f"Take their rights away: chmod 600 {path}. If somebody may have read it, move "
            "it away; a new one is made at the next start.",
        )
    try:
        private = load_pem_private_key(data, None)
    except (ValueError, TypeError, UnsupportedAlgorithm) as error:
        raise _unreadable(path, "it is no private key in PEM form without a password") from error
    if not isinstance(private, Ed25519PrivateKey):
        raise _unreadable(path, "it is a key of another kind than Ed25519")
    return StationKey(private)


def read_public_key(given: str) -> str:
    """A public key in hex: 64 hex digits as they are, or the name of a PEM file.

    Raises :class:`JournalError` ``key-unreadable``.
    """
    text = given.strip()
    if _HEX.fullmatch(text):
        return text.lower()
    path = Path(text)
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES)
    except OSError as error:
        why = error.strerror or str(error)
        raise _unreadable(path, f"{why}; and it is not 64 hexadecimal digits") from error
    try:
        public = load_pem_public_key(data)
    except (ValueError, UnsupportedAlgorithm) as error:
        raise _unreadable(path, "it is no public key in PEM form") from error
    if not isinstance(public, Ed25519PublicKey):
        raise _unreadable(path, "it is a key of another kind than Ed25519")
    return public.public_bytes(Encoding.Raw, PublicFormat.Raw).hex()


def public_pem(key: str) -> str:
    """A public key (64 hex digits) as others read it. Raises ``ValueError`` for none."""
    public = Ed25519PublicKey.from_public_bytes(bytes.fromhex(key))
    return public.public_bytes(Encoding.PEM, PublicFormat.SubjectPublicKeyInfo).decode()


def made(key: bytes, value: bytes, statement: bytes) -> bool:
    """Whether the public ``key`` made the signature ``value`` of a statement."""
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(value, statement)
    except (InvalidSignature, ValueError):
        return False
    return True


def _make(path: Path) -> None:
    """A new key in a file of its own, on the disk before it is used."""
    data = Ed25519PrivateKey.generate().private_bytes(
        Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()
    )
    write_key(path, data)


def write_key(path: Path, data: bytes) -> None:
    """A private key into a file of its own, which only its owner can read.

    Raises :class:`JournalError`, ``key-not-kept``.
    """
    beside = path.with_name(path.name + ".new")
    try:
        beside.unlink(missing_ok=True)  # of a start that was cut short
        held = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(held, "wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        beside.rename(path)
        sync(path.parent)
    except OSError as error:
        raise JournalError(
            "key-not-kept",
            f"The station's key cannot be written: {error.strerror or error}.",
            where=str(path),
            remedy="Give weighd the right to write there, and free some space if the disk is full.",
        ) from error


def _unreadable(path: Path, why: str) -> JournalError:
    return JournalError(
        "key-unreadable",
        f"The key cannot be used: {why}.",
        where=str(path),
        remedy="Put back a copy of it. Where there is none, move this file away: a new key is "
        "made, and what the old one signed can still be verified with its public half.",
    )
