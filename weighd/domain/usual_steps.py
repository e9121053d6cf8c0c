"""Steps to begin with, where a formula has none yet: common practice, no source.

They are rows of a formula file, to be changed. No heat treatment is filled in: which published
table is followed a person says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

SOURCE = "common practice, no source"

Row = Mapping[str, str]

_COLD = {"temperature": "at most 4 °C", "time": "within 90 min"}
_FREEZE: tuple[Row, ...] = (
    {"kind": "freeze", "temperature": "at most -6 °C"},
    {"kind": "fill"},
    {"kind": "harden", "temperature": "at most -18 °C", "time": "within 12 h"},
)

USUAL: Mapping[str, Sequence[Row]] = {
    "custard": (
        {"kind": "mix"},
        {"kind": "heat-treat"},
        {"kind": "cool", **_COLD},
        {"kind": "age", "temperature": "at most 4 °C", "time": "4 h to 24 h"},
        *_FREEZE,
    ),
    "sorbet": ({"kind": "mix"}, {"kind": "cool", **_COLD}, *_FREEZE),
}
