"""PINs as argon2id hashes (RFC 9106). What hashes them is loaded with the first PIN.

The parameters are those of a small computer: 19 MiB and 8 passes take 50 to 100 ms on one core of
the machine this was made on, so that a cook does not wait. Who has the database tries all 10,000
PINs of four digits in some ten minutes a person; only a longer PIN helps against that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from argon2 import PasswordHasher

PASSES, MEMORY_KIB = 8, 19 * 1024


class Argon2Pins:
    """Makes and checks hashes; each call takes its time, so not in an event loop."""

    def __init__(self, passes: int = PASSES, memory_kib: int = MEMORY_KIB) -> None:
        self._passes, self._memory_kib = passes, memory_kib
        self._hasher: PasswordHasher | None = None

    def hash(self, pin: str) -> str:
        """A new hash, with a salt of its own and its parameters in it."""
        return self._made().hash(pin)

    def fits(self, hashed: str, pin: str) -> bool:
        """Whether a PIN is the one that was hashed; not for what is no hash."""
        from argon2.exceptions import InvalidHashError, VerificationError  # noqa: PLC0415

        try:
            return self._made().verify(hashed, pin)
        except (VerificationError, InvalidHashError):
            return False

    def _made(self) -> PasswordHasher:
        if self._hasher is None:
            from argon2 import PasswordHasher, Type  # noqa: PLC0415

            self._hasher = PasswordHasher(
                self._passes, self._memory_kib, parallelism=1, type=Type.ID
            )
        return self._hasher
