"""The words of a record sheet: masses, moments, and what happened, in a line each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from decimal import ROUND_CEILING, ROUND_FLOOR, ROUND_UP, Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.batch import Cause, Kind
from weighd.domain.zero import Moved
from weighd.reports.told import Body, count, inside, rows, text

THIN = "\u00a0"


def number(value: str) -> Decimal | None:
    """A mass of a record as a number; ``None`` where it is none."""
    try:
        return mass.parse(value)
    except ValueError:
        return None


def grams(value: str) -> str:
    """A mass with its unit, as the record has it; empty for none."""
    return f"{value}{THIN}g" if value else ""


def signed(value: str) -> str:
    """A difference, with its sign."""
    found = number(value)
    if found is None:
        return value
    sign = "+" if found > 0 else "\u2212" if found < 0 else ""
    return sign + mass.text(abs(found))


def unsure(value: str) -> str:
    """An uncertainty to two digits, rounded up (GUM 7.2.6, from memory)."""
    found = number(value)
    if found is None or found <= 0:
        return value
    step = min(Decimal(1).scaleb(found.adjusted() - 1), Decimal(1))
    return mass.text(found.quantize(step, rounding=ROUND_UP))


def between(low: str, high: str, interval: str) -> str:
    """Limits, inward to what the scale can show, where that leaves any room."""
    ends, step = (number(low), number(high)), number(interval)
    if ends[0] is not None and ends[1] is not None and step is not None and step > 0:
        up = (ends[0] / step).to_integral_value(ROUND_CEILING) * step
        down = (ends[1] / step).to_integral_value(ROUND_FLOOR) * step
        if up <= down:
            low, high = (mass.text(one.quantize(step)) for one in (up, down))
    return f"{low or '?'} to {high or '?'}" if low or high else ""


def moment(at: str, *, seconds: bool = False) -> str:
    """A moment of a record, to the minute: ``2026-11-26 15:26``, in UTC like the record."""
    return at[: 19 if seconds else 16].replace("T", " ") if at[10:11] == "T" else at


def clock(at: str, day: str = "") -> str:
    """A moment's time of day, with its day where that is another."""
    told = moment(at, seconds=True)
    return told[11:] if told[:10] == day and len(told) > 11 else told


def kilograms(value: str) -> str:
    """A mass in grams with its unit; from a kilogram up in kg as well."""
    found = number(value)
    if found is None or found < 1000:
        return grams(value)
    return f"{grams(value)} ({mass.text((found / 1000).normalize())}{THIN}kg)"


_CAUSES: Mapping[str, str] = {
    Cause.OVER: "too much",
    Cause.SHORT: "too little",
    Cause.TOO_CLOSE: "too close to call",
    Cause.SCALE_LOST: "the scale was cut off",
    Cause.SCALE_SILENT: "the scale fell silent",
    Cause.SCALE_AT_ZERO: "the scale was back at zero",
}
_MOVES: Mapping[str, str] = {
    Moved.TARE_KEY: "its own tare key was pressed",
    Moved.AT_ZERO: "it was off, and nothing was added meanwhile",
    Moved.EMPTIED: "it was zeroed empty, and the vessel set back",
}


def _with_sum(told: str, body: Body) -> str:
    found = text(body, "sum_g")
    return f"{told}; {grams(found)} were in" if found else told


def _held(body: Body) -> str:
    cause = text(body, "cause")
    return _with_sum(f"Held: {_CAUSES.get(cause, cause)}", body)


def _decided(body: Body) -> str:
    return _with_sum(f"Decided: {text(body, 'decision')}", body)


def _zero_moved(body: Body) -> str:
    cause, found = text(body, "cause"), text(body, "sum_g")
    told = f"The zero of scale {text(body, 'scale')} moved: {_MOVES.get(cause, cause)}"
    return f"{told}; counted on from {grams(found)}" if found else told


def _tared(body: Body) -> str:
    told = "Tared"
    vessel = inside(body, "vessel")
    if vessel.get("fits") is False:
        off = text(vessel, "differs_g", "holds_g")
        told += f" with another vessel than {text(vessel, 'name')}"
        told += f", which differs by {grams(signed(off))}" if off else ""
    if text(body, "not_added_g"):
        told += f"; {grams(text(body, 'not_added_g'))} were another vessel, and not added"
    if body.get("expected_confirmed") is True:
        told += f" although {grams(text(body, 'expected_g'))} should stand there"
    if body.get("stood_confirmed") is True:
        told += f" although {grams(text(body, 'stood_g'))} stood there before"
    return told


def _lot_named(body: Body) -> str:
    upto, lot = text(body, "from_g"), text(body, "lot")
    if upto:
        return f"The lot ran out at {grams(upto)}; from there on lot {lot}"
    return f"Lot {lot} was used although it was past its best"


def _scale_changed(body: Body) -> str:
    return f"Weighed on scale {text(body, 'to')} from here on instead of {text(body, 'from')}"


def _put_right(body: Body) -> str:
    told = f"Put right ({text(body, 'cause')}): {text(body, 'way')}"
    was = text(inside(body, "was"), "name")
    told += f"; it was {was}" if was else ""
    size = text(body, "mass_g")
    coming = len(rows(body, "additions"))
    return f"{told}; {coming} weighings to come, {grams(size)} in all" if size else told


def _abandoned(body: Body) -> str:
    step = count(body, "step")
    told = "Abandoned" if step is None else f"Discarded in step {step}"
    return _with_sum(told, body)


def _clock_set(body: Body) -> str:
    was, now = (moment(text(body, name), seconds=True) for name in ("was", "now"))
    return f"The station's clock was set from {was} to {now}"


def _closed(body: Body) -> str:
    return "Closed before all steps were done" if body.get("early") else "Closed"


def _corrected(body: Body) -> str:
    field, old, new = (text(body, one) for one in ("field", "old", "new"))
    about = count(inside(body, "of"), "n")
    although = f", although {text(body, 'although')}" if text(body, "although") else ""
    return f"Put right, entry {about}: {field} {new or 'none'}, not {old or 'none'}{although}"


#: What to say of an entry that is out of the ordinary.
_SAID: Mapping[str, Callable[[Body], str]] = {
    Kind.HELD: _held,
    Kind.DECIDED: _decided,
    Kind.RESUMED: lambda _: "Went on",
    Kind.ZERO_MOVED: _zero_moved,
    Kind.TARED: _tared,
    Kind.LOT_NAMED: _lot_named,
    Kind.SCALE_CHANGED: _scale_changed,
    Kind.PUT_RIGHT: _put_right,
    Kind.RESTARTED: lambda _: "The station was started anew",
    Kind.CORRECTED: _corrected,
    Kind.ABANDONED: _abandoned,
    Kind.CLOCK_SET: _clock_set,
    Kind.CLOSED: _closed,
}


def said(kind: str, body: Body) -> str:
    """What happened by an entry, in a line; of a kind that is not known here, all that is plain."""
    if kind in _SAID:
        return _SAID[kind](body)
    return f"{kind[:1].upper()}{kind[1:]}: {plainly(body)}".removesuffix(": ")


#: What binds an entry to its batch, and what is told of it elsewhere.
_LEFT_OUT = frozenset(
    (
        *("batch", "n", "after", "key", "by", "proved", "allowed_by", "clock"),
        *("reason", "addition", "evidence"),
    )
)


def plainly(body: Body) -> str:
    """The fields of a body in a line, objects with theirs; lists by their length."""
    return "; ".join(
        f"{str(name).replace('_', ' ')} {_value(value)}"
        for name, value in body.items()
        if name not in _LEFT_OUT
    )


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return f"({plainly(value)})"
    if isinstance(value, list):
        deep = any(isinstance(one, Mapping | list) for one in value)
        return f"({len(value)})" if deep else ", ".join(map(str, value)) or "none"
    if value is None:
        return "not known"
    return {True: "yes", False: "no"}[value] if isinstance(value, bool) else str(value)
