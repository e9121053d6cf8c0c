"""The line decoder against published values: SMA SCP-0499 and a published check character."""

from __future__ import annotations

import json
from decimal import Decimal
from functools import reduce
from operator import xor
from pathlib import Path
from typing import Any

import pytest

from weighd.domain.mass import Unit, to_grams
from weighd_drivers.lines import LineDecoder
from weighd_drivers.shape_text import shipped
from weighd_drivers.shapes import Check, Frame, Number, WireShape

TABLE = json.loads((Path(__file__).parents[2] / "fixtures/tables/serial.json").read_text("utf-8"))
CHECKS = {one["name"]: one for one in TABLE["checks"]}


@pytest.mark.parametrize("name", ["sma_gross_stable", "sma_zero", "sma_motion", "sma_net"])
def test_a_response_of_the_published_protocol_reads_as_published(name: str) -> None:
    """SMA SCP-0499, standard response; values and padding as the table's ``basis`` says."""
    check: dict[str, Any] = CHECKS[name]
    decoder = LineDecoder(shipped()["scp-0499"])
    (reading,) = decoder.feed(0, bytes.fromhex(check["inputs"]["hex"]))
    expected = check["expected"]
    assert reading.shown == Decimal(expected["value"])
    assert reading.unit is not None
    assert reading.unit.value == expected["unit"]
    assert reading.stable is not expected["motion"]
    assert reading.grams == to_grams(reading.shown, reading.unit)
    assert len(reading.raw) == check["inputs"].get("length", 20) == 20


def test_the_answer_to_an_unknown_command_is_no_reading() -> None:
    """SMA SCP-0499: an unknown command is answered with a question mark."""
    decoder = LineDecoder(shipped()["scp-0499"])
    text = CHECKS["sma_unknown_command"]["inputs"]["ascii_escaped"]
    assert decoder.feed(0, text.encode("ascii").decode("unicode_escape").encode("ascii")) == []
    assert decoder.rejected == 1


def test_the_published_exclusive_or_is_the_check_that_is_accepted() -> None:
    """A published block check (the LRC idea of ISO 1155): ten bytes, STX, digits, ETX give 77.

    The ten bytes before STX are left out of our frame and taken off the check by hand.
    """
    check = CHECKS["bcc_xor_example"]
    covered = bytes.fromhex(check["inputs"]["hex"])
    before, frame = covered.split(b"\x02")[0], covered[covered.index(2) :]
    sent = int(check["expected"]["bcc"], 16) ^ reduce(xor, before)
    shape = WireShape(
        name="published",
        unit=Unit.G,
        frame=Frame(start="STX", end="ETX"),
        check=Check(kind="xor", covers="start+data+end"),
        field=(Number(point="none"),),
    )
    decoder = LineDecoder(shape)
    (reading,) = decoder.feed(0, frame + bytes([sent]))
    assert reading.shown == int(frame[1:-1])
    assert decoder.feed(0, frame + bytes([sent ^ 1])) == []


@pytest.mark.parametrize(
    ("covers", "kind", "key"),
    [
        ("data+end", "xor", "xor_without_stx_with_etx"),
        ("start+data+end", "xor", "xor_with_stx_and_etx"),
        ("data", "xor", "xor_data_only"),
        ("data", "sum", "sum_mod_256_data"),
        ("data", "negated sum", "lrc_twos_complement_data"),
    ],
)
def test_what_a_check_covers_is_a_setting(covers: str, kind: str, key: str) -> None:
    """Values computed apart from this code; the text of the frame is invented."""
    check = CHECKS["bcc_xor_generic_frame"]
    frame = bytes.fromhex(check["inputs"]["stx_to_etx_hex"])
    shape = WireShape.model_validate(
        {
            "name": "checked",
            "frame": {"start": "STX", "end": "ETX"},
            "check": {"kind": kind, "covers": covers},
            "field": (
                {"kind": "literal", "text": "S"},
                {"kind": "sign"},
                {"kind": "number", "sign": False},
                {"kind": "space", "most": 2},
                {"kind": "unit"},
                {"kind": "space", "most": 2},
            ),
        }
    )
    decoder = LineDecoder(shape)
    (reading,) = decoder.feed(0, frame + bytes.fromhex(check["expected"][key]))
    assert str(reading.grams) == "125.0"
    wrong = (int(check["expected"][key], 16) + 1) % 256
    assert decoder.feed(0, frame + bytes([wrong])) == []
