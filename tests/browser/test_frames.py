"""The recorded frames against the real projections, so that page and station cannot drift apart."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import pytest

from tests.browser.fake_daemon import FRAMES, frame, picture
from tests.station.scripted import Hand
from weighd.domain.addition import Do, Phase
from weighd.domain.batch import Cause
from weighd.domain.metrology import Verdict
from weighd.domain.pouring import Cue
from weighd.domain.settling import Finding
from weighd.station.picture import Picture
from weighd_drivers import hid_layout, layout

SNAPSHOTS = sorted(
    path.stem for path in FRAMES.glob("*.json") if frame(path.stem).get("kind") == "snapshot"
)


def keys(value: Mapping[str, Any]) -> set[str]:
    return set(value)


@pytest.fixture(scope="module")
def hand() -> Hand:
    """A real station: a batch started, a vessel tared, the first addition poured and accepted."""
    hand = Hand()
    hand.start()
    hand.show("250")
    hand.do("tare")
    hand.pour("750")
    hand.do("accept")
    return hand


@pytest.fixture(scope="module")
def real(hand: Hand) -> dict[str, Any]:
    return Picture(hand.station, boot="b", simulation=True).state()


@pytest.mark.parametrize("name", SNAPSHOTS)
def test_a_recorded_picture_has_the_keys_of_a_real_one(name: str, real: dict[str, Any]) -> None:
    state = picture(name)
    assert keys(state) == keys(real)
    assert keys(state["station"]) == keys(real["station"])
    assert keys(state["station"]["store"]) == keys(real["station"]["store"])
    for scale in state["scales"].values():
        assert keys(scale) == keys(real["scales"]["bench"])
        if scale["reading"]:
            assert keys(scale["reading"]) == keys(real["scales"]["bench"]["reading"])
    if state["batch"]:
        assert keys(state["batch"]) == keys(real["batch"])
        for addition in state["batch"]["additions"]:
            assert keys(addition) == keys(real["batch"]["additions"][0])
    if state["live"]:
        assert keys(state["live"]) == keys(real["live"])
        if state["live"]["cue"]:
            assert keys(state["live"]["cue"]) == {"cue", "landing_g", "sigma_g"}


@pytest.mark.parametrize("name", SNAPSHOTS)
def test_a_recorded_picture_uses_the_words_of_the_domain(name: str) -> None:
    live = picture(name)["live"]
    if live is None:
        return
    assert live["phase"] in set(Phase)
    assert live["verdict"] is None or live["verdict"] in set(Verdict)
    assert live["cue"] is None or live["cue"]["cue"] in set(Cue)
    assert set(live["can"]) <= {*Do, "accept with reason"}
    if live["held"]:
        assert live["held"]["cause"] in set(Cause)
        assert keys(live["held"]) == {"cause", "since", "sum_g"}


def test_every_cause_of_a_hold_is_among_the_recorded_pictures() -> None:
    shown = {
        held["cause"]
        for name in SNAPSHOTS
        if (live := picture(name)["live"]) and (held := live["held"])
    }
    # Short is held only after a press on "accept"; its panel is that of over with another word.
    assert shown == set(Cause) - {Cause.SHORT}


def test_whatever_disturbs_a_scale_has_words_on_the_page() -> None:
    """Disturbances as the detector documents them, and why a driver gives no number."""
    words = (FRAMES.parents[1] / "web/src/core/scales.ts").read_text("utf-8")
    said = re.search(r"const disturbed[^{]*\{(.*?)\n\};", words, re.DOTALL)
    assert said
    known = set(re.findall(r'^\s*"?([a-z ]+)"?:', said[1], re.MULTILINE))
    detector = set(re.findall(r'``"([a-z ]+)"``', Finding.__doc__ or ""))
    assert len(detector) >= 6
    assert detector | {*hid_layout.NO_NUMBER.values(), *layout._NO_NUMBER} - {"over"} <= known


def test_an_accepted_addition_is_recorded_with_the_keys_of_a_real_one(hand: Hand) -> None:
    def accepted(entries: list[dict[str, Any]]) -> Mapping[str, Any]:
        return next(one["body"] for one in entries if one["kind"] == "addition accepted")

    mine = accepted(frame("record")["entries"])
    its = accepted([one.as_json() for one in hand.journal])
    assert keys(its) - keys(mine) <= {"key"}
    assert keys(mine) <= keys(its) | {"key"}
    assert keys(mine["evidence"]) == keys(its["evidence"])
    assert keys(mine["evidence"]["gross"][0]) == keys(its["evidence"]["gross"][0])
