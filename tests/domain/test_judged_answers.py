"""Steps judged and losses told, case by case: every figure kept as it is.

``fixtures/tables/judged.txt`` has them; what they should be is checked in ``test_process*`` and
``test_sublimation``. ``python -m tests.domain.test_judged_answers`` writes the file anew.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from decimal import Decimal
from functools import partial
from typing import Any

from tests.domain.answering import answer, shown
from tests.domain.kept import Kept
from tests.domain.process_world import DRY_ICE, World, formula, one
from tests.domain.test_reckoned import figures
from weighd.domain.dry_ice import read_asked, reckon
from weighd.domain.dry_ice_record import as_text, begun, share_of_cold, weighed_out
from weighd.domain.moments import milliseconds, read_moment, seconds_between
from weighd.domain.process import limits_in_words, step_of_content
from weighd.domain.process_judge import judge, so_far
from weighd.domain.process_writing import steps_toml
from weighd.domain.sublimation import LossWatch, waste, weigh_out

KEPT = Kept("judged.txt")
D = Decimal
STEPS = {
    "cool": 'kind = "cool"\ntemperature = "at most 4 °C"\ntime = "within 90 min"',
    "cool, any time": 'kind = "cool"\ntemperature = "at most 4 °C"',
    "age": 'kind = "age"\ntemperature = "1 to 4 °C"\ntime = "4 h to 24 h"',
    "age only": 'kind = "age"\ntime = "at least 4 h"',
    "mix": 'kind = "mix"\ntime = "2 min to 5 min"',
    "harden": 'kind = "harden"\ntemperature = "at most -18 °C"\ntime = "within 12 h"',
    "temper": 'kind = "temper"\ntemperature = "-14 to -11 °C"',
    "heat": 'kind = "heat-treat"\ntable = "us-frozen-dessert-mix"',
    "fill": 'kind = "fill"',
}
#: Temperatures by the minute at which they were measured (and for how long before, in minutes).
COURSES: dict[str, tuple[tuple[float, str, str], ...]] = {
    "nothing measured": (),
    "cold at once": ((1, "3 °C", ""),),
    "at the limit": ((89.9, "4 °C", ""),),
    "a little late": ((90.1, "4 °C", ""),),
    "warm": ((30, "4.1 °C", ""),),
    "too cold": ((30, "0.9 °C", ""), (60, "2 °C", "")),
    "cold, then warm": ((30, "3 °C", ""), (60, "5 °C", "")),
    "hard": ((100, "-18 °C", ""),),
    "tempered": ((30, "-14 °C", ""), (40, "-11 °C", "")),
    "hot": ((10, "69 °C", ""), (41, "70 °C", "")),
    "hot enough for less": ((10, "155 °F", ""), (39.9, "155 °F", "")),
    "hot just long enough": ((10, "155 °F", ""), (40, "155 °F", "")),
    "very hot": ((10, "180 °F", ""), (10.25, "180 °F", "")),
    "said to be held": ((40, "68.5 °C", "30 min"),),
    "dropped between": ((5, "70 °C", ""), (20, "60 °C", ""), (40, "70 °C", "")),
}
ENDS = (1, 2, 5, 5.1, 90, 239.9, 240, 1440, 1440.1)


def judged() -> Iterator[tuple[str, str]]:
    for name, text in STEPS.items():
        for course, values in COURSES.items():
            world = one(text)
            last = 0.0
            for minute, value, held in values:
                world.wait(minute - last)
                world.enter(value, **({"held": held} if held else {}))
                last = minute
            assert world.batch is not None
            step, run = world.batch.steps[0], world.run
            begun_at = milliseconds(run.begun)
            for end in ENDS:
                if end < last:
                    continue
                at = world.at(end - last)
                assert milliseconds(at) - begun_at == round(end * 60_000)
                made = json.dumps(judge(step, run, at).as_json(), ensure_ascii=False)
                coming = ", ".join(map(str, so_far(step, run, at)))
                yield f"{name} | {course} | {made} so far {coming}", f"{end:g} min"
            failed = judge(step, run, world.at(5000), "lumpy").as_json()
            told = json.dumps(failed, ensure_ascii=False)
            yield f"{name} | {course} | {told}", "failed in the end"
    for it in formula().steps:
        yield f"in words | {limits_in_words(it)}", it.name
        assert step_of_content(it.content()) == it
        yield f"written | {' / '.join(steps_toml([it]))}", it.name


def losses() -> Iterator[tuple[str, str]]:
    rng = random.Random(5)
    steady = [(k / 2, D(5000 - k) / 10) for k in range(80)]
    still = [(k / 2, D("400.0")) for k in range(80)]
    rough = [(k / 2, D(f"{500 - k / 20 + rng.gauss(0, 0.2):.1f}")) for k in range(80)]
    for name, points in (("steady", steady), ("still", still), ("rough", rough)):
        for count in (5, 9, 10, 11, 20, 40, 80):
            yield f"loss of {name} | {figures(waste(points[:count], D('0.1')))}", str(count)
        seen = waste(points, D("0.1"))
        assert seen is not None
        for wanted, wait in (
            (400, 0),
            (400, 60),
            (800, 60),
            (100, 300),
            (400, 4000),
            (0, 1),
            (1, -1),
        ):
            told = answer(partial(weigh_out, seen, float(wanted), float(wait)), figures)
            yield f"weigh out of {name} | {told}", f"{wanted} g in {wait} s"
        for wait_s in (0.0, 30.0, 600.0):
            yield f"later, of {name} | {figures(seen.at(seen.t + wait_s))}", f"{wait_s} s"
        watch = LossWatch(D("0.1"))
        for k, (t, grams) in enumerate(points):
            watch.feed(t, grams)
            if k in (5, 20, 40):
                yield f"watched {name} | {figures(watch.waste())}", str(k)
        watch.feed(40.5, D(900))
        yield f"watched {name} | {figures(watch.waste())}", "once another"
        watch.feed(41, D(900))
        watch.feed(41.5, D(900))
        yield f"watched {name} | {figures(watch.waste())}", "another load"
        out = partial(weighed_out, "fine", D("0.1"), points, D(100), {"readings": []})
        yield f"weighed out {name} | {answer(out, json.dumps)}", "whole"
        short = partial(weighed_out, "fine", D("0.1"), points[:4], D(100), {})
        yield f"weighed out {name} | {answer(short, json.dumps)}", "too short"
        more = partial(weighed_out, "fine", D("0.1"), points, D(600), {})
        yield f"weighed out {name} | {answer(more, json.dumps)}", "nothing there"


def cold() -> Iterator[tuple[str, str]]:
    world = World().finished()
    assert world.batch is not None
    batch, runs = world.batch, world.batch.process.runs
    for run in runs:
        told = "none" if run.dry_ice is None else json.dumps(run.dry_ice, ensure_ascii=False)
        yield f"dry ice | {told} share {share_of_cold(batch, run)}", str(run.step)
    weighed = {"net_g": "412.34", "scale": "fine"}
    for given in (
        None,
        {"asked": {"room_m3": "30"}},
        {"asked": {"room_m3": "30", "charge_g": "400"}},
        {"asked": {"room_m3": "30"}, "weighed": weighed},
        {"asked": {"room_m3": "0.5", "charge_g": "400"}, "weighed": weighed},
        {"asked": {"room_m3": "30", "charge_g": "400", "to_c": "9"}},
    ):
        for step in batch.steps[3:5]:
            made = partial(begun, batch, step, given)
            yield f"begun | {answer(made, json.dumps)}", f"{step.kind} {json.dumps(given)}"
    asked = read_asked({"room_m3": "30", "air_changes": "2", "vessel_of": "copper"})
    yield f"as text | {json.dumps(as_text(asked))}", "ventilated"
    yield f"as text | {json.dumps(as_text(read_asked({'room_m3': '30'})))}", "not said"
    yield f"reckoned | {answer(partial(reckon, [], asked))}", "of nothing"
    assert DRY_ICE


def moments() -> Iterator[tuple[str, str]]:
    at = "2026-02-28T23:59:59.500Z"
    for other in (
        *("2026-03-01T00:00:00.499Z", "2026-03-01T00:00:00.500Z", "2024-02-29T12:00:00Z"),
        *("2026-02-28T23:59:60Z", "2026-13-01T00:00:00Z", "2026-00-01T00:00:00Z", "x"),
        *(
            "2026-01-32T00:00:00Z",
            "2026-01-01T24:00:00Z",
            "2026-01-01T23:60:00Z",
            "2000-03-01T00:00:00Z",
        ),
        *(
            "2026-01-01T00:00:61Z",
            "1970-01-01T00:00:00Z",
            "1969-12-31T00:00:00Z",
            "9000-01-01T00:00:00Z",
        ),
        *("2026-02-30T00:00:00Z", "2026-03-01T00:00:00.1234567Z", "2026-03-01T00:00:00,5Z"),
    ):
        yield f"between | {answer(partial(seconds_between, at, other))}", other
        yield f"moment | {answer(partial(read_moment, other))}", other
        yield f"ms | {answer(partial(milliseconds, other))}", other


def lines() -> list[str]:
    """The file: what comes of the same in one line."""
    alike: dict[str, list[str]] = {}
    for part in (judged, losses, cold, moments):
        for said, done in part():
            alike.setdefault(said, []).append(done)
    return [f"{said} <- {' ~ '.join(done)}" for said, done in alike.items()]


def test_steps_and_losses_are_told_as_they_were() -> None:
    assert KEPT.beside(lines()) == ([], [])


def test_what_is_shown_is_told_from_what_is_not() -> None:
    values: list[Any] = [D("1.0"), D("1.00"), None, "1.0", (1,), [1, 2]]
    assert len({shown(one) for one in values}) == len(values)


if __name__ == "__main__":
    KEPT.write(lines())
