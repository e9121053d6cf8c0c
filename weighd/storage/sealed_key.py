"""A station's private key under a passphrase, to go along with a copy of its record.

scrypt (RFC 7914) makes a key of the passphrase, ChaCha20-Poly1305 (RFC 8439) seals the PEM with it;
what stands beside the sealed key in the file is sealed with it too. ``cryptography`` does both.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

from weighd.domain.errors import OperatorError
from weighd.domain.record import canonical
from weighd.storage.keys import LARGEST_BYTES, read_station_key

SEALED_FILE = "station-key.sealed.json"
FORMAT = 1
#: 128 MB and some tenths of a second for each try.
_N, _R, _P = 2**17, 8, 1
#: What a file may ask for at most: it comes from elsewhere.
_MOST_N = 2**20
#: A passphrase that is shorter is guessed.
SHORTEST = 10


def seal_key(path: Path, passphrase: str) -> str:
    """The private key in a file, sealed, as JSON.

    Raises :class:`OperatorError`, ``short-passphrase``, and :class:`JournalError` for a key that
    cannot be read.
    """
    if len(passphrase) < SHORTEST:
        raise OperatorError(
            "short-passphrase",
            f"A passphrase has {SHORTEST} letters at least; four words that nobody would put "
            "together are better.",
            remedy="Who has the copy and guesses it can sign as the station.",
        )
    key = read_station_key(path)
    salt, nonce = os.urandom(16), os.urandom(12)
    about = {
        "weighd_sealed_key": FORMAT,
        "key": key.key,
        "kdf": {"name": "scrypt", "n": _N, "r": _R, "p": _P, "salt": salt.hex()},
        "cipher": {"name": "chacha20-poly1305", "nonce": nonce.hex()},
    }
    with path.open("rb") as stream:
        plain = stream.read(LARGEST_BYTES)
    secret = _derived(passphrase, salt, _N, _R, _P)
    sealed = ChaCha20Poly1305(secret).encrypt(nonce, plain, canonical(about))
    return json.dumps({**about, "sealed": sealed.hex()}, indent=1) + "\n"


def open_key(text: str, passphrase: str, where: str) -> bytes:
    """The PEM of a sealed key.

    Raises :class:`OperatorError`: ``wrong-passphrase``, ``not-a-sealed-key``.
    """
    try:
        row: dict[str, Any] = json.loads(text)
        kdf, cipher = row["kdf"], row["cipher"]
        sealed, salt = bytes.fromhex(row.pop("sealed")), bytes.fromhex(kdf["salt"])
        nonce, n, r, p = bytes.fromhex(cipher["nonce"]), kdf["n"], kdf["r"], kdf["p"]
        names = row["weighd_sealed_key"], kdf["name"], cipher["name"]
        _known(names == (FORMAT, "scrypt", "chacha20-poly1305") and 2 <= n <= _MOST_N)
        secret = _derived(passphrase, salt, n, r, p)
        about = canonical(row)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, MemoryError) as error:
        raise OperatorError(
            "not-a-sealed-key", f"This is no sealed key ({error}).", where=where
        ) from error
    try:
        return ChaCha20Poly1305(secret).decrypt(nonce, sealed, about)
    except (InvalidTag, ValueError) as error:
        raise OperatorError(
            "wrong-passphrase",
            "The passphrase does not open the key, or the file was changed.",
            where=where,
            remedy="Try again; capitals and blanks count. Without it, leave the key out: the "
            "station then makes a new one, and its record says so.",
        ) from error


def _derived(passphrase: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    _known(1 <= r <= 32 and 1 <= p <= 16)
    return Scrypt(salt=salt, length=32, n=n, r=r, p=p).derive(passphrase.encode("utf-8"))


def _known(it: bool) -> None:
    if not it:
        raise ValueError("it was sealed in another way")
