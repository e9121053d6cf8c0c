"""Draws as CSV: one line for each draw of a batch that stands, safe for spreadsheets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from weighd.reports.columns import Head, Of
from weighd.reports.csv_table import lines_of

#: Name of a column, where in a drawn draw it stands, and whether it is a number of ours.
_PATHS: tuple[tuple[str, tuple[str, ...], bool], ...] = (
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
COLUMNS = tuple(Head(name, Of.FIGURE if number else Of.TEXT) for name, _, number in _PATHS)


def draws_csv(drawn: Mapping[str, Any]) -> Iterator[str]:
    """The header, and a line for each draw, each with its line end (RFC 4180).

    ``drawn``  what :func:`weighd.station.yield_picture.draw_yield` made.
    """
    rows = ({"batch": drawn["batch"], **draw_row(one)} for one in drawn["draws"])
    return lines_of((Head("batch"), *COLUMNS), rows)


def draw_row(one: Mapping[str, Any]) -> dict[str, Any]:
    """A draw by column; nothing for what was not entered."""
    return {name: _value(one, path) for name, path, _ in _PATHS}


def _value(one: Mapping[str, Any], path: tuple[str, ...]) -> Any:
    value: Any = one
    for key in path:
        value = value.get(key) if isinstance(value, Mapping) else None
    return value
