"""The vessels a station knows: those that are configured, and those that were weighed here."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Protocol

from weighd.domain import mass
from weighd.domain.errors import OperatorError
from weighd.domain.metrology import net_budget
from weighd.domain.vessels import Vessel, vessel_of, why_none
from weighd.station.inputs import Answer, Command
from weighd.station.scale import ScaleState

if TYPE_CHECKING:
    from weighd.station.station import Station

VESSEL_COMMANDS = ("keep vessel", "forget vessel")
#: More vessels than these nobody finds again in a list.
MOST = 200


@dataclass(frozen=True, slots=True)
class Kept:
    """A vessel with where its mass comes from. ``configured`` ones are changed in the file only.

    ``scale`` weighed it, ``at`` (wall time); empty where its mass was typed in.
    """

    vessel: Vessel
    configured: bool = False
    scale: str = ""
    at: str = ""
    by: str = ""

    def as_json(self) -> dict[str, Any]:
        return {
            **self.vessel.as_json(),
            "configured": self.configured,
            "scale": self.scale,
            "at": self.at,
            "by": self.by,
        }


def kept_of(row: Mapping[str, Any]) -> Kept:
    """The inverse of :meth:`Kept.as_json`. Raises ``ValueError`` for what is no vessel."""
    told = [row.get(key, "") for key in ("scale", "at", "by")]
    if not all(isinstance(one, str) for one in told):
        raise ValueError("a vessel's scale, time and person are texts")
    return Kept(vessel_of(row), bool(row.get("configured", False)), *told)


class VesselStore(Protocol):
    """Where weighed vessels are kept. Calls may come from any thread; each may raise
    ``JournalError``."""

    def keep(self, kept: Kept) -> None: ...

    def forget(self, name: str) -> bool: ...


class VesselShelf:
    """The vessels by name; a configured one hides a weighed one of its name."""

    def __init__(self, kept: Iterable[Kept] = ()) -> None:
        self._kept: dict[str, Kept] = {}
        for one in sorted(kept, key=lambda it: it.configured):
            self._kept[one.vessel.name] = one

    def all(self) -> tuple[Kept, ...]:
        """Every vessel, by name."""
        return tuple(self._kept[name] for name in sorted(self._kept))

    def vessels(self) -> tuple[Vessel, ...]:
        """The same, without where they come from."""
        return tuple(one.vessel for one in self.all())

    def get(self, name: str) -> Vessel | None:
        """One by its name, ``None`` for no name. Raises :class:`OperatorError`."""
        if not name:
            return None
        if name not in self._kept:
            known = ", ".join(sorted(self._kept)) or "none yet"
            raise OperatorError(
                "unknown-vessel",
                f'No vessel is called "{name}".',
                remedy=f"There is: {known}. Weigh it and give it a name first.",
            )
        return self._kept[name].vessel

    def command(self, station: Station, command: Command) -> Answer:
        """Meet one of :data:`VESSEL_COMMANDS`. Raises :class:`OperatorError`."""
        if command.do == "keep vessel":
            self.keep(command, station.scales.get(command.scale), station.at())
        else:
            self.forget(command.vessel)
        station.mark("station", "live")
        return Answer("", None)

    def keep(self, command: Command, scale: ScaleState | None, at: str) -> Kept:
        """Take a vessel in: as it stands on ``scale``, or with the mass that is given.

        Raises :class:`OperatorError` for what is no vessel, and where its mass cannot be seen.
        """
        given = [_grams(key, getattr(command, key)) for key in ("mass_g", "u_g", "allow_g")]
        found, u, allow = given
        weighed_on = ""
        if found is None:
            if scale is None:
                raise OperatorError(
                    "unknown-scale", f'No scale is called "{command.scale}".', remedy="Name one."
                )
            found, u = _weighed(scale)
            weighed_on = scale.name
        vessel = Vessel(command.vessel.strip(), found, u or Decimal(0), allow or Decimal(0))
        wrong = why_none(vessel)
        if wrong:
            raise OperatorError("bad-vessel", f"{wrong[:1].upper()}{wrong[1:]}.")
        before = self._kept.get(vessel.name)
        if before is not None:
            self._own(before)
        if len(self._kept) >= MOST and before is None:
            raise OperatorError(
                "too-many-vessels",
                f"{MOST} vessels are known already.",
                remedy="Forget one that is not used any more.",
            )
        kept = Kept(vessel, scale=weighed_on, at=at, by=command.by.strip())
        self._kept[vessel.name] = kept
        return kept

    def forget(self, name: str) -> None:
        """Forget one. Raises :class:`OperatorError`."""
        self.get(name or "?")
        self._own(self._kept[name])
        del self._kept[name]

    def put(self, name: str, kept: Kept | None) -> None:
        """As it was: what could not be stored is not known either."""
        if kept is None:
            self._kept.pop(name, None)
        else:
            self._kept[name] = kept

    def found(self, name: str) -> Kept | None:
        """One by its name, with where it comes from."""
        return self._kept.get(name)

    def _own(self, kept: Kept) -> None:
        if kept.configured:
            raise OperatorError(
                "vessel-configured",
                f"{kept.vessel.name} stands in the configuration.",
                remedy="Change it there.",
            )


def _weighed(scale: ScaleState) -> tuple[Decimal, Decimal]:
    """What stands on a scale, as a net over the empty pan, and its standard uncertainty; grams."""
    finding, empty = scale.finding, scale.empty
    known = scale.as_scale()
    if known is None or finding is None:
        raise OperatorError(
            "scale-not-heard",
            f"The scale {scale.name} cannot be heard.",
            remedy="Switch it on.",
        )
    if empty is None:
        raise OperatorError(
            "empty-not-seen",
            f"The scale {scale.name} was not seen empty and at zero.",
            remedy="Take everything off, wait until it shows zero, and set the vessel on again.",
        )
    if finding.level is None or not finding.firm:
        raise OperatorError("not-settled", "The scale has not come to rest yet.")
    grams = finding.level.grams - empty.grams
    if grams <= scale.nothing_g:
        raise OperatorError(
            "no-vessel", "The scale shows nothing.", remedy="Set the empty vessel on it."
        )
    return grams, net_budget(finding.level, empty, known.accuracy).u_g


def _grams(key: str, text: str) -> Decimal | None:
    if not text:
        return None
    try:
        return mass.parse(text)
    except ValueError:
        raise OperatorError(
            "bad-vessel",
            f'"{text}" is no mass.',
            where=key,
            remedy="Give it in grams, like 812.4.",
        ) from None
