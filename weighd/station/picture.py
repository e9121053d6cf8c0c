"""The picture of the state: what pages, cooks and programs are shown.

It is a projection of the station, in sections that are replaced whole. Every change of a section
gets the next number; whoever has seen number ``n`` is given the sections that changed since, in
their newest form, however many changes that were: a slow client gets the newest, no backlog.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.addition import Phase, bench
from weighd.domain.batch import Batch, Cause, Planned, Tare
from weighd.domain.metrology import net_budget
from weighd.domain.pouring import Guidance
from weighd.domain.reading import Reading
from weighd.domain.settling import Phase as Load
from weighd.domain.taring import is_left
from weighd.domain.zero_unseen import perhaps_on
from weighd.domain.zeroing import is_off
from weighd.station.check_picture import draw_check
from weighd.station.known import told
from weighd.station.outgoing import Outgoing
from weighd.station.outlook import outlook
from weighd.station.planning_picture import draw_due, draw_steps
from weighd.station.process_picture import draw_process, draw_steps_of
from weighd.station.recovery_picture import draw_recovery
from weighd.station.scale import LinkState, ScaleState
from weighd.station.station import Station
from weighd.station.vessel_picture import draw_room, draw_vessel

#: More decimals of a gram than this come from another unit.
CONVERTED = 6
SECTIONS = ("station", "batch", "live", "process", "sharing")


class Picture:
    """The numbered picture of one station.

    ``boot``        tells one run of the daemon from the next.
    ``simulation``  whether the scale is simulated, which the page must show.
    """

    def __init__(self, station: Station, *, boot: str = "", simulation: bool = False) -> None:
        self._station = station
        self._boot = boot
        self._simulation = simulation
        #: How the record goes to the shared store; nothing where there is none.
        self.sharing: Callable[[], Outgoing | None] = lambda: None
        #: Whether pages can ask what other stations do.
        self.has_floor = False
        self.seq = 1
        self._changed = dict.fromkeys(
            (*SECTIONS, *(f"scale:{name}" for name in station.scales)), self.seq
        )
        self._drawn: dict[str, tuple[int, Any]] = {}

    @property
    def boot(self) -> str:
        return self._boot

    def refresh(self) -> bool:
        """Take note of what the station changed; whether anything did."""
        dirty = self._station.dirty
        if not dirty:
            return False
        self.seq += 1
        for section in dirty:
            self._changed[section] = self.seq
        dirty.clear()
        return True

    def snapshot(self) -> dict[str, Any]:
        """The whole picture as a websocket frame."""
        return {"kind": "snapshot", "seq": self.seq, "state": self.state()}

    def state(self) -> dict[str, Any]:
        """The whole picture."""
        scales = {name: self._section(f"scale:{name}") for name in self._station.scales}
        return {"scales": scales, **{name: self._section(name) for name in SECTIONS}}

    def since(self, seq: int) -> dict[str, Any] | None:
        """What is newer than ``seq``, as a websocket frame; ``None`` when nothing is."""
        newer = [name for name, changed in self._changed.items() if changed > seq]
        if not newer:
            return None
        frame: dict[str, Any] = {"kind": "change", "seq": self.seq}
        for name in newer:
            if name.startswith("scale:"):
                frame.setdefault("scales", {})[name[6:]] = self._section(name)
            else:
                frame[name] = self._section(name)
        return frame

    def _section(self, name: str) -> Any:
        """A section, drawn at most once for each of its changes."""
        changed = self._changed[name]
        drawn = self._drawn.get(name)
        if drawn is None or drawn[0] != changed:
            drawn = self._drawn[name] = (changed, self._draw(name))
        return drawn[1]

    def _draw(self, name: str) -> Any:
        station = self._station
        match name:
            case "station":
                drawn = draw_station(station, self._boot, self._simulation)
                return drawn | ({"floor": True} if self.has_floor else {})
            case "batch":
                if station.batch is None:
                    return None
                lot = station.stock.draw_next(station.batch, station.at())
                return draw_batch(station.batch) | ({"first_out": lot} if lot else {})
            case "live":
                return draw_live(station)
            case "process":
                return draw_process(station)
            case "sharing":
                outgoing = self.sharing()
                return None if outgoing is None else outgoing.as_json()
            case _:
                scale = station.scales[name[6:]]
                return {**draw_scale(scale), "check": draw_check(station, scale.name)}


def draw_station(station: Station, boot: str, simulation: bool) -> dict[str, Any]:
    """The station itself: its name, its notices, and whether it can write its record."""
    error = station.store_error
    return {
        "name": station.name,
        "version": station.version,
        "boot": boot,
        "simulation": simulation,
        "vessels": [one.as_json() for one in station.shelf.all()],
        "notices": [asdict(one) for one in station.notices],
        "store": {
            "ok": error is None,
            "code": error.code if error else "",
            "text": str(error) if error else "",
        },
    }


def draw_scale(scale: ScaleState) -> dict[str, Any]:
    """One scale; ``reading`` is ``None`` unless it is live, so that nothing stale can be shown."""
    decoder = scale.setup.decoder
    live = scale.link is LinkState.LIVE
    return {
        "name": scale.name,
        "driver": scale.setup.driver,
        "max_g": _text(scale.max_g),
        "min_g": _text(scale.setup.min_g),
        "interval_g": _text(scale.interval_g),
        "link": scale.link,
        "why": scale.why,
        "what": scale.what,
        "reading": draw_reading(scale.reading) if live and scale.reading else None,
        "phase": _load(scale),
        "readings": scale.readings,
        "rejected": decoder.rejected,
        "learned": _learned(scale),
        "last_rejected": decoder.last_rejected.decode("ascii", "backslashreplace"),
    }


def _learned(scale: ScaleState) -> dict[str, Any] | None:
    known = scale.known()
    return None if known is None else told(known, scale.noise_g)


def draw_batch(batch: Batch) -> dict[str, Any]:
    """A batch with every addition: planned, current or accepted. Never anything not durable."""
    current = batch.current
    return {
        "id": batch.id,
        "formula": {key: batch.formula[key] for key in ("id", "name", "revision")},
        "batch_g": mass.text(batch.batch_g),
        "operator": batch.operator,
        "opened": batch.opened,
        "closed": batch.closed,
        "status": batch.status,
        "reason": batch.reason,
        "rule": {"name": batch.rule.name, "k": mass.text(batch.rule.k)},
        "allergens": list(batch.allergens),
        "cautions": list(batch.formula["content"]["cautions"]),
        "current": current.n if current else None,
        "additions": [_addition(batch, one) for one in batch.additions],
        **draw_recovery(batch),
        **draw_steps(batch),
        **({"weighed": batch.weighed, "steps": draw_steps_of(batch)} if batch.steps else {}),
    }


def draw_live(station: Station) -> dict[str, Any] | None:
    """The current addition as it stands this moment; ``None`` when no batch is open."""
    batch, now = station.batch, station.now
    here = bench(batch, now) if batch else None
    if batch is None or here is None:
        return None
    planned, tare = here.planned, here.tare
    net = budget = None
    at_zero = batch.held is not None and batch.held.cause is Cause.SCALE_AT_ZERO
    if tare is not None and now.gross_g is not None and not at_zero:
        net = planned.net_g(now.gross_g, tare.level.grams)
    # A vessel to pour from, off the scale: nothing shows how much is left in it.
    lifted = planned.by_difference and tare is not None and now.phase is Phase.AWAITING
    there = net
    if lifted:
        net, there = None, now.sum_g or Decimal(0)
    if now.claim is not None:
        net, budget = now.claim.net_g, now.claim.budget
        there = net
    elif tare is not None and now.level is not None:
        budget = net_budget(now.level, tare.level, batch.scales[planned.scale].accuracy)
    u_g = now.claim.u_g if now.claim else budget.u_g if budget else None
    d = batch.scales[planned.scale].interval_g
    held = None
    if batch.held is not None:
        held = {
            "cause": batch.held.cause,
            "since": batch.held.since,
            "sum_g": _text(batch.held.sum_g if now.sum_g is None else now.sum_g, d),
        }
        before = batch.held.before
        if at_zero and before is not None and not before.settled:
            held["sum_within_g"] = _text(2 * before.level.u_g)
    return {
        "batch": batch.id,
        "addition": planned.n,
        "scale": planned.scale,
        "phase": now.phase,
        "why": now.why,
        "settled": now.level is not None,
        "gross_g": _text(now.gross_g, d),
        "tare_g": _text(tare.level.grams, d) if tare else None,
        "net_g": _text(net, d),
        "lifted": lifted,
        "to_go_g": _text(None if there is None else planned.target_g - there, d),
        "sum_g": _text(now.sum_g, d),
        "u_g": _text(u_g),
        "budget": budget.as_json() if budget else None,
        "guard_g": None if u_g is None else _text(batch.rule.guard(u_g)),
        "verdict": now.claim.verdict if now.claim else None,
        "held": held,
        "taking_out": now.taking_g is not None,
        "zero": _zero(tare, d),
        "off": now.level is not None and is_off(here, now.level.grams),
        "perhaps_on": perhaps_on(here),
        "drift_g_min": _text(now.drift_g_min),
        "checking": station.checking.holds(planned.scale),
        "due": draw_due(batch, now),
        "vessel": draw_vessel(batch, now, station.shelf),
        "full": draw_room(batch, now),
        "left": is_left(batch, now.level),
        "can": list(station.can()),
        "cue": _cue(station.guiding.told(batch, now)),
    }


def _zero(tare: Tare | None, interval_g: Decimal) -> dict[str, Any] | None:
    """How the scale's zero last moved in this addition; ``None`` if it did not."""
    if tare is None or not tare.moves:
        return None
    move = tare.moves[-1]
    return {"cause": move.cause, "at": move.at, "sum_g": _text(move.sum_g, interval_g)}


def _addition(batch: Batch, one: Planned) -> dict[str, Any]:
    done = batch.accepted[one.n - 1] if one.n <= len(batch.accepted) else None
    status = "waiting"
    if done is not None:
        status = "accepted"
    elif batch.current is not None and batch.current.n == one.n:
        status = "current"
    d = batch.scales[one.scale].interval_g
    return {
        **one.as_json(),
        "lot": done.lot if done else batch.lots.get(one.n, ""),
        "status": status,
        "net_g": _text(done.net_g, d) if done else None,
        "deviation_g": _text(done.deviation_g, d) if done else None,
        "verdict": done.verdict if done else None,
        "reason": done.reason if done else "",
        **outlook(one, batch.scales[one.scale], batch.rule).as_json(),
    }


def draw_reading(reading: Reading) -> dict[str, Any]:
    """What a scale said once, as JSON values."""
    return {
        "t": round(reading.t, 3),
        "grams": _text(reading.grams),
        "shown": _text(reading.shown),
        "unit": reading.unit,
        "stable": reading.stable,
        "over": reading.over,
        "fault": reading.fault,
    }


def _cue(guidance: Guidance | None) -> dict[str, Any] | None:
    if guidance is None:
        return None
    return {
        "cue": guidance.cue,
        "landing_g": _text(guidance.landing_g),
        "sigma_g": _text(guidance.sigma_g),
    }


def _load(scale: ScaleState) -> str | None:
    """What the load does, ``empty`` where it has settled on nothing; ``None`` unless live."""
    finding = scale.finding
    if finding is None or scale.link is not LinkState.LIVE:
        return None
    if finding.level is not None and abs(finding.level.grams) <= (scale.interval_g or 0):
        return Load.EMPTY
    return finding.phase


def _text(value: Decimal | None, interval_g: Decimal | None = None) -> str | None:
    """A mass as text; one that a conversion gave endless digits is rounded to the interval."""
    if value is None:
        return None
    exponent = value.as_tuple().exponent
    if interval_g is not None and isinstance(exponent, int) and exponent < -CONVERTED:
        value = mass.rounded(value, interval_g)
    return mass.text(value)
