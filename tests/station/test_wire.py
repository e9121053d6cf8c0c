"""What a scale sends, as it is told to whoever wants to look."""

from __future__ import annotations

from weighd.station.scale import NEWEST, LinkState, ScaleState, Setup
from weighd.station.wire import MOST_BYTES, draw_wire, signs
from weighd_drivers.auto import decoder_for


def scale(shape: str = "status-digits-unit") -> ScaleState:
    return ScaleState(Setup("bench", "serial", decoder_for(shape, joined=True)))


def hear(it: ScaleState, data: bytes, t: float = 1.0) -> None:
    for reading in it.feed(t, data):
        it.take(reading)


def test_the_newest_reports_are_told_with_what_stands_where() -> None:
    it = scale()
    for n in range(NEWEST + 3):
        hear(it, f"ST,GS,+  12{n:02d}.4 g\r\n".encode(), float(n))
    drawn = draw_wire(it)
    assert drawn["shape"] == {"shape": "status-digits-unit"}
    assert [one["shown"] for one in drawn["reports"]] == [f"12{n:02d}.4" for n in range(3, 11)]
    last = drawn["reports"][-1]
    assert "".join(last["bytes"]) == "ST,GS,+␣␣1210.4␣gCR"
    assert last["marks"] == [["status", 0, 5], ["number", 6, 15], ["unit", 16, 17]]
    assert (last["unit"], last["stable"]) == ("g", True)


def test_what_was_not_understood_is_shown_as_it_came() -> None:
    it = scale()
    hear(it, b"ST,GS,+  120.4 g\r\n")
    hear(it, b"\x02??\xff\r\n")
    drawn = draw_wire(it)
    assert drawn["rejected"] == 1
    assert drawn["last_rejected"] == ["STX", "?", "?", "FF", "CR"]


def test_nothing_old_is_shown_of_a_scale_that_is_away() -> None:
    it = scale()
    hear(it, b"ST,GS,+  120.4 g\r\n")
    it.gone(LinkState.SILENT, "nothing came")
    assert draw_wire(it)["reports"] == []


def test_a_shape_that_is_still_being_worked_out_says_so() -> None:
    it = scale("auto")
    assert draw_wire(it)["shape"] == {"shape": "auto"}
    for n in range(9):
        hear(it, b"  123.4 g\r\n", float(n))
    drawn = draw_wire(it)
    assert drawn["shape"] == {"shape": "digits-unit"}
    assert drawn["reports"][-1]["marks"][0][0] == "number"


def test_every_byte_has_a_sign_and_a_long_report_an_end() -> None:
    assert signs(bytes(range(0x21)))[-2:] == ["US", "␣"]
    assert signs(b"\x7f\x80") == ["7F", "80"]
    assert len(signs(b"x" * 500)) == MOST_BYTES
