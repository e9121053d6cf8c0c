"""The simulated cook gets batches done, whatever is done to the scale, in virtual time."""

from __future__ import annotations

import pytest

from tests.drivers.kitchen import FORMULA, Kitchen
from weighd_drivers.sim_habits import Pour, Press, Say, Take, Tap, ZeroKey
from weighd_drivers.sim_parameters import BenchParameters


@pytest.mark.parametrize("seed", range(20))
def test_a_batch_of_five_additions_is_finished(seed: int) -> None:
    kitchen = Kitchen(seed)
    kitchen.run()
    station = kitchen.station
    assert [verdict for _, verdict, _ in station.accepted] == ["on target"] * 5
    for (net, _, reason), (target, tolerance) in zip(station.accepted, FORMULA, strict=True):
        assert abs(net - target) <= tolerance
        assert reason == ""
    assert len(station.lots) == 5
    assert 40 < kitchen.t < 200
    seen = kitchen.bench.picture()
    # What the station believes is in the vessel is in it.
    assert seen["contents_g"] == pytest.approx(sum(net for net, *_ in station.accepted), abs=1.0)


def test_the_same_seed_gives_the_same_evening() -> None:
    first, second, other = Kitchen(3), Kitchen(3), Kitchen(4)
    for kitchen in (first, second, other):
        kitchen.run()
    assert first.done == second.done
    assert first.done != other.done


def test_large_additions_are_poured_and_small_ones_tapped() -> None:
    kitchen = Kitchen(2)
    kitchen.run(lambda: kitchen.station.n == 2)
    flows = [action.g_per_s for _, action in kitchen.done if isinstance(action, Pour)]
    assert max(flows) >= 60
    assert flows[-1] == 0
    kitchen.run(lambda: kitchen.station.n == 4)
    kitchen.done.clear()
    kitchen.run()
    acts = [action for _, action in kitchen.done]
    assert any(isinstance(action, Tap) for action in acts)
    assert not any(isinstance(action, Pour) for action in acts)


def test_an_over_pour_is_taken_out_after_saying_so() -> None:
    kitchen = Kitchen(5)
    kitchen.run(lambda: kitchen.station.n == 2 and kitchen.cook.pouring)
    kitchen.bench.tap(380.0)
    kitchen.run()
    acts = [action for _, action in kitchen.done]
    first = next(action for action in acts if isinstance(action, Take))
    pressed = [action.do for action in acts[: acts.index(first)] if isinstance(action, Press)]
    assert pressed[-1] == "take out"
    assert kitchen.station.accepted[1][1] == "on target"


def test_held_short_by_somebody_else_it_is_topped_up() -> None:
    kitchen = Kitchen(6)
    kitchen.run(lambda: kitchen.station.n == 2)
    kitchen.cook.working = False
    kitchen.bench.pour(50)
    kitchen.wait(2)
    kitchen.bench.stop()
    kitchen.wait(3)
    kitchen.station.held = {"cause": "short", "since": "0"}
    kitchen.cook.working = True
    kitchen.run()
    pressed = [action.do for _, action in kitchen.done if isinstance(action, Press)]
    assert "top up" in pressed
    assert kitchen.station.accepted[1][1] == "on target"


def test_what_cannot_be_called_is_accepted_with_a_reason() -> None:
    kitchen = Kitchen(1, formula=((50.0, 1.0), (2.0, 0.05)))
    kitchen.run()
    net, verdict, reason = kitchen.station.accepted[1]
    assert verdict != "on target"
    assert reason
    assert abs(net - 2.0) < 0.5


@pytest.mark.parametrize("zero", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_the_cable_is_pulled_in_the_middle_of_a_pour(seed: int, zero: bool) -> None:
    kitchen = Kitchen(seed)
    kitchen.run(lambda: (kitchen.station.net or 0) > 400)
    kitchen.bench.unplug()
    kitchen.wait(60)
    assert not kitchen.cook.pouring
    assert kitchen.said == ["Waiting: scale lost."]
    before = len(kitchen.done)
    kitchen.wait(60)
    assert len(kitchen.done) == before  # a cook can wait
    kitchen.bench.plug(zero=zero)
    kitchen.run()
    assert len(kitchen.station.accepted) == 5
    # What still ran in after the display went dark is counted, not denied.
    assert not [a for _, a in kitchen.done if isinstance(a, Press) and a.do == "resume"]
    assert bool([a for _, a in kitchen.done if isinstance(a, ZeroKey)]) is zero
    total = sum(net for net, *_ in kitchen.station.accepted)
    assert kitchen.bench.picture()["contents_g"] == pytest.approx(total, abs=1.0)


def test_with_nothing_on_its_way_a_scale_at_zero_is_resumed() -> None:
    kitchen = Kitchen(1)
    kitchen.run(lambda: kitchen.station.n == 2)
    kitchen.bench.unplug()
    kitchen.wait(5)
    kitchen.bench.plug(zero=True)
    kitchen.run()
    assert [a for _, a in kitchen.done if isinstance(a, Press) and a.do == "resume"]
    assert len(kitchen.station.accepted) == 5


@pytest.mark.parametrize("eyes", [True, False])
def test_a_lifted_vessel_is_put_back(eyes: bool) -> None:
    kitchen = Kitchen(8)
    kitchen.run(lambda: kitchen.station.n == 2 and (kitchen.station.net or 0) > 100)
    kitchen.bench.lift()
    kitchen.run(eyes=eyes)
    assert len(kitchen.station.accepted) == 5
    if eyes:  # what ran onto the bare pan was wiped away
        total = sum(net for net, *_ in kitchen.station.accepted)
        assert kitchen.bench.picture()["contents_g"] == pytest.approx(total, abs=1.0)


def test_switched_off_the_jug_is_put_down_and_a_person_may_work() -> None:
    kitchen = Kitchen(9)
    kitchen.run(lambda: kitchen.cook.pouring)
    kitchen.wait(1)
    kitchen.cook.working = False
    kitchen.wait(0.1)
    assert kitchen.bench.picture()["pour_g_s"] == 0
    kitchen.done.clear()
    kitchen.bench.pour(30)
    kitchen.wait(4)
    kitchen.bench.stop()
    kitchen.wait(120)
    assert kitchen.done == []
    kitchen.cook.working = True
    kitchen.run()
    assert [verdict for _, verdict, _ in kitchen.station.accepted] == ["on target"] * 5


def test_an_empty_jug_is_noticed_and_the_pour_begun_again() -> None:
    kitchen = Kitchen(10)
    kitchen.run(lambda: kitchen.cook.pouring)
    kitchen.bench.stop()  # whatever the cook believes, nothing flows
    kitchen.run()
    assert any("Nothing moves" in text for text in kitchen.said)
    assert len(kitchen.station.accepted) == 5


@pytest.mark.parametrize(
    ("parameters", "every"),
    [
        (BenchParameters(rate_hz=2.0, filter_s=1.0, delay_s=0.3), 0.03),
        (BenchParameters(rate_hz=80.0, noise_g=0.05), 0.03),
        (BenchParameters(gurgle=0.8, drops=6.0, drop_g=0.2), 0.03),
        (BenchParameters(), 0.4),
    ],
)
@pytest.mark.parametrize("seed", range(3))
def test_other_scales_and_a_slower_look(
    seed: int, parameters: BenchParameters, every: float
) -> None:
    kitchen = Kitchen(seed, parameters)
    kitchen.run(every=every)
    assert len(kitchen.station.accepted) == 5
    assert all(verdict == "on target" for _, verdict, _ in kitchen.station.accepted[:3])


def test_knocks_and_hands_do_not_stop_the_work() -> None:
    kitchen = Kitchen(11)
    for n in range(40):
        if kitchen.station.status == "closed":
            break
        if n % 3:
            kitchen.bench.bump(2)
        else:
            kitchen.bench.rest_hand(120, 2)
        end = kitchen.t + 4
        kitchen.run(lambda end=end: kitchen.t > end or kitchen.station.status == "closed")  # type: ignore[misc]
    kitchen.run()
    assert len(kitchen.station.accepted) == 5


@pytest.mark.parametrize("seed", range(12, 16))
def test_the_cook_learns_how_far_behind_the_display_is(seed: int) -> None:
    slow = BenchParameters(rate_hz=5.0, filter_s=1.5, delay_s=0.5)
    kitchen = Kitchen(seed, slow, formula=((300.0, 6.0),) * 6)
    kitchen.run()
    takes = [t for t, action in kitchen.done if isinstance(action, Take)]
    accepts = [t for t, a in kitchen.done if isinstance(a, Press) and a.do == "accept"]
    assert any(t < accepts[0] for t in takes)
    assert not any(t > accepts[4] for t in takes)


def test_nothing_is_said_without_need() -> None:
    kitchen = Kitchen(0)
    kitchen.run()
    assert not [action for _, action in kitchen.done if isinstance(action, Say)]
    assert kitchen.station.refusals == []
