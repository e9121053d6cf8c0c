"""Replaying a recorded session through a whole station, as fast as it goes."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from typing import Any, Protocol

from weighd.domain import mass
from weighd.domain.accuracy import from_json
from weighd.domain.check_routine import routine_of
from weighd.domain.errors import FormulaError, OperatorError, SessionError, WeighdError
from weighd.domain.lots import LotBook
from weighd.domain.metrology import Rule
from weighd.domain.reading import Reading
from weighd.domain.record import Entry, Tail
from weighd.domain.settling import Finding
from weighd.station.inputs import Command, Input, Recalled
from weighd.station.ports import Decoder
from weighd.station.runner import run_through
from weighd.station.scale import ScaleState, Setup
from weighd.station.session import Header
from weighd.station.station import Station

#: Makes the decoder of a scale from its ``driver`` and settings, as in the session's header.
MakeDecoder = Callable[[Mapping[str, Any]], Decoder]


class Onlooker(Protocol):
    """Looks on while a session is replayed: it may read the station, and changes nothing."""

    def reading(
        self, station: Station, scale: ScaleState, reading: Reading, finding: Finding
    ) -> None:
        """A reading was taken in, and everything it led to is done."""

    def entries(self, station: Station, entries: Sequence[Entry]) -> None:
        """Entries were made, at ``station.t``; the batch does not have them yet."""

    def taken(self, station: Station, event: Input) -> None:
        """An input was taken, or refused, to its end."""


#: What a header raises where something in it is of another kind than ours.
_NOT_AS_WRITTEN = (ArithmeticError, AttributeError, KeyError, TypeError, ValueError)
_COMMON = ("max_g", "interval_g", "min_g")


def setup(name: str, settings: Mapping[str, Any], make: MakeDecoder) -> Setup:
    """A scale from a session's header. Raises :class:`SessionError` for what is no mass."""
    try:
        common = {
            key: mass.parse(str(settings[key])) for key in _COMMON if settings.get(key) is not None
        }
        accuracy = from_json(settings)
        silent = float(settings.get("silent_after_s", 2.0))
        check = routine_of(settings["check"]) if settings.get("check") else None
    except _NOT_AS_WRITTEN as error:
        raise SessionError(
            "bad-session-header", f"Scale {name}: {error}.", where="line 1"
        ) from error
    return Setup(
        name,
        str(settings["driver"]),
        make(settings),
        common.get("interval_g"),
        common.get("max_g"),
        common.get("min_g"),
        accuracy,
        silent,
        check=check,
    )


def replay(
    header: Header,
    inputs: Iterable[Input],
    make: MakeDecoder,
    formula: Callable[[Any], Mapping[str, Any]],
    refused: Callable[[Command, WeighdError], None] = lambda _command, _error: None,
    onlooker: Onlooker | None = None,
) -> list[Entry]:
    """The entries a session makes, oldest first.

    ``formula``   gives a formula's content for what a ``start`` command names (content, id, none).
    ``refused``   is told of commands that the station refused, as it did when they were recorded.
    ``onlooker``  is told of everything else.
    """
    rule = _rule(header) if header.rule else Rule()
    station = Station(
        header.station,
        [
            replace(setup(name, one, make), known=header.learned.get(name))
            for name, one in header.scales.items()
        ],
        tail=Tail(header.seq, header.hash),
        made=header.made,
        rule=rule,
        version=header.version,
        past=header.past,
        vessels=header.vessels,
        lots=LotBook(header.lots, header.strangers),
        shared=header.shared,
        wall=header.wall,
    )
    journal: list[Entry] = []

    def append(entries: Sequence[Entry]) -> None:
        journal.extend(entries)
        if onlooker is not None:
            onlooker.entries(station, entries)

    if onlooker is not None:
        station.onlooker = partial(onlooker.reading, station)
    for event in inputs:
        if isinstance(event, Command) and event.do == "start":
            event = replace(event, formula=formula(event.formula))
        try:
            run_through(station.handle(event), append)
        except (FormulaError, OperatorError) as error:
            assert isinstance(event, Command)
            refused(event, error)
        except _NOT_AS_WRITTEN as error:
            if not isinstance(event, Recalled):
                raise
            raise SessionError(
                "bad-session-line",
                f"The entries of a batch in process are not what they should be: {error!r}.",
                where=f"at {event.t} s",
            ) from error
        if onlooker is not None:
            onlooker.taken(station, event)
    return journal


def _rule(header: Header) -> Rule:
    try:
        return Rule(header.rule["name"], mass.parse(header.rule.get("k", "2")))
    except _NOT_AS_WRITTEN as error:
        raise SessionError(
            "bad-session-header", f"The rule cannot be read ({error}).", where="line 1"
        ) from error


def differences(golden: Any, found: Any, path: str = "") -> list[str]:
    """What differs between two records, a line each, in words; empty when nothing does."""
    if isinstance(golden, Mapping) and isinstance(found, Mapping):
        out: list[str] = []
        for key in sorted({*golden, *found}):
            where = f"{path}.{key}" if path else str(key)
            if key not in found:
                out.append(f"{where}: missing, the golden record has {_short(golden[key])}")
            elif key not in golden:
                out.append(f"{where}: new, {_short(found[key])}")
            else:
                out += differences(golden[key], found[key], where)
        return out
    if isinstance(golden, list) and isinstance(found, list):
        out = []
        for index, (one, other) in enumerate(zip(golden, found, strict=False)):
            out += differences(one, other, f"{path}[{_name(one, index)}]")
        if len(golden) != len(found):
            out.append(f"{path}: {len(found)} of them, the golden record has {len(golden)}")
        return out
    if golden != found:
        return [f"{path}: {_short(found)}, the golden record has {_short(golden)}"]
    return []


def _name(one: Any, index: int) -> str:
    if isinstance(one, Mapping) and "kind" in one and isinstance(one.get("body"), Mapping):
        addition = one["body"].get("addition")
        return f"{one['kind']}, addition {addition}" if addition else str(one["kind"])
    return str(index + 1)


def _short(value: Any) -> str:
    text = str(value)
    return text if len(text) <= 80 else f"{text[:77]}..."
