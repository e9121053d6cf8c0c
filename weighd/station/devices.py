"""Devices at the door: a code that is shown, the device that types it, and who was let in.

1. There is one code at a time, for one device whose name and standing were chosen with it. It is
   good for some minutes and once; wrong ones are counted, at each address and in all, and too many
   end it. So 20 guesses among 100 million are the most that anybody has of one.
2. A device keeps a random token of 256 bits and only its SHA-256 is kept here. Tokens are looked up
   by their hash, so how long that takes tells nothing.
3. Nothing of a code or a token is logged or told again.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from weighd.domain import devices as rules
from weighd.domain.devices import CODE_S, DIGITS, MOST_WRONG, Device, May
from weighd.domain.errors import OperatorError
from weighd.domain.moments import seconds_between

#: Wrong codes of one address that cost nothing but the guess; then it waits, in seconds.
FREE, WAIT_S = 5, 60.0
#: Addresses whose wrong codes are counted.
MOST_ADDRESSES = 512
#: When a device was seen is written no more often than this, in seconds.
SEEN_S = 600


class DeviceStore(Protocol):
    """Where devices are kept. Each call may raise ``JournalError``."""

    def all(self) -> tuple[Device, ...]: ...

    def put(self, device: Device, /) -> None: ...

    def drop(self, identity: str, /) -> None: ...


class MustWaitForCodeError(OperatorError):
    """Too many wrong codes from one address: after ``wait_s`` seconds it can try again."""

    def __init__(self, seconds: int) -> None:
        super().__init__(
            "wait-for-code",
            f"Too many wrong codes from this device. It can try again in {seconds} s.",
            remedy="Have a new code shown at the station meanwhile.",
        )
        self.wait_s = seconds


@dataclass(slots=True)
class Offered:
    """A code that is shown now. ``until`` is a time of the clock that was given."""

    code: str
    name: str
    may: May
    until: float
    wrong: int = 0


class Devices:
    """The devices of a station. Calls may come from any thread.

    ``utc``  the time, RFC 3339; ``now`` a clock in seconds that never falls.
    """

    def __init__(
        self, store: DeviceStore, utc: Callable[[], str], now: Callable[[], float]
    ) -> None:
        self._store, self._utc, self._now = store, utc, now
        self._turn = threading.RLock()
        self._all: dict[str, Device] | None = None
        self._offered: Offered | None = None
        self._wrong: OrderedDict[str, tuple[int, float]] = OrderedDict()
        #: Called with the id of each device that was forgotten, from whatever thread.
        self.on_forgotten: list[Callable[[str], None]] = []

    # --- who is in ---------------------------------------------------------------------------

    def all(self) -> tuple[Device, ...]:
        """Every device that was paired, the oldest first."""
        return tuple(sorted(self._known().values(), key=lambda one: (one.since, one.id)))

    def of_token(self, token: str) -> Device | None:
        """Whose token it is. Waits for the store at the first call only."""
        return self._known().get(mark_of(token)) if token else None

    def is_new(self, device: Device) -> bool:
        """Whether it is time to write down that a device was seen."""
        try:
            return seconds_between(device.seen, self._utc()) >= SEEN_S
        except ValueError:
            return True

    def note(self, device: Device) -> None:
        """Write down that a device was seen; nothing where it was forgotten meanwhile."""
        with self._turn:
            if self._known().get(device.mark) == device:
                self._keep(replace(device, seen=self._utc()))

    def _known(self) -> dict[str, Device]:
        with self._turn:
            if self._all is None:
                self._all = {one.mark: one for one in self._store.all()}
            return self._all

    def _keep(self, device: Device) -> None:
        self._store.put(device)
        self._known()[device.mark] = device

    # --- pairing -----------------------------------------------------------------------------

    @property
    def offered(self) -> Offered | None:
        """The code that is good now."""
        with self._turn:
            it = self._offered
            if it is not None and (it.until <= self._now() or it.wrong >= MOST_WRONG):
                it = self._offered = None
            return it

    def offer(self, name: str, may: May) -> Offered:
        """A new code, in place of any other. Raises :class:`OperatorError`."""
        name = rules.checked_name(name)
        with self._turn:
            others = [one for one in self.all() if one.name.casefold() != name.casefold()]
            if len(others) >= rules.MOST_DEVICES:
                raise OperatorError(
                    "too-many-devices",
                    f"There are {rules.MOST_DEVICES} devices already.",
                    remedy="Forget those that are not used any more.",
                )
            code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}}"
            self._offered = Offered(code, name, may, self._now() + CODE_S)
            return self._offered

    def withdraw(self) -> None:
        """No code is good any more."""
        with self._turn:
            self._offered = None

    def pair(self, code: str, address: str) -> tuple[str, Device]:
        """A token for a device that typed the code, and what it is from now on.

        Raises :class:`OperatorError`: ``wrong-code``, whether it is wrong, old or none was shown,
        and :class:`MustWaitForCodeError`.
        """
        with self._turn:
            wrong, since = self._wrong.get(address, (0, 0.0))
            left = since + WAIT_S - self._now()
            if wrong >= FREE and left > 0:
                raise MustWaitForCodeError(int(left) + 1)
            self._count(address, (wrong if left > 0 else 0) + 1)
            offered, given = self.offered, "".join(code.split())
            meant = offered.code if offered else "-" * DIGITS
            if not hmac.compare_digest(meant.encode(), given.encode()) or offered is None:
                if offered is not None:
                    offered.wrong += 1
                raise OperatorError(
                    "wrong-code",
                    "That is not the code, or it is not good any more.",
                    where="code",
                    remedy="Type the code that the station shows now.",
                )
            self._offered = None
            self._wrong.pop(address, None)
            token, at = secrets.token_urlsafe(32), self._utc()
            made = Device(secrets.token_hex(4), offered.name, offered.may, mark_of(token), at, at)
            same = [it for it in self.all() if it.name.casefold() == made.name.casefold()]
            self._keep(made)
            for one in same:  # the same device anew, or another one in its place
                self._forget(one)
            return token, made

    def _count(self, address: str, wrong: int) -> None:
        self._wrong[address] = (wrong, self._now())
        self._wrong.move_to_end(address)
        while len(self._wrong) > MOST_ADDRESSES:
            self._wrong.popitem(last=False)

    def forget(self, called: str) -> Device:
        """Forget a device, by id or name: it is out at once. Raises ``unknown-device``."""
        with self._turn:
            one = rules.find(self.all(), called)
            self._forget(one)
            return one

    def _forget(self, one: Device) -> None:
        self._store.drop(one.id)
        self._known().pop(one.mark, None)
        for tell in self.on_forgotten:
            tell(one.id)


def mark_of(token: str) -> str:
    """What is kept of a token."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
