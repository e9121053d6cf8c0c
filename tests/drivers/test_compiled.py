"""Decoders that share a compiled shape read as those that compiled their own."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from weighd.main.drivers import reread
from weighd_drivers.auto import redecoder_for
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import as_json, shape_of, shipped

SESSIONS = Path(__file__).parents[2] / "fixtures/sessions"


def evidence(value: Any) -> Iterator[dict[str, Any]]:
    """Every piece of evidence in a record."""
    if isinstance(value, dict):
        if "decoder" in value:
            yield value
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            yield from evidence(one)


@pytest.mark.parametrize("file", sorted(SESSIONS.glob("*.golden.json")), ids=lambda one: one.name)
def test_evidence_of_the_recorded_sessions_reads_the_same(file: Path) -> None:
    seen = 0
    for one in evidence(json.loads(file.read_text("utf-8"))):
        spec = {key: value for key, value in one["decoder"].items() if key != "driver"}
        for reading in (it for part in one.values() if isinstance(part, list) for it in part):
            t, raw = reading["t"], bytes.fromhex(reading["raw"])
            assert spec.get("shape") != "auto"
            alone = LineDecoder(shape_of(spec), joined=True).feed(t, raw)
            decoder = reread(one["decoder"])
            assert list(decoder.feed(t, raw)) == list(alone)
            assert decoder.spec == spec
            seen += 1
    assert seen


@pytest.mark.parametrize("name", sorted(shipped()))
def test_what_one_has_read_is_not_known_to_the_next(name: str) -> None:
    spec = {"shape": as_json(shipped()[name])}
    first, second = redecoder_for(spec), redecoder_for(spec)
    first.feed(0.0, b"\x02 12")
    first.feed(1.0, b"\xff" * 600 + b"\r\n\x03")
    fresh = LineDecoder(shape_of(spec), joined=True)
    assert (second.rejected, second.spec) == (0, fresh.spec)
    third = redecoder_for(spec)
    data = b"\x02 12.5 g\r\n\x03" * 3
    assert list(third.feed(2.0, data)) == list(fresh.feed(2.0, data))
    assert third.rejected == fresh.rejected


def test_a_unit_is_not_that_of_another_scale() -> None:
    name = next(one.name for one in shipped().values() if one.needs_unit)
    kilograms, ounces = ({"shape": name, "unit": unit} for unit in ("kg", "oz"))
    assert redecoder_for(kilograms).spec == kilograms
    assert redecoder_for(ounces).spec == ounces
    for wrong in ({"shape": name, "unit": "stone's throw"}, {"shape": "no such"}, {}):
        with pytest.raises(KeyError):
            redecoder_for(wrong)
