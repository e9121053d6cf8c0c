"""Who is signed in at which page, and who lent a hand for one act: in memory, by hashed tokens.

A restart signs everybody out. Tokens are 32 random bytes and only their SHA-256 is kept; what is
looked up is a hash, so how long it takes tells nothing.
"""

from __future__ import annotations

import hashlib
import secrets
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from weighd.domain.people import Right
from weighd.domain.whose import known_as

#: Pages that may be signed in, and hands lent, at a time; the oldest goes for the next.
MOST = 500
#: For how long a hand is lent: one act, and its repetition where the network failed.
LENT_S = 120.0


@dataclass(slots=True)
class _Signed:
    name: str
    until: float
    at: str = ""


@dataclass(slots=True)
class _Lent:
    name: str
    right: Right
    until: float
    act: str = ""


Kept = TypeVar("Kept", _Signed, _Lent)


class SignedIn:
    """Pages and who is signed in there. ``now`` is a clock in seconds, ``stay_s`` how long."""

    def __init__(self, now: Callable[[], float], stay_s: float) -> None:
        self._now, self.stay_s = now, stay_s
        self._signed: OrderedDict[str, _Signed] = OrderedDict()
        self._lent: OrderedDict[str, _Lent] = OrderedDict()

    def sign_in(self, name: str, at: str = "") -> str:
        """A new token for somebody who proved to be that; good only ``at`` that device."""
        return _kept(self._signed, _Signed(name, self._now() + self.stay_s, at))

    def sign_out(self, token: str) -> None:
        """Forget a token; nothing where it is none."""
        self._signed.pop(_hash(token), None)

    def forget(self, name: str) -> None:
        """Sign somebody out everywhere: their PIN is another now, or they are retired."""
        for mark, one in list(self._signed.items()):
            if known_as(one.name) == known_as(name):
                del self._signed[mark]
        for mark, lent in list(self._lent.items()):
            if known_as(lent.name) == known_as(name):
                del self._lent[mark]

    def who(self, token: str, *, acts: bool = False, at: str = "") -> tuple[str, float]:
        """Who is signed in by a token and for how many seconds; nobody where nobody is.

        ``acts``  they do something: it counts from now.
        ``at``    the device that sends it; empty for the station itself.
        """
        one = self._signed.get(_hash(token)) if token else None
        if one is not None and one.at != at:
            return "", 0.0  # it was carried off; who is signed in by it stays so
        left = 0.0 if one is None else one.until - self._now()
        if one is None or left <= 0:
            self.sign_out(token)
            return "", 0.0
        if acts:
            one.until = self._now() + self.stay_s
            left = self.stay_s
        return one.name, left

    def lend(self, name: str, right: Right) -> str:
        """A token for one act that needs a right."""
        return _kept(self._lent, _Lent(name, right, self._now() + LENT_S))

    def lent(self, token: str, right: Right, act: str) -> str:
        """Who lends a hand for an act by a token; empty where nobody does.

        ``act``  which it is: with the first, the token is for that one alone.
        """
        one = self._lent.get(_hash(token)) if token else None
        if one is None or one.right is not right or one.until <= self._now():
            return ""
        if one.act not in ("", act):
            return ""
        one.act = act
        return one.name


def _kept(among: OrderedDict[str, Kept], one: Kept) -> str:
    token = secrets.token_urlsafe(32)
    among[_hash(token)] = one
    while len(among) > MOST:
        among.popitem(last=False)
    return token


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()
