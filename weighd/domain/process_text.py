"""The ``[[steps]]`` of a formula file, read; an error names the line and the field."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any, Protocol, TypeVar

from weighd.domain import duration, temperature
from weighd.domain.cautions import Caution, means_named, with_means
from weighd.domain.duration import read_duration
from weighd.domain.errors import FormulaError
from weighd.domain.heat_tables import HeatTable
from weighd.domain.process import (
    MOST_STEPS,
    USUAL_NAMES,
    Limits,
    ProcessStep,
    StepKind,
    takes,
)
from weighd.domain.temperature import Temperature, read_temperature
from weighd.domain.toml_text import Path

_FIELDS = ("kind", "name", "how", "with", "temperature", "time", "table", "cautions")
_LONGEST_HOW = 2000
_MOST_CAUTIONS = 20
_TO = r"\s*(?:to|–)\s*"
_UNIT_C = r"(?:\s*°?\s?[CFcf])?"
_BAND_C = re.compile(rf"({temperature.NUMBER})({_UNIT_C}){_TO}({temperature.NUMBER}{_UNIT_C})")
_BAND_S = re.compile(rf"({duration.NUMBER}\s*(?:[a-z]+)?){_TO}({duration.NUMBER}\s*([a-z]+))")
_ONE = re.compile(r"(at least|at most|within)\s+(.*)")


T = TypeVar("T")


class Reader(Protocol):
    """What the reader of a formula file offers."""

    def wrong(self, path: Path, message: str, code: str = ...) -> FormulaError: ...

    def known(self, table: Mapping[str, Any], path: Path, allowed: tuple[str, ...]) -> None: ...

    def string(
        self,
        table: Mapping[str, Any],
        path: Path,
        key: str,
        *,
        needed: bool = ...,
        longest: int = ...,
    ) -> str: ...


def read_steps(
    reader: Reader, document: Mapping[str, Any], tables: Mapping[str, HeatTable]
) -> tuple[ProcessStep, ...]:
    """The steps of a formula, none where it has none. ``tables``: the heat treatments there are.

    Raises :class:`FormulaError` naming line and field.
    """
    read = each_step(reader, document, tables)
    for one in read:
        if isinstance(one, FormulaError):
            raise one
    return tuple(one for one in read if isinstance(one, ProcessStep))


def each_step(
    reader: Reader, document: Mapping[str, Any], tables: Mapping[str, HeatTable]
) -> list[ProcessStep | FormulaError]:
    """Every step by itself: the step, or what is wrong with it.

    Raises :class:`FormulaError` for what is no list of steps, or too long a one.
    """
    rows = document.get("steps", [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        raise reader.wrong(("steps",), "steps are written as [[steps]], one after the other")
    if len(rows) > MOST_STEPS:
        raise reader.wrong(("steps",), f"{len(rows)} steps are too many; {MOST_STEPS} at most")
    out: list[ProcessStep | FormulaError] = []
    for n, row in enumerate(rows):
        try:
            out.append(_step(reader, row, ("steps", n), tables))
        except FormulaError as error:
            out.append(error)
    return out


def _step(
    reader: Reader, row: Mapping[str, Any], path: Path, tables: Mapping[str, HeatTable]
) -> ProcessStep:
    reader.known(row, path, _FIELDS)
    named = reader.string(row, path, "kind", needed=True)
    try:
        kind = StepKind(named)
    except ValueError:
        raise reader.wrong(
            (*path, "kind"),
            f'"{named}" is not a kind of step; the kinds are {", ".join(StepKind)}',
            "unknown-step-kind",
        ) from None
    means = means_named(reader.string(row, path, "with"))
    step = ProcessStep(
        kind,
        reader.string(row, path, "name") or USUAL_NAMES[kind],
        reader.string(row, path, "how", longest=_LONGEST_HOW),
        means,
        cautions=with_means(means, _cautions(reader, row, path)),
    )
    if "table" in takes(kind):
        return replace(step, table=_table(reader, row, path, tables))
    if "table" in row:
        raise reader.wrong((*path, "table"), f"a table is for heat-treat; this step is {kind}")
    limits = _limits(reader, row, path)
    if kind is StepKind.COOL and limits.at_most is None:
        raise reader.wrong(
            (*path, "temperature"),
            'cooling needs a temperature, like "at most 4 °C"',
            "missing-field",
        )
    if kind is StepKind.AGE and limits.least_s is None and limits.most_s is None:
        raise reader.wrong(
            (*path, "time"), 'ageing needs a time, like "4 h to 24 h"', "missing-field"
        )
    return replace(step, limits=limits)


def _table(
    reader: Reader, row: Mapping[str, Any], path: Path, tables: Mapping[str, HeatTable]
) -> HeatTable:
    for key in ("temperature", "time"):
        if key in row:
            raise reader.wrong(
                (*path, key),
                "a heat treatment has no limits of its own: it follows a published table",
            )
    named = reader.string(row, path, "table", needed=True)
    if named not in tables:
        raise reader.wrong(
            (*path, "table"),
            f'no table of heat treatments is called "{named}"; there are {", ".join(tables)}',
            "unknown-heat-table",
        )
    return tables[named]


def _limits(reader: Reader, row: Mapping[str, Any], path: Path) -> Limits:
    out = Limits()
    if text := reader.string(row, path, "temperature"):
        low, high = _read(reader, (*path, "temperature"), text, read_temperatures)
        out = replace(out, at_least=low, at_most=high)
    if text := reader.string(row, path, "time"):
        least, most = _read(reader, (*path, "time"), text, read_times)
        out = replace(out, least_s=least, most_s=most)
    return out


def _read(
    reader: Reader, path: Path, text: str, read: Callable[[str], tuple[T | None, T | None]]
) -> tuple[T | None, T | None]:
    try:
        return read(text)
    except ValueError as error:
        raise reader.wrong(path, str(error), "bad-step-limit") from error


def read_temperatures(text: str) -> tuple[Temperature | None, Temperature | None]:
    """``"at most 4 °C"``, ``"at least 60 °C"``, ``"2 to 4 °C"``: the least and the most.

    Raises ``ValueError`` saying what is wrong with it.
    """
    if found := _BAND_C.fullmatch(text):
        high = read_temperature(found[3])
        low = read_temperature(found[1] + found[2], high.unit)
        if not low < high:
            raise ValueError(f'"{text}" begins where it ends, or above')
        return low, high
    if (found := _ONE.fullmatch(text)) and found[1] != "within":
        one = read_temperature(found[2])
        return (one, None) if found[1] == "at least" else (None, one)
    raise ValueError(f'"{text}" is no limit of temperature; write "at most 4 °C" or "2 to 4 °C"')


def read_times(text: str) -> tuple[Decimal | None, Decimal | None]:
    """``"within 90 min"``, ``"at least 4 h"``, ``"4 h to 24 h"``: seconds, the least and the most.

    Raises ``ValueError`` saying what is wrong with it.
    """
    if found := _BAND_S.fullmatch(text):
        least, most = read_duration(found[1], found[3]), read_duration(found[2])
        if not least < most:
            raise ValueError(f'"{text}" begins where it ends, or later')
        return least, most
    if found := _ONE.fullmatch(text):
        one = read_duration(found[2])
        if found[1] != "at least" and not one:
            raise ValueError(f'"{text}" leaves no time')
        return (one, None) if found[1] == "at least" else (None, one)
    raise ValueError(f'"{text}" is no limit of time; write "within 90 min" or "4 h to 24 h"')


def _cautions(reader: Reader, row: Mapping[str, Any], path: Path) -> list[Caution]:
    rows = row.get("cautions", [])
    here = (*path, "cautions")
    if not isinstance(rows, list) or not all(isinstance(one, dict) for one in rows):
        raise reader.wrong(here, 'a caution has a name and a text: { name = "...", text = "..." }')
    if len(rows) > _MOST_CAUTIONS:
        raise reader.wrong(here, f"{len(rows)} cautions are more than anybody reads")
    out: list[Caution] = []
    for n, one in enumerate(rows):
        reader.known(one, (*here, n), ("name", "text"))
        name = reader.string(one, (*here, n), "name", needed=True)
        if name in [it.name for it in out]:
            raise reader.wrong((*here, n, "name"), f'there are two cautions called "{name}"')
        text = reader.string(one, (*here, n), "text", needed=True, longest=500)
        out.append(Caution(name, text))
    return out
