"""The guide by hand: misread displays, interruptions, ignored cues, bounds, top-ups."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from weighd.domain.metrology import Level
from weighd.domain.pouring import Aim, Cue, Guidance, Guide
from weighd.domain.pouring_habits import LEAD, Habits
from weighd.domain.pouring_learned import FADES, LEVELS, Learned, Prior

D = Decimal("0.1")
LEAD_S = 0.7


def aim(target: str = "300", low: str = "299", ingredient: str = "milk", cook: str = "Ada") -> Aim:
    return Aim(Decimal(target), Decimal(low), D, ingredient, cook)


class Bench:
    """A display played to a guide; a cook who answers each ``stop`` with exactly ``lead_s``."""

    def __init__(self, guide: Guide | None = None, hz: float = 10.0) -> None:
        self.guide = guide or Guide()
        self.hz, self.t, self.grams = hz, 0.0, 0.0
        self.told: list[Guidance] = []

    def show(self, grams: float, *, rest: bool = False) -> Guidance:
        self.t = round(self.t + 1 / self.hz, 6)
        self.grams = grams
        net = round(grams / float(D)) * D
        level = Level(net, Decimal("0.04")) if rest else None
        self.told.append(self.guide.feed(self.t, net, level))
        return self.told[-1]

    def stand(self, seconds: float) -> Guidance:
        for _ in range(round(seconds * self.hz)):
            last = self.show(self.grams, rest=True)
        return last

    def flow(self, rate: float, seconds: float) -> Guidance:
        for _ in range(round(seconds * self.hz)):
            last = self.show(self.grams + rate / self.hz)
        return last

    def pour(self, rate: float = 40.0, lead_s: float = LEAD_S) -> float:
        """Pour until stopped, let the lead pass, come to rest; grams in the end."""
        self.stand(1)
        for _ in range(2000):
            if self.show(self.grams + rate / self.hz).cue is Cue.STOP:
                break
        else:
            raise AssertionError("it never said stop")
        self.flow(rate, lead_s)
        self.stand(2)
        return self.grams


def cues(bench: Bench) -> list[Cue]:
    """The cues in order, each once."""
    told = [one.cue for one in bench.told]
    return [one for k, one in enumerate(told) if k == 0 or told[k - 1] != one]


def taught(lead_s: float = LEAD_S, times: int = 4, *, slow: bool = False) -> Bench:
    """A guide that saw some pours of one cook."""
    bench = Bench(Guide(slow=slow))
    for _ in range(times):
        bench.guide.begin(aim())
        bench.grams = 0.0
        bench.pour(lead_s=lead_s)
    bench.guide.begin(aim())
    bench.grams, bench.told = 0.0, []
    return bench


@pytest.mark.parametrize("lead_s", [0.4, 0.7, 1.2])
def test_the_lead_is_learned(lead_s: float) -> None:
    bench = taught(lead_s, 6)
    assert bench.guide.lead.mean == pytest.approx(lead_s, abs=0.06)
    # Ten readings a second are 4 g apart: half of that is as near as a cue can come.
    assert abs(bench.pour(lead_s=lead_s) - 300) <= 4.5


def test_what_was_learned_is_kept_over_pours_and_forgotten_when_told() -> None:
    bench = taught(1.2)
    assert bench.guide.lead.mean > 1.0
    bench.guide.begin(aim(), forget=True)
    assert bench.guide.lead.mean == LEAD.mean
    assert bench.guide.lead.pours == 0


def test_before_the_first_pour_there_is_nothing_to_pour_for() -> None:
    told = Guide().feed(0.0, Decimal(5))
    assert (told.cue, told.landing_g) == (Cue.STOP, None)


def test_a_pour_goes_from_pour_to_slow_to_stop() -> None:
    bench = taught(slow=True)
    bench.pour()
    assert cues(bench) == [Cue.POUR, Cue.SLOW, Cue.STOP]


def test_little_of_a_fast_ingredient_is_slow_from_the_start() -> None:
    bench = taught(slow=True)
    bench.guide.begin(aim("30", "29"))
    assert bench.stand(1).cue is Cue.SLOW
    bench.guide.begin(aim("30", "29", "salt"))  # nothing is known of how salt flows
    assert bench.stand(1).cue is Cue.POUR


# --- one reading decides nothing ------------------------------------------------------------------


@given(
    at=st.integers(0, 45),
    wrong=st.one_of(st.floats(-5000, 5000), st.sampled_from([299.0, 300.0, 301.0, 900.0, 0.0])),
)
def test_one_misread_display_stops_nothing(at: int, wrong: float) -> None:
    """Two seconds of standing and a stream; one display anywhere in it is misread."""
    bench = taught(times=1)
    for k in range(46):
        grams = max(0.0, (k - 20) * 4.0)
        told = bench.show(wrong if k == at else grams)
        assert told.cue is Cue.POUR, (k, told)


def test_a_lump_is_believed_at_its_second_reading() -> None:
    bench = taught()
    bench.stand(1)
    assert bench.show(302.0).cue is Cue.POUR
    assert bench.show(302.0).cue is Cue.STOP


def test_a_stream_is_followed_again_after_a_silence_of_the_scale() -> None:
    bench = taught()
    bench.stand(1)
    bench.flow(40, 3)
    bench.t += 3
    bench.grams += 120
    told = bench.flow(40, 0.9)
    assert told.landing_g is not None
    assert abs(float(told.landing_g) - bench.grams - 40 * LEAD_S) < 8
    assert bench.flow(40, 0.3).cue is Cue.STOP


def test_a_reading_without_a_number_changes_no_cue() -> None:
    bench = taught()
    bench.stand(1)
    bench.flow(40, 3)
    for over in (False, True, False, True):
        told = bench.guide.feed(bench.t + 0.05, None, over=over)
        assert (told.cue, told.landing_g, told.sigma_g) == (Cue.POUR, None, None)
    told = bench.guide.feed(bench.t + 0.1, None, over=True)
    assert told.cue is Cue.STOP


# --- what teaches nothing, or little --------------------------------------------------------------


def test_a_cue_that_was_ignored_moves_the_lead_little() -> None:
    bench = taught(LEAD_S, 6)
    before = bench.guide.lead.mean
    bench.pour(lead_s=6.0)
    bench.guide.begin(aim())
    assert bench.guide.lead.mean == pytest.approx(before, abs=0.01)
    bench.grams = 0.0
    bench.pour(lead_s=1.9)
    bench.guide.begin(aim())
    assert bench.guide.lead.mean == pytest.approx(before, abs=0.1)


def test_a_pour_that_was_interrupted_by_the_next_teaches_nothing() -> None:
    bench = taught(LEAD_S, 3)
    before = bench.guide.lead
    bench.stand(1)
    while bench.flow(40, 0.1).cue is not Cue.STOP:
        pass
    bench.guide.begin(aim())
    assert bench.guide.lead == before


def test_a_pour_at_rest_when_the_next_begins_teaches() -> None:
    bench = taught(LEAD_S, 2)
    before = bench.guide.lead.pours
    bench.stand(1)
    while bench.flow(40, 0.1).cue is not Cue.STOP:
        pass
    bench.flow(40, 0.7)
    for _ in range(25):
        bench.show(bench.grams)  # nobody claims that it is at rest
    bench.guide.begin(aim())
    assert bench.guide.lead.pours > before + 0.8


# --- short --------------------------------------------------------------------------------------


def test_stop_stands_until_the_load_rests_clearly_short() -> None:
    bench = taught(slow=True)
    bench.stand(1)
    bench.flow(40, 4)
    while bench.flow(40, 0.1).cue is not Cue.STOP:
        pass
    assert bench.stand(0.9).cue is Cue.STOP
    # The cook let go at once: about 28 g are missing.
    assert bench.stand(0.5).cue is Cue.SLOW
    bench.flow(10, 5)
    assert bench.told[-1].cue is Cue.STOP


def test_short_by_less_than_a_hand_can_pour_is_left_to_the_verdict() -> None:
    bench = taught(slow=True)
    bench.stand(1)
    bench.flow(40, 4)
    while bench.flow(40, 0.1).cue is not Cue.STOP:
        pass
    bench.show(298.0)
    bench.show(298.0)
    assert bench.stand(5).cue is Cue.STOP


def test_enough_at_rest_is_stop_and_nothing_at_all_is_not() -> None:
    bench = taught()
    bench.stand(1)
    bench.show(299.4)
    bench.show(299.4)
    assert bench.stand(0.1).cue is Cue.STOP
    bench.guide.begin(aim("2", "-1"))  # any amount would be within this tolerance
    bench.grams = 0.0
    assert bench.stand(3).cue is Cue.POUR


# --- laws --------------------------------------------------------------------------------------

ROWS = st.lists(
    st.tuples(
        st.floats(0.0, 3.0),
        st.one_of(st.none(), st.floats(-500, 1500), st.sampled_from([1e9, -1e9, 0.0])),
        st.booleans(),
        st.booleans(),
    ),
    max_size=60,
)


@given(rows=ROWS, target=st.sampled_from(["0.1", "5", "300", "1000000"]), slow=st.booleans())
def test_any_displays_at_all_give_one_sound_answer_each(
    rows: list[tuple[float, float | None, bool, bool]], target: str, slow: bool
) -> None:
    guide, t, before = Guide(slow=slow), 0.0, Cue.POUR
    guide.begin(aim(target, "0"))
    for gap, grams, rest, over in rows:
        t += gap
        net = None if grams is None else Decimal(str(round(grams, 1)))
        level = Level(net, Decimal("0.04")) if rest and net is not None else None
        told = guide.feed(t, net, level, over=over)
        assert told.t == t
        assert (told.landing_g is None) == (net is None)
        if told.landing_g is not None:
            assert told.landing_g.is_finite()
            assert told.sigma_g is not None
            assert 0 <= told.sigma_g < Decimal(10) ** 12
        if before is Cue.STOP and told.cue is not Cue.STOP:
            assert rest  # only a load at rest unlatches a stop
        if not slow:
            assert told.cue is not Cue.SLOW
        before = told.cue
    assert LEAD.low <= guide.lead.mean <= LEAD.high


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["Ada", "Ben", ""]),
            st.sampled_from(["milk", "sugar"]),
            st.one_of(st.floats(-1e6, 1e6), st.just(math.nan), st.just(math.inf)),
            st.floats(0.01, 1.0),
        ),
        max_size=60,
    )
)
def test_nothing_learned_ever_leaves_its_bounds(
    seen: list[tuple[str, str, float, float]],
) -> None:
    learned = Learned(LEAD)
    for cook, ingredient, value, weight in seen:
        learned.saw(cook, ingredient, value, weight)
        for who in ("Ada", "Ben", "somebody else"):
            for what in ("milk", "sugar", "something else"):
                belief = learned.belief(who, what)
                assert LEAD.low <= belief.mean <= LEAD.high
                assert 0 < belief.known <= 2 * LEAD.spread
                assert 0 < belief.noise < 1
                assert belief.pours <= FADES + 1


def test_what_is_learned_is_shared_upwards_and_bounded_in_number() -> None:
    learned = Learned(Prior(0.5, 0.2, 0.1, 0.1, 2.0))
    for k in range(500):
        learned.saw(f"cook {k}", f"stuff {k}", 1.0)
    assert len(learned) <= LEVELS
    assert learned.belief("a new cook", "something new").mean > 0.9


def test_habits_of_another_are_not_mine() -> None:
    habits = Habits()
    for _ in range(5):
        habits.of("Ben", "milk")
        habits.took(0.5, 1.0)
        habits.of("Ada", "milk")
        habits.took(1.1, 1.0)
    assert habits.lead.mean > 0.95
    habits.of("Ben", "milk")
    assert habits.lead.mean < 0.65


@pytest.mark.parametrize("wrong", [{"target": "0"}, {"target": "-1"}, {"target": "1e12"}])
def test_a_target_that_is_none_is_refused(wrong: dict[str, str]) -> None:
    with pytest.raises(ValueError, match="target"):
        aim(**wrong)
