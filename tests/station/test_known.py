"""What was learned of a scale: read back whatever version wrote it, used, shown and forgotten."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, fields, replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.station.scripted import Hand, LineDecoder
from weighd.domain.errors import OperatorError, SessionError
from weighd.domain.settling import Settling
from weighd.domain.settling_learned import Learned
from weighd.station.keeping import Keeper, News
from weighd.station.known import Known, identity, known_of, learned_of, told
from weighd.station.picture import Picture
from weighd.station.scale import ScaleState, Setup
from weighd.station.session import Header, header_line, read

D = Decimal("0.1")
UNSTEADY = replace(Learned(), spread_d=6.0, looks=30, response_s=0.8)


def known(learned: Learned = UNSTEADY, interval: str = "0.1") -> Known:
    return Known(Decimal(interval), learned, "2026-03-01T08:00:00.000Z")


# --- read back --------------------------------------------------------------------------------


def test_it_comes_back_from_json_exactly() -> None:
    one = known(replace(UNSTEADY, spread_d=1 / 3, period_s=0.1 + 0.2))
    assert known_of(json.loads(json.dumps(one.as_json()))) == one


def test_values_of_a_newer_or_an_older_detector_are_passed_over() -> None:
    row = {**asdict(UNSTEADY), "something_new": 3.0}
    del row["response_s"]
    assert learned_of(row) == replace(UNSTEADY, response_s=Learned().response_s)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0, 1e9, "0.1", None, True, [], {}])
def test_a_value_that_cannot_be_is_as_at_first(bad: Any) -> None:
    assert learned_of({**asdict(UNSTEADY), "spread_d": bad}).spread_d == Learned().spread_d
    assert learned_of({**asdict(UNSTEADY), "period_s": 0}).period_s == Learned().period_s


@given(
    st.dictionaries(
        st.sampled_from([one.name for one in fields(Learned)]),
        st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=3),
    )
)
def test_whatever_stands_there_makes_a_detector_that_works(values: dict[str, Any]) -> None:
    hand = Hand(known=Known(D, learned_of(values)))
    hand.start()
    hand.show("312.4", 6.0)
    assert hand.station.scales["bench"].finding is not None
    assert told(Known(D, learned_of(values)))["noise_g"]


@pytest.mark.parametrize("row", [None, [], "x", {}, {"interval_g": "0.1"}, {"values": {}}])
def test_what_is_no_knowledge_is_none(row: Any) -> None:
    assert known_of(row) is None


def test_another_way_to_reach_it_is_another_scale() -> None:
    one = identity("serial", {"port": "/dev/a", "baud": 9600})
    assert one == identity("serial", {"baud": 9600, "port": "/dev/a"})
    assert one != identity("serial", {"port": "/dev/b", "baud": 9600})
    assert one != identity("usb", {"port": "/dev/a", "baud": 9600})


# --- used -------------------------------------------------------------------------------------


def test_a_scale_begins_with_what_is_known_of_it() -> None:
    scale = ScaleState(Setup("bench", "test", LineDecoder(), D, known=known()))
    assert scale.known() == known()
    assert scale.noise_g == Settling(D, UNSTEADY).noise_g > Settling(D).noise_g


def test_knowledge_of_another_interval_is_left_alone() -> None:
    scale = ScaleState(Setup("bench", "test", LineDecoder(), Decimal("0.2"), known=known()))
    assert scale.known() is None
    later = ScaleState(Setup("bench", "test", LineDecoder(), known=known()))
    later.found("a scale", {"interval_g": "0.1"})
    assert later.known() == known()


def trembling(hand: Hand, seconds: float = 4.0) -> None:
    for n in range(round(seconds * 10)):
        hand.raw(b"%d.%d\n" % (500, n * 7 % 5))


def test_it_is_shown_and_forgotten_but_not_under_a_batch() -> None:
    hand = Hand(known=known())
    shown = Picture(hand.station).state()["scales"]["bench"]["learned"]
    assert shown["since"] == "2026-03-01T08:00:00.000Z"
    assert (shown["response_s"], shown["looks"]) == ("0.80", 30)
    hand.start()
    with pytest.raises(OperatorError) as caught:
        hand.do("forget scale", scale="bench")
    assert caught.value.code == "scale-in-use"
    hand.do("abandon", reason="a trial")
    with pytest.raises(OperatorError) as caught:
        hand.do("forget scale", scale="cellar")
    assert caught.value.code == "unknown-scale"
    hand.do("forget scale", scale="bench")
    assert Picture(hand.station).state()["scales"]["bench"]["learned"] is None
    trembling(hand)
    again = Picture(hand.station).state()["scales"]["bench"]["learned"]
    assert again["since"] is None
    assert again["looks"] > 0


def test_what_people_read_of_a_flag() -> None:
    fresh = Learned()
    seen = replace(
        fresh,
        flag_moving=fresh.flag_moving + 50,
        flag_up_moving=fresh.flag_up_moving + 12,
    )
    assert told(known(seen))["flag_wrong"] == "0.24"
    assert told(known(fresh))["flag_wrong"] is None


# --- kept -------------------------------------------------------------------------------------


class Store:
    def __init__(self) -> None:
        self.kept: list[News] = []

    def keep(self, news: News, at: str) -> None:
        self.kept.append(news)

    def forget(self, scale: str) -> bool:
        return True


def test_only_news_is_kept_and_it_says_since_when() -> None:
    hand, store = Hand(), Store()
    keeper = Keeper(store, {"bench": "a scale"})
    assert keeper.news(hand.station) == {}
    trembling(hand)
    news = keeper.news(hand.station)
    keeper.keep(news, hand.station.at())
    ((which, first),) = store.kept[0].values()
    assert which == "a scale"
    assert first.since == hand.station.at()
    assert keeper.news(hand.station) == {}, "nothing came since"
    trembling(hand)
    later = keeper.news(hand.station)["bench"][1]
    assert later.since == first.since
    assert later.learned != first.learned
    assert hand.station.finished == 0
    hand.start()
    hand.do("abandon", reason="a trial")
    assert hand.station.finished == 1


# --- recorded ---------------------------------------------------------------------------------


def test_a_session_carries_what_was_known_when_it_began() -> None:
    header = Header({"bench": {"driver": "test"}}, learned={"bench": known()})
    assert read([header_line(header)])[0].learned == {"bench": known()}
    assert "learned" not in Header({"bench": {"driver": "test"}}).as_json()
    row = {**header.as_json(), "learned": {"bench": {"interval_g": "much"}}}
    with pytest.raises(SessionError, match="bench"):
        read([json.dumps(row)])


def test_readings_that_come_in_one_piece_tell_no_rate() -> None:
    """Their period goes to nothing, and one over it is no number."""
    known = Known(Decimal("0.1"), replace(Learned(), period_s=5e-324))
    assert told(known, 0.0)["readings_per_s"] is None
