"""Published time-temperature pairs of heat treatments, and what satisfies one.

1. A pair is satisfied by a hold whose lowest measured temperature is not below the pair's, for at
   least the pair's time. **Between two pairs nothing is known**: they lie on no common line, so
   nothing is interpolated, and a hold that meets no listed pair is no treatment.
2. Tables ship as data, each pair with its source and whether it was read or recalled. What a
   kitchen must do, its local code says, not this list.
3. A record keeps the whole table that a step follows, so that it can be judged again by itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from weighd.domain import mass
from weighd.domain.duration import read_duration, words
from weighd.domain.errors import ConfigError
from weighd.domain.temperature import Temperature, read_temperature
from weighd.domain.toml_text import Path, TomlError, dotted, line_of, lines, load

#: Shown wherever a heat treatment is.
NOTICE = (
    "Raw milk and eggs are why: they can carry what makes people very ill. Your local code and "
    "licensed practice decide what is required; this list does not."
)

_TABLE = ("name", "note", "cooling", "pairs")
_PAIR = ("temperature", "time", "source", "status")


@dataclass(frozen=True, slots=True)
class Pair:
    """At least this hot, for at least this long (seconds). ``status`` says how it was learned."""

    temperature: Temperature
    time_s: Decimal
    source: str
    status: str

    def __str__(self) -> str:
        """What names it in a record and on the page: ``"155 °F, 30 min"``."""
        return f"{self.temperature}, {words(self.time_s)}"

    def content(self) -> dict[str, Any]:
        return {
            "temperature": str(self.temperature),
            "time_s": mass.text(self.time_s),
            "source": self.source,
            "status": self.status,
        }


@dataclass(frozen=True, slots=True)
class Cooling:
    """What a table asks for after the treatment; either part may be missing."""

    at_most: Temperature
    within_s: Decimal | None
    source: str
    status: str

    def __str__(self) -> str:
        within = "" if self.within_s is None else f" within {words(self.within_s)}"
        return f"at most {self.at_most}{within}"

    def content(self) -> dict[str, Any]:
        return {
            "at_most": str(self.at_most),
            "within_s": None if self.within_s is None else mass.text(self.within_s),
            "source": self.source,
            "status": self.status,
        }


@dataclass(frozen=True, slots=True)
class HeatTable:
    """Pairs that belong together, coolest first."""

    id: str
    name: str
    pairs: tuple[Pair, ...]
    note: str = ""
    cooling: Cooling | None = None

    def pair(self, named: str) -> Pair | None:
        """The pair that is called so (:meth:`Pair.__str__`); ``None`` for none."""
        return next((one for one in self.pairs if str(one) == named), None)

    def content(self) -> dict[str, Any]:
        """As a formula's content and a record have it."""
        return {
            "id": self.id,
            "name": self.name,
            "note": self.note,
            "pairs": [one.content() for one in self.pairs],
            **({"cooling": self.cooling.content()} if self.cooling else {}),
        }


def table_of(content: Mapping[str, Any]) -> HeatTable:
    """The inverse of :meth:`HeatTable.content`. Raises ``KeyError`` or ``ValueError``."""
    pairs = tuple(
        Pair(
            read_temperature(one["temperature"]),
            mass.parse(one["time_s"]),
            one["source"],
            one["status"],
        )
        for one in content["pairs"]
    )
    if not pairs:
        raise ValueError("a table without pairs")
    cooling = content.get("cooling")
    return HeatTable(
        content["id"],
        content["name"],
        pairs,
        content["note"],
        None
        if cooling is None
        else Cooling(
            read_temperature(cooling["at_most"]),
            None if cooling["within_s"] is None else mass.parse(cooling["within_s"]),
            cooling["source"],
            cooling["status"],
        ),
    )


def satisfied(pairs: Sequence[Pair], lowest: Temperature, held_s: Decimal) -> tuple[Pair, ...]:
    """The pairs that a hold satisfies: all its measured temperatures are at least ``lowest``.

    Never what lies between two pairs.
    """
    return tuple(one for one in pairs if one.temperature <= lowest and one.time_s <= held_s)


def read_tables(text: str, file: str) -> dict[str, HeatTable]:
    """The tables in a file, by their ids. Raises :class:`ConfigError` with file and line."""
    try:
        document = load(text)
    except TomlError as error:
        raise ConfigError("bad-heat-tables", f"This is not TOML: {error}.", where=file) from error
    reader = _Reader(lines(text), file)
    return {identity: reader.table(identity, one) for identity, one in document.items()}


class _Reader:
    def __init__(self, where: dict[Path, int], file: str) -> None:
        self._where = where
        self._file = file

    def wrong(self, path: Path, message: str) -> ConfigError:
        line = line_of(self._where, path)
        place = f"{self._file}, line {line}" if line else self._file
        return ConfigError("bad-heat-tables", f"{message}.", where=f"{place}, {dotted(path)}")

    def table(self, identity: str, value: Any) -> HeatTable:
        path: Path = (identity,)
        given = self.known(value, path, _TABLE)
        rows = given.get("pairs")
        if not isinstance(rows, list) or not rows:
            raise self.wrong((*path, "pairs"), "a table has at least one pair")
        pairs = [self.pair(one, (*path, "pairs", n)) for n, one in enumerate(rows)]
        cooling = None
        if "cooling" in given:
            cooling = self.cooling(given["cooling"], (*path, "cooling"))
        return HeatTable(
            identity,
            self.text(given, path, "name"),
            tuple(sorted(pairs, key=lambda one: one.temperature)),
            self.text(given, path, "note", needed=False),
            cooling,
        )

    def pair(self, value: Any, path: Path) -> Pair:
        given = self.known(value, path, _PAIR)
        return Pair(
            self.temperature(given, path, "temperature"),
            self.duration(given, path, "time"),
            self.text(given, path, "source"),
            self.text(given, path, "status"),
        )

    def cooling(self, value: Any, path: Path) -> Cooling:
        given = self.known(value, path, _PAIR)
        return Cooling(
            self.temperature(given, path, "temperature"),
            self.duration(given, path, "time") if "time" in given else None,
            self.text(given, path, "source"),
            self.text(given, path, "status"),
        )

    def known(self, value: Any, path: Path, allowed: tuple[str, ...]) -> Mapping[str, Any]:
        if not isinstance(value, dict):
            raise self.wrong(path, "this is a table")
        for key in value:
            if key not in allowed:
                raise self.wrong((*path, key), f'"{key}" is not a field here')
        return value

    def text(self, given: Mapping[str, Any], path: Path, key: str, *, needed: bool = True) -> str:
        value = given.get(key, "")
        if not isinstance(value, str) or (needed and not value.strip()):
            raise self.wrong((*path, key), f'"{key}" is a text, and is not empty')
        return value.strip()

    def temperature(self, given: Mapping[str, Any], path: Path, key: str) -> Temperature:
        try:
            return read_temperature(self.text(given, path, key))
        except ValueError as error:
            raise self.wrong((*path, key), str(error)) from error

    def duration(self, given: Mapping[str, Any], path: Path, key: str) -> Decimal:
        try:
            return read_duration(self.text(given, path, key))
        except ValueError as error:
            raise self.wrong((*path, key), str(error)) from error
