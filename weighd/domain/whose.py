"""Whose act an entry is, and how the name was given.

1. An act of a person has a name: ``operator`` (who weighs) or ``by``. What the station does by
   itself (:data:`BY_THE_STATION`) has none.
2. A name that was chosen or typed says so by saying nothing more: such a record is as it was
   before there were PINs. ``proved`` names those who showed by their PIN who they are, and
   ``allowed_by`` a second person who let somebody do what they may not do alone. Neither follows
   from anything else.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.following import does_not_follow
from weighd.domain.kinds import Kind
from weighd.domain.record import Body, Entry

#: The one way there is to prove a name.
PIN = "pin"
#: What binds an entry to its batch, its command, whoever asked and its time: it follows from
#: nothing else in it.
BINDS = frozenset({"batch", "n", "after", "key", "proved", "allowed_by", "clock"})
#: What the station does by itself: an entry without a name. A held addition may be let go on by the
#: scale alone, its zero may move by its own key, and a batch closes with its last addition or step.
BY_THE_STATION: frozenset[str] = frozenset(
    {
        Kind.HELD,
        Kind.RESUMED,
        Kind.ZERO_MOVED,
        Kind.WEIGHED,
        Kind.CLOCK_SET,
        Kind.CLOSED,
        Kind.RESTARTED,
        # Of no batch, and named where they are made; a test holds these to all kinds there are.
        "lot shared",
        "lot overdrawn",
        "key changed",
    }
)


def unbound(body: Body) -> dict[str, Any]:
    """A body without what binds it (:data:`BINDS`)."""
    return {key: value for key, value in body.items() if key not in BINDS}


def actor(body: Mapping[str, Any]) -> str:
    """Whose act it is; empty where the station did it."""
    name = body.get("operator") or body.get("by") or ""
    return name if isinstance(name, str) else ""


def named(by: str) -> str:
    """The name of whoever asks. Raises :class:`OperatorError`, ``no-operator``, for none."""
    if not by.strip():
        raise OperatorError("no-operator", "Nobody is named.", remedy="Say who you are.")
    return by.strip()


def same_person(one: str, other: str) -> bool:
    """Whether two names are one, however they are written."""
    return known_as(one) == known_as(other)


def known_as(name: str) -> str:
    """A name without what may be written in several ways: capitals and spaces."""
    return " ".join(name.split()).casefold()


def stamped(body: Body, by: str, proved: tuple[str, ...], allowed_by: str) -> dict[str, Any]:
    """A body with how the name of whoever asked was given; as it is where it was only said.

    ``by``  who asked: what the station adds of itself in the same breath is not theirs.
    """
    out = dict(body)
    if not actor(body) or not by or not same_person(actor(body), by):
        return out
    if proved:
        out["proved"] = dict.fromkeys(proved, PIN)
    if allowed_by:
        out["allowed_by"] = allowed_by
    return out


def check_names(entry: Entry) -> None:
    """Whether what an entry says of names can be. Raises :class:`RecordError`."""
    body, who = entry.body, actor(entry.body)
    if not who and entry.kind not in BY_THE_STATION and {"by", "operator"} & set(body):
        raise does_not_follow(entry, "Nobody is named, and the station does not do this by itself.")
    proved, allowed = body.get("proved"), body.get("allowed_by")
    if proved is None and allowed is None:
        return
    if not who:
        raise does_not_follow(entry, "A name was proved, and nobody is named.")
    if not isinstance(proved, Mapping) or not proved:
        raise _unreadable(entry, "proved", proved)
    for name, how in proved.items():
        if how != PIN:
            raise _unreadable(entry, "proved", how)
        if not any(isinstance(one, str) and same_person(name, one) for one in (who, allowed)):
            raise does_not_follow(entry, f"{name} was proved, who has no part in it.")
    if "allowed_by" not in body:
        return
    if not isinstance(allowed, str) or not allowed:
        raise _unreadable(entry, "allowed_by", allowed)
    if same_person(allowed, who) or allowed not in proved:
        raise does_not_follow(entry, f"{allowed} did not let somebody else do it by a PIN.")


def _unreadable(entry: Entry, key: str, value: object) -> RecordError:
    return does_not_follow(entry, f"{key} is {value!r}, which is nothing that a station writes.")
