"""A step of freezing with dry ice: cautions and a room before it, its figures and the weighing in
its record, and the record reckoned again."""

from __future__ import annotations

import copy
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.process_world import resealed
from tests.station.scripted import Hand, LineDecoder
from weighd.domain.cautions import DRY_ICE, OF_MEANS
from weighd.domain.dry_ice_record import share_of_cold
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.fold import fold
from weighd.domain.formula_text import read_formula
from weighd.domain.record import Entry
from weighd.domain.sublimation import EVIDENCE
from weighd.domain.verify import Verifier
from weighd.station.dry_ice_words import tell_figures
from weighd.station.session import line

SORBET = """
name = "Plum sorbet"
[ingredients.plum]
name = "Plum purée"
[ingredients.plum.composition]
water = 86
other_solids = 3
sugars = { fructose = 4, glucose = 5, sucrose = 2 }
[ingredients.sugar]
name = "Sugar"
[ingredients.sugar.composition]
sugars = { sucrose = 100 }
[[additions]]
ingredient = "plum"
target = "800 g"
tolerance = "1 %"
[[additions]]
ingredient = "sugar"
target = "200 g"
tolerance = "1 %"
[[steps]]
kind = "freeze"
with = "dry ice"
temperature = "at most -5 °C"
"""
VAGUE = SORBET.replace("water = 86\nother_solids = 3\n", "")
NAMES = tuple(one.name for one in OF_MEANS[DRY_ICE])
ROOM = {"room_m3": "30", "to_c": "-6"}


def weighed(text: str = SORBET, sugar: str = "1300") -> Hand:
    """A sorbet in its bowl of 300 g, all weighed; the bowl is off, the scale is at zero."""
    hand = Hand()
    content = read_formula(text, "plum-sorbet.toml").content()
    hand.lift("0.0")
    hand.do("start", formula=content, by="Ada")
    hand.lift("300")
    hand.do("tare")
    for to in ("1100", sugar):
        hand.pour(to)
        hand.do("accept")
    hand.lift("0.0")
    assert hand.kinds()[-1] == "all weighed"
    return hand


def wastes(hand: Hand, grams: float, seconds: int = 40, per_min: float = 6.0) -> None:
    """A bowl of dry ice set down, and left alone: it loses some grams a minute."""
    hand.lift(str(grams))
    for n in range(seconds * 10):
        hand.show(f"{grams - n * per_min / 600:.1f}", 0.1)


def begin(hand: Hand, dry_ice: dict[str, str] | None, **more: Any) -> dict[str, Any]:
    given = {"step": 1, "by": "Bo", "confirmed": NAMES, "batch": "test-0001", **more}
    hand.do("begin step", dry_ice=dry_ice, **given)
    assert hand.journal[-1].kind == "step begun"
    return dict(hand.journal[-1].body)


def verify(entries: list[Entry]) -> None:
    verifier = Verifier(whole=False, reread=lambda _spec: LineDecoder())
    for one in entries:
        verifier.take(one)
    verifier.finish()


def test_the_figures_are_kept_and_reckoned_again() -> None:
    hand = weighed()
    body = begin(hand, ROOM)
    assert body["confirmed"] == list(NAMES)
    told = body["dry_ice"]
    assert told["asked"]["room_m3"] == "30"
    assert "air_changes" not in told["asked"]  # not known: none
    least, most = (float(one) for one in told["charge_g"])
    assert 250 < least < most == float(told["counted_g"]) < 600
    assert told["room"]["above"] == ["twa-8h"]
    verify(hand.journal)
    [batch] = hand.station.off_bench.in_process()
    assert batch.process.runs[-1].dry_ice == told


def test_what_was_weighed_counts_not_what_was_planned() -> None:
    exact = begin(weighed(), ROOM)["dry_ice"]
    more = begin(weighed(sugar="1301.5"), ROOM)["dry_ice"]
    assert exact["heat_kj"] != more["heat_kj"]


@pytest.mark.parametrize(
    ("dry_ice", "code", "where"),
    [
        (None, "no-room", "room_m3"),
        ({}, "no-room", "room_m3"),
        ({"room_m3": "0"}, "bad-number", "room_m3"),
        ({"room_m3": "30", "air_changes": "-1"}, "bad-number", "air_changes"),
        ({"room_m3": "30", "to_c": "-50"}, "beyond-method", "to_c"),
        ({"room_m3": "30", "colour": "white"}, "unknown-field", "dry_ice"),
        ({"room_m3": "30", "scale": "desk"}, "unknown-scale", ""),
        ({"room_m3": "30", "scale": "bench"}, "nothing-poured", "bench"),
        ({"room_m3": "30", "scale": "bench", "tare_g": "-1"}, "bad-number", "tare_g"),
        ({"room_m3": "3" * 200}, "bad-text", "room_m3"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_recorded(
    dry_ice: dict[str, str] | None, code: str, where: str
) -> None:
    hand = weighed()
    hand.show("0.0", 15)
    before = len(hand.journal)
    with pytest.raises(OperatorError) as told:
        begin(hand, dry_ice)
    assert told.value.code == code
    assert where in str(told.value)
    assert len(hand.journal) == before


def test_the_cautions_come_before_the_figures() -> None:
    hand = weighed()
    with pytest.raises(OperatorError) as told:
        begin(hand, None, confirmed=NAMES[:-1])
    assert told.value.code == "cautions-not-confirmed"
    assert NAMES[-1] in told.value.message


def test_a_mix_of_which_too_little_is_known_needs_a_charge() -> None:
    with pytest.raises(OperatorError) as told:
        begin(weighed(VAGUE), ROOM)
    assert told.value.code == "not-enough-known"
    assert "charge_g" in told.value.remedy
    hand = weighed(VAGUE)
    figures = begin(hand, {**ROOM, "charge_g": "400"})["dry_ice"]
    assert figures["heat_unknown"] == "not-enough-known"
    assert "heat_kj" not in figures
    assert figures["counted_g"] == "400.0"
    assert float(figures["room"]["peak_ppm"]) > 5000
    verify(hand.journal)


def test_dry_ice_that_wastes_away_is_recorded_as_it_is_at_the_moment_of_use() -> None:
    hand = weighed()
    wastes(hand, 620)  # with a bowl of 120 g
    body = begin(hand, {**ROOM, "scale": "bench", "tare_g": "120"})
    told = body["dry_ice"]["weighed"]
    assert (told["scale"], told["tare_g"]) == ("bench", "120")
    assert float(told["net_g"]) == pytest.approx(500 - 4, abs=0.2)
    assert abs(float(told["rate_g_min"]) - 6) <= 3 * float(told["u_rate_g_min"])
    assert len(told["evidence"]["readings"]) == EVIDENCE
    # It is the charge, and the room is reckoned with it.
    assert float(body["dry_ice"]["counted_g"]) == pytest.approx(496, abs=0.2)
    verify(hand.journal)


def test_a_load_that_was_just_touched_is_not_recorded() -> None:
    hand = weighed()
    wastes(hand, 620, seconds=6)
    with pytest.raises(OperatorError) as told:
        begin(hand, {**ROOM, "scale": "bench"})
    assert told.value.code == "not-settled"


CHANGES: list[tuple[str, Any]] = [
    ("counted_g", "100.0"),
    ("heat_kj", ["1.0", "2.0"]),
    ("charge_g", ["1.0", "2.0"]),
    ("room", {"peak_ppm": "420", "quarter_ppm": "420", "shift_ppm": "420", "above": []}),
]


@pytest.mark.parametrize(("key", "value"), CHANGES, ids=[one[0] for one in CHANGES])
def test_a_figure_that_was_changed_does_not_verify(key: str, value: Any) -> None:
    hand = weighed()
    body = begin(hand, ROOM)
    seq = hand.journal[-1].seq
    changed = {**body["dry_ice"], key: value}
    with pytest.raises(RecordError) as told:
        verify(resealed(hand.journal, {seq: {"dry_ice": changed}}))
    assert f"entry {seq}" in str(told.value)


def test_a_weighing_that_was_changed_does_not_verify() -> None:
    hand = weighed()
    wastes(hand, 620)
    body = begin(hand, {**ROOM, "scale": "bench", "tare_g": "120", "charge_g": "490"})
    seq = hand.journal[-1].seq
    for key, value in (("net_g", "480.00"), ("rate_g_min", "1.00"), ("u_g", "0.90")):
        weighed_out = {**body["dry_ice"]["weighed"], key: value}
        changed = {**body["dry_ice"], "weighed": weighed_out}
        with pytest.raises(RecordError, match=key):
            verify(resealed(hand.journal, {seq: {"dry_ice": changed}}))
    readings = [dict(one) for one in body["dry_ice"]["weighed"]["evidence"]["readings"]]
    readings[3]["grams"] = "700.0"
    evidence = {**body["dry_ice"]["weighed"]["evidence"], "readings": readings}
    changed = {
        **body["dry_ice"],
        "weighed": {**body["dry_ice"]["weighed"], "evidence": evidence},
    }
    with pytest.raises(RecordError) as told:
        verify(resealed(hand.journal, {seq: {"dry_ice": changed}}))
    assert told.value.code == "evidence-differs"


def off(key: str, by: str) -> Callable[[dict[str, Any], Any], None]:
    def change(kept: dict[str, Any], _: Any) -> None:
        kept[key] = str(Decimal(kept[key]) + Decimal(by))

    return change


def first_ones_gone(left: int) -> Callable[[Any, list[Any]], None]:
    def change(_: Any, rows: list[Any]) -> None:
        del rows[:-left]

    return change


def far_away(_: Any, rows: list[dict[str, Any]]) -> None:
    for one in rows[20:]:
        one["t"] = 1e308


@pytest.mark.parametrize(
    ("change", "code", "message"),
    [
        # Floats differ by a last digit from machine to machine.
        (off("u_g", "0.01"), "", ""),
        (off("u_g", "0.02"), "does-not-follow", "The u_g is 0.05, where its readings give 0.03."),
        (off("watched_s", "-0.1"), "", ""),
        (off("watched_s", "-0.2"), "does-not-follow",
         "The watched_s is 39.6, where its readings give 39.8."),
        # Eight displays are enough, but not of two seconds; seven are not looked at.
        (first_ones_gone(8), "does-not-follow", "Its readings are too few to tell a loss."),
        (first_ones_gone(7), "too-little-evidence", "7 readings decide nothing."),
        (far_away, "unreadable-entry", ""),  # no float can reckon with such moments
    ],
)  # fmt: skip
def test_what_was_weighed_out_follows_from_its_readings(
    change: Callable[[dict[str, Any], Any], None], code: str, message: str
) -> None:
    hand = weighed()
    wastes(hand, 620)
    told = copy.deepcopy(begin(hand, {**ROOM, "scale": "bench", "tare_g": "120"})["dry_ice"])
    change(told["weighed"], told["weighed"]["evidence"]["readings"])
    seq = hand.journal[-1].seq
    entries = resealed(hand.journal, {seq: {"dry_ice": told}})
    if not code:
        verify(entries)
        return
    with pytest.raises(RecordError) as caught:
        verify(entries)
    error = caught.value
    assert error.code == code
    assert not message or error.message == message
    place = f"entry {seq} (step begun)" if code == "does-not-follow" else f"entry {seq}"
    assert error.where == ("readings" if code == "too-little-evidence" else place)


def test_a_step_with_dry_ice_cannot_have_begun_without_its_figures() -> None:
    hand = weighed()
    begin(hand, ROOM)
    seq = hand.journal[-1].seq
    entries = resealed(hand.journal, {seq: {"dry_ice": None}})
    with pytest.raises(RecordError, match="has its figures"):
        verify(entries)


def test_a_recording_of_it_replays() -> None:
    """The command goes into a session line and out of it as it was."""
    import json

    from weighd.station.inputs import Command
    from weighd.station.session import Header, header_line, read

    command = Command(1.0, "begin step", step=1, confirmed=NAMES, dry_ice=dict(ROOM))
    text = line(command)
    assert text is not None
    assert json.loads(text)["command"]["dry_ice"] == ROOM
    _, inputs = read([header_line(Header({"bench": {"driver": "test"}})), text], "x")
    assert next(inputs) == command


def test_afterwards_the_share_of_the_cold_that_was_used_is_told() -> None:
    """Asked for with an efficiency and drawn where it was to be drawn, that efficiency comes out;
    drawn warmer, less of the cold went in."""
    from weighd.station.process_picture import draw_steps_of

    shares = []
    for drawn in ("-6", "-5.5"):
        hand = weighed()
        begin(hand, {**ROOM, "efficiency_percent": "55"})
        more: dict[str, Any] = {"step": 1, "by": "Bo", "batch": "test-0001"}
        [batch] = hand.station.off_bench.in_process()
        assert draw_steps_of(batch)[0]["runs"][0]["dry_ice"]["share_percent"] is None
        hand.do("enter temperature", temperature=drawn, **more)
        hand.do("end step", **more)
        over = fold(hand.journal)
        assert over is not None
        told = draw_steps_of(over)[0]["runs"][0]["dry_ice"]
        shares.append(told["share_percent"])
        assert f"{told['share_percent']} % of the cold" in "\n".join(tell_figures(told))
    assert shares[0] == "55"
    assert 40 < float(shares[1]) < 55


@pytest.mark.parametrize("drawn", ["40", "-45"])
def test_of_a_mix_drawn_where_nothing_can_be_reckoned_no_share_is_told(drawn: str) -> None:
    """Warmer than it went in, or colder than what is known of how mixes freeze."""
    hand = weighed()
    begin(hand, ROOM)
    more: dict[str, Any] = {"step": 1, "by": "Bo", "batch": "test-0001"}
    hand.do("enter temperature", temperature=drawn, **more)
    hand.do("end step", **more)
    batch = fold(hand.journal)
    assert batch is not None
    run = batch.process.runs[0]
    assert run.outcome is not None
    assert run.counted
    assert share_of_cold(batch, run) is None


def test_it_is_shown_with_its_portions() -> None:
    from weighd.station.process_picture import draw_process

    hand = weighed()
    wastes(hand, 620)
    begin(hand, {**ROOM, "scale": "bench", "tare_g": "120"})
    [batch] = draw_process(hand.station)["batches"]
    told = batch["steps"][0]["runs"][0]["dry_ice"]
    assert len(told["portions"]) == 10
    assert "evidence" not in told["weighed"]
    assert told["portions"][1]["at_s"] == 30
    lines = "\n".join(tell_figures(told))
    assert "not known: no air changes an hour" in lines
    assert "as it was used: 495.9" in lines
    assert "above twa-8h" in lines
