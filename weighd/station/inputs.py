"""The inputs of a station: bytes from scales, commands from people, and time passing.

``t`` is seconds of the station's clock, never falling. A session file is a list of these, and
nothing else reaches the fold: that is why a recorded session replays exactly.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from weighd.domain.errors import OperatorError
from weighd.domain.record import Body, Entry
from weighd.domain.whose import stamped

#: The longest texts of a command that a record takes.
_LONGEST = {
    "do": 40,
    "key": 200,
    "by": 80,
    "reason": 500,
    "lot": 80,
    "scale": 80,
    "batch_g": 40,
    "size": 300,
    "method": 40,
    "bowl_g": 40,
    "dish_g": 40,
    "dish_holds_g": 40,
    "vessel": 40,
    "mass_g": 40,
    "u_g": 40,
    "allow_g": 40,
    "temperature": 40,
    "held": 40,
    "ago": 40,
    "pair": 80,
    "note": 500,
    "field": 40,
    "new": 500,
}


@dataclass(frozen=True, slots=True)
class Heard:
    """Bytes of a scale, as they came."""

    t: float
    scale: str
    data: bytes


@dataclass(frozen=True, slots=True)
class LinkLost:
    """The link to a scale went away; ``why`` in a cook's words."""

    t: float
    scale: str
    why: str = ""


@dataclass(frozen=True, slots=True)
class LinkFound:
    """A scale answers (again); ``facts`` may hold ``max_g`` and ``interval_g``."""

    t: float
    scale: str
    what: str = ""
    facts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class ClockSet:
    """The wall clock says ``utc`` (RFC 3339, ``Z``) at ``t``: at the start, and when stepped."""

    t: float
    utc: str


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passed and nothing else happened."""

    t: float


@dataclass(frozen=True, slots=True)
class Command:
    """What a person asked for.

    ``do``        ``"start"``, ``"forget scale"``, ``"start check"``, ``"it is right"``,
                  ``"stop check"``, ``"keep vessel"``, ``"forget vessel"``, or one of
                  :class:`~weighd.domain.addition.Do`.
    ``key``       idempotency key: the same key acts once.
    ``addition``  the addition it is meant for; a press that comes too late is refused.
    ``method``    for ``start``: ``"by difference"`` weighs every addition so (the bowl cannot be
                  weighed); empty, as the formula says.
    ``vessel``    for ``tare``, the vessel that stands there; for ``start``, the one to weigh into;
                  for ``keep vessel``, its name. ``mass_g``, ``u_g``, ``allow_g`` are its mass (as
                  the scale shows, where it is empty), what that is known to, and what it may
                  differ by, wet.
    ``formula``   for ``start``: the formula's content, so that a session stands on its own.
    ``size``      for ``start``, instead of ``batch_g``: a size in words
                  (:mod:`weighd.domain.sizing`); ``rounded``, its targets at the steps of scales.
    ``plan``      for ``start``: on the scales that the best plan uses, not on ``scale`` alone.
    ``draw``      for ``record yield``: what was entered of a draw, and ``corrects``, the number of
                  the draw that it replaces; with ``scale``, its weight is read there.
    ``goods``     for what is done to the lot ``lot`` of goods: what was received, counted, or how
                  long it keeps once opened; ``corrects``, the code of a receipt that is put right.
    ``bowl_g``, ``dish_g``, ``dish_holds_g``  for a plan: vessels in grams, empty for not known.
    ``change``    for ``put right``: what was chosen, worked out whole, so that nothing is searched
                  for here (:class:`~weighd.domain.recovery.Change`).
    ``step``, ``temperature``, ``held``, ``value``, ``confirmed``, ``pair``, ``from_step``,
    ``note``      of a batch in process (:class:`~weighd.domain.process_orders.StepOrder`);
                  ``ago``: how long ago it was, where it was not now.
    ``dry_ice``   for ``begin step`` with dry ice: fields of :data:`~weighd.domain.dry_ice.FIELDS`;
                  ``scale``, where it stands on one until it is used, with ``tare_g``.
    ``entry``     for ``correct``: the number of the entry in its batch, and ``field``, ``old``
                  and ``new`` (:mod:`weighd.domain.corrections`); ``confirm``, for a lot that did
                  go in although it was not to be used. For ``countersign``: the number of the
                  newest entry that was looked at; and ``note``.
    ``proved``    who showed by a PIN who they are: ``by``, and ``allowed_by``, who let them do it.
                  Found out before a command comes here; a replay takes it as it stands.
    ``on_target_only``  ``by`` may not accept what is not on target.
    """

    t: float
    do: str
    key: str = ""
    by: str = ""
    batch: str = ""
    addition: int | None = None
    reason: str = ""
    lot: str = ""
    confirm: bool = False
    formula: Mapping[str, Any] | None = None
    batch_g: str = ""
    size: str = ""
    rounded: bool = False
    scale: str = ""
    method: str = ""
    plan: bool = False
    bowl_g: str = ""
    dish_g: str = ""
    dish_holds_g: str = ""
    vessel: str = ""
    mass_g: str = ""
    u_g: str = ""
    allow_g: str = ""
    change: Mapping[str, Any] | None = None
    draw: Mapping[str, Any] | None = None
    goods: Mapping[str, Any] | None = None
    corrects: int | None = None
    step: int | None = None
    temperature: str = ""
    held: str = ""
    ago: str = ""
    value: int | None = None
    confirmed: tuple[str, ...] = ()
    pair: str = ""
    from_step: int | None = None
    note: str = ""
    dry_ice: Mapping[str, str] | None = None
    entry: int | None = None
    field: str = ""
    old: str | None = None
    new: str = ""
    proved: tuple[str, ...] = ()
    allowed_by: str = ""
    on_target_only: bool = False

    def stamped(self, body: Body) -> Body:
        """An entry's body with how the name of whoever asks for it was given."""
        if not self.proved and not self.allowed_by:
            return body
        return stamped(body, self.by, self.proved, self.allowed_by)


#: Nobody asks: the station does something by itself.
NOBODY = Command(0.0, "")


@dataclass(frozen=True, slots=True)
class Recalled:
    """A batch that is off the bench, from the journal: its entries as JSON values, oldest first.

    It comes at the start for each batch in process, and before a command for one that is over.
    """

    t: float
    entries: tuple[Mapping[str, Any], ...]


@dataclass(frozen=True, slots=True)
class CameDown:
    """What the shared store of several stations holds of the others, as it was at ``at`` (UTC).

    ``entries``  what they did to lots and this station was not told of yet, as JSON values, each
                 station's in its order.
    ``sums``     what they drew from the lots that are known here
                 (:class:`~weighd.domain.lot_shared.Sum`), in the place of what was told before.
    """

    t: float
    at: str
    entries: tuple[Mapping[str, Any], ...] = ()
    sums: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class PutAway:
    """Old batches are in an archive: ``body`` of the entry that says so, and the ``stubs`` that
    stand in the place of their entries (which a recording has not: it has no entries either)."""

    t: float
    body: Mapping[str, Any]
    stubs: tuple[Entry, ...] = ()


Input = Heard | LinkLost | LinkFound | ClockSet | Tick | Command | Recalled | CameDown | PutAway


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command did: the batch it was about and the number of the entry it made."""

    batch: str
    entry: int | None
    again: bool = False


def check_text(command: Command) -> None:
    """Refuse what a record cannot carry, or nobody would read."""
    given = [(name, getattr(command, name), longest) for name, longest in _LONGEST.items()]
    given += [("old", command.old or "", 500)]
    given += [("caution", one, 120) for one in command.confirmed]
    given += [("name", one, 80) for one in (*command.proved, command.allowed_by)]
    given += [(name[:40], one, 80) for name, one in (command.dry_ice or {}).items()]
    for name, text, longest in given:
        if len(text) > longest or not text.replace("\u200d", "").isprintable():
            raise OperatorError(
                "bad-text",
                f"The {name} is longer than {longest} characters or holds some that cannot be "
                "shown.",
                remedy="Write it shorter, in plain text.",
            )
