"""Who asks: the name that a request acts under, how it was given, and whether they may.

1. Where nobody is listed, whoever asks is anybody: all is as if there were no people.
2. A request acts under the name of whoever is signed in at its page. Where nobody is, it may act
   under any name of the list for what needs no right.
3. What needs a right is done by whoever has it and is signed in, or with a second person, who lends
   a hand by their PIN for that one act (:meth:`~weighd.http.signed_in.SignedIn.lend`): both names
   go into the record.
"""

from __future__ import annotations

import hashlib
import json
import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from anyio import CapacityLimiter, to_thread
from starlette.requests import Request

from weighd.domain.devices import Device
from weighd.domain.errors import OperatorError
from weighd.domain.people import Person, Right, who_may
from weighd.domain.whose import same_person
from weighd.http.buckets import Buckets
from weighd.http.door import asker_of
from weighd.http.rights import COMMANDS, FREE, ON_TARGET, need_of
from weighd.http.signed_in import SignedIn
from weighd.station.inputs import Command
from weighd.station.people import People

#: Carries the token of whoever lends a hand.
LENT = "weighd-lent"
_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_log = logging.getLogger("weighd.http")


class NeedsRightError(OperatorError):
    """What was asked for needs a right that nobody showed: which, and who has it."""

    def __init__(self, right: Right, names: list[str], signed_in: str) -> None:
        who = f"{signed_in} may not do this" if signed_in else "Nobody is signed in for this"
        may = ", ".join(names[:8]) + (" and others" if len(names) > 8 else "")
        super().__init__(
            "needs-right",
            f'{who}: it needs the right "{right}".',
            remedy=f"Who may: {may}. One of them can allow it by PIN." if may else "Nobody may.",
        )
        self.right, self.who_may, self.signed_in = right, names, signed_in


@dataclass(frozen=True, slots=True)
class Caller:
    """Who asks. Nothing is known, and nothing checked, where nobody is listed.

    ``by``          the name it is done under; empty where none was given.
    ``signed_in``   who is signed in at the page, and for how many seconds more.
    ``proved``      those who proved to be who they are, and ``allowed_by``, who lent a hand.
    ``on_target``   they may accept only what is on target.
    ``here``        they stand at the station, as far as the door can tell.
    ``known``       no stranger at the second door.
    ``device``      the device that was let in there.
    ``by_whom``     for the log: numbers in the list of people, no names.
    """

    by: str = ""
    signed_in: str = ""
    left_s: float = 0.0
    proved: tuple[str, ...] = ()
    allowed_by: str = ""
    on_target: bool = False
    here: bool = False
    known: bool = True
    device: Device | None = None
    by_whom: str = ""

    def of(self, command: Command) -> Command:
        """A command as this one asks for it."""
        return replace(
            command,
            by=self.by or command.by,
            proved=self.proved,
            allowed_by=self.allowed_by,
            on_target_only=self.on_target,
        )


#: Wrong PINs of one device, whosever they are, at once and then each second: each name waits by
#: itself, but there are many names. And of all devices together.
WRONG, WRONG_RATE = 20, 1 / 60
WRONG_TOGETHER, WRONG_RATE_TOGETHER = 100, 1 / 10


class Desk:
    """Where people show who they are. ``cookie`` is what pages carry their token in, ``now`` a
    clock in seconds."""

    def __init__(
        self, people: People, signed: SignedIn, cookie: str, now: Callable[[], float]
    ) -> None:
        self.people, self.signed, self.cookie = people, signed, cookie
        self._wrong = Buckets(WRONG, WRONG_RATE, WRONG_TOGETHER, WRONG_RATE_TOGETHER, now)
        #: One PIN is looked at at a time: the others wait, and the weighing goes on.
        self.turn = CapacityLimiter(1)

    async def check(self, request: Request, name: str, pin: str) -> Person:
        """Whose PIN it is. Raises as :meth:`~weighd.station.people.People.check`, and
        :class:`OperatorError`, ``too-many-requests``, where too many came from one device."""
        device = asker_of(request.scope).device
        at = device.id if device else ""
        if not self._wrong.holds(at):
            raise OperatorError(
                "too-many-requests",
                "Too many wrong PINs came from this device.",
                remedy="Wait a minute, then try again.",
            )
        try:
            # Away from the loop that the scales are heard in.
            return await to_thread.run_sync(self.people.check, name, pin, limiter=self.turn)
        except OperatorError as error:
            if error.code == "wrong-pin":
                self._wrong.take(at)
            raise

    async def caller(self, request: Request) -> Caller:
        """Who asks. Raises :class:`OperatorError` where they may not."""
        everybody = self.people.known
        if everybody is None:  # with the first request, and never again
            everybody = await to_thread.run_sync(self.people.all)
        if not everybody:
            return Caller()
        acts = request.method not in _SAFE
        device = asker_of(request.scope).device
        token = request.cookies.get(self.cookie, "")
        name, left = self.signed.who(token, acts=acts, at=device.id if device else "")
        person = self.people.get(name) if name else None
        me = person.name if person else ""
        if not acts:
            return Caller(signed_in=me, left_s=left if me else 0.0)
        body = await _body(request)
        by = self._named(body, me)
        path = getattr(request.scope.get("route"), "path", "")
        need = need_of(request.method, path, body)
        off_target = (
            path.endswith("/commands")
            and body.get("do") == ON_TARGET
            and "batch" in (request.path_params)
        )
        asked = Right.ACCEPT if off_target else need
        may = asked is FREE or (person is not None and person.may(asked))
        helper = "" if may or asked is FREE else await self._helper(request, asked)
        if asked is Right.COUNTERSIGN and by and not same_person(helper, by):
            helper = ""  # who looked is who signs: no hand is lent for that
        if not may and not helper and not off_target:
            assert asked is not None
            raise self.refusal(asked, me)
        if helper and not by:
            by = helper
        if asked is not FREE and not off_target:
            _log.info("%s: %s %s%s", asked, request.method, path, self._by_whom(me or by, helper))
        return Caller(
            by,
            me,
            left,
            tuple(dict.fromkeys(one for one in (me, helper) if one)),
            "" if not helper or same_person(helper, by) else helper,
            off_target and not may and not helper,
            by_whom=self._by_whom(me or by, helper),
        )

    def _by_whom(self, by: str, helper: str) -> str:
        """Who did it, for the log, which has no names: numbers in the list of people."""
        numbers = [self._number(by), *([self._number(helper)] if helper else [])]
        told = f", by person {numbers[0]}" if by else ""
        allowed = f", allowed by person {numbers[-1]}"
        return told + (allowed if helper and not same_person(helper, by) else "")

    def _number(self, name: str) -> int:
        """Where somebody stands in the list: nobody is ever taken out of it. 0 for nobody."""
        listed = self.people.all()
        return next((n for n, it in enumerate(listed, 1) if same_person(it.name, name)), 0)

    def refusal(self, right: Right, signed_in: str) -> NeedsRightError:
        """That somebody else has to do it, and who could."""
        return NeedsRightError(right, who_may(self.people.all(), right), signed_in)

    def _named(self, body: Mapping[str, Any], me: str) -> str:
        """The name that it is done under, as the list has it.

        Raises :class:`OperatorError`: ``other-name``, ``unknown-person``.
        """
        given = body.get("by") or body.get("operator") or ""
        given = given.strip() if isinstance(given, str) else ""
        if me:
            if given and not same_person(given, me):
                raise OperatorError(
                    "other-name",
                    f"{me} is signed in here, and {given[:80]} was named.",
                    where="by",
                    remedy="Sign out first, or change who is signed in.",
                )
            return me
        if not given:
            return ""
        person = self.people.get(given)
        if person is None:
            raise OperatorError(
                "unknown-person",
                f'Nobody who works here is called "{given[:80]}".',
                where="by",
                remedy="Choose a name of the list.",
            )
        return person.name

    async def _helper(self, request: Request, right: Right) -> str:
        """Who lends a hand for this request, as long as they may themselves."""
        token = request.headers.get(LENT, "")
        if not token:
            return ""
        key = request.headers.get("idempotency-key") or (await request.body()).hex()
        act = hashlib.sha256(f"{request.method} {request.url.path} {key}".encode()).hexdigest()
        person = self.people.get(self.signed.lent(token, right, act))
        return person.name if person is not None and person.may(right) else ""


async def _body(request: Request) -> Mapping[str, Any]:
    """What a request says; nothing where that is no object: it is refused for that elsewhere."""
    try:
        found = await request.json() if await request.body() else {}
    except (json.JSONDecodeError, UnicodeDecodeError, RecursionError):
        return {}
    return found if isinstance(found, Mapping) else {}


__all__ = ["COMMANDS", "Caller", "Desk", "NeedsRightError"]
