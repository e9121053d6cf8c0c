"""Draws as CSV: one line for each draw of a batch that stands, safe for spreadsheets."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from typing import Any

from weighd.reports.csv_table import guarded

#: Name of a column, where in a drawn draw it stands, and whether it is a number of ours.
COLUMNS: tuple[tuple[str, tuple[str, ...], bool], ...] = (
    ("draw", ("draw",), True),
    ("at", ("at",), False),
    ("by", ("by",), False),
    ("weight_typed", ("weight", "typed"), False),
    ("weight_g", ("weight", "g"), True),
    ("weight_u_g", ("weight", "u_g"), True),
    ("volume_typed", ("volume", "typed"), False),
    ("volume_ml", ("volume", "ml"), True),
    ("volume_u_ml", ("volume", "u_ml"), True),
    ("containers", ("containers",), True),
    ("fill_typed", ("fill", "typed"), False),
    ("portions", ("portions",), True),
    ("pieces_typed", ("pieces", "typed"), False),
    ("pieces_g", ("pieces", "g"), True),
    ("pieces_g_ml", ("pieces_density_g_ml",), True),
    ("left_typed", ("left", "typed"), False),
    ("left_g", ("left", "g"), True),
    ("mix_g", ("mix_g",), True),
    ("overrun_percent", ("overrun_percent",), True),
    ("overrun_u_percent", ("overrun_u_percent",), True),
    ("cup_overrun_percent", ("cup_overrun_percent",), True),
    ("product_g_ml", ("product_g_ml",), True),
)


def draws_csv(drawn: Mapping[str, Any]) -> Iterator[str]:
    """The header, and a line for each draw, each with its line end (RFC 4180).

    ``drawn``  what :func:`weighd.station.yield_picture.draw_yield` made.
    """
    yield _line(["batch", *(name for name, _, _ in COLUMNS)])
    for one in drawn["draws"]:
        cells = [_cell(one, path, number=number) for _, path, number in COLUMNS]
        yield _line([guarded(str(drawn["batch"])), *cells])


def draw_row(one: Mapping[str, Any]) -> dict[str, Any]:
    """A draw by column; nothing for what was not entered."""
    return {name: _value(one, path) for name, path, _ in COLUMNS}


def _cell(one: Mapping[str, Any], path: tuple[str, ...], *, number: bool) -> str:
    value = _value(one, path)
    if value is None:
        return ""
    return str(value) if number else guarded(str(value))


def _value(one: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    value: Any = one
    for key in path:
        value = value.get(key) if isinstance(value, Mapping) else None
    return value


def _line(cells: list[str]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\r\n").writerow(cells)
    return out.getvalue()
