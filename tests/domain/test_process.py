"""A batch in process: every state and what may be asked of it, and how steps are judged."""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from tests.domain.process_world import DRY_ICE, STEPS, World, formula, one, refused, verified
from weighd.domain.batch import Status
from weighd.domain.fold import fold
from weighd.domain.formula import from_content, revision_of
from weighd.domain.kinds import IN_PROCESS
from weighd.domain.process_judge import so_far
from weighd.domain.process_orders import TABLE, Ask, can
from weighd.domain.process_run import _CHANGES, State

# --- the table ------------------------------------------------------------------------------------


def waiting() -> World:
    return World()


def running() -> World:
    return World().do("begin step").wait(3).enter("20 °C")


def held() -> World:
    return World().do("begin step").wait(1).do("end step")


#: What each order needs beside, to be one that makes sense.
WHOLE = {
    Ask.ENTER: {"temperature": "20 °C"},
    Ask.STRIKE: {"value": 1, "reason": "the wrong bowl"},
    Ask.FAIL: {"reason": "boiled over"},
    Ask.REPEAT: {"reason": "once more"},
    Ask.ACCEPT: {"reason": "nothing floats"},
    Ask.NOTE: {"note": "smells fine"},
    Ask.CLOSE: {"reason": "sold as it is"},
    Ask.DISCARD: {"reason": "dropped"},
}
PLACES = {State.WAITING: waiting, State.RUNNING: running, State.HELD: held}
#: What the table takes, and a rule refuses: nothing was done yet, or a heat treatment is open.
REFUSED = {
    (State.WAITING, Ask.NOTE): "not-now",
    (State.WAITING, Ask.CLOSE): "heat-treatment-open",
    (State.HELD, Ask.CLOSE): "heat-treatment-open",
}


@pytest.mark.parametrize("do", Ask)
@pytest.mark.parametrize("state", PLACES)
def test_every_state_and_what_may_be_asked_of_it(state: State, do: Ask) -> None:
    world = PLACES[state]()
    assert world.state is state
    more = WHOLE.get(do, {})
    if (state, do) not in TABLE:
        refused(world, "not-now", do, **more)
        assert do not in can(world.batch)  # type: ignore[arg-type]
    elif (state, do) in REFUSED:
        refused(world, REFUSED[(state, do)], do, **more)
        assert do not in can(world.batch)  # type: ignore[arg-type]
    else:
        assert do in can(world.batch)  # type: ignore[arg-type]
        world.do(do, **more)
        assert verified(world.entries).entries == len(world.entries)


def test_a_batch_whose_last_step_is_done_is_closed_and_takes_nothing_more() -> None:
    world = World().finished()
    assert world.batch is not None
    assert world.entries[-1].kind == "batch closed"
    assert world.entries[-1].body["steps"] == 8
    assert (world.batch.status, world.state) == (Status.CLOSED, State.DONE)
    for do in Ask:
        refused(world, "batch-over", do, **WHOLE.get(do, {}))
    assert verified(world.entries).batches == 1


def test_every_kind_of_entry_changes_how_far_a_batch_is() -> None:
    assert set(_CHANGES) == {str(one) for one in IN_PROCESS}


def test_folding_the_entries_again_gives_the_same_batch_at_every_point() -> None:
    world = World().finished()
    for n in range(1, len(world.entries) + 1):
        again = fold(world.entries[:n])
        assert again is not None
        assert again.n == n
    assert fold(world.entries) == world.batch


# --- what is refused ------------------------------------------------------------------------------


def test_a_press_for_a_step_that_is_over_does_nothing_to_the_next() -> None:
    world = World().mixed()
    refused(world, "step-over", "begin step", step=1)
    refused(world, "not-this-step", "begin step", step=3)
    refused(world, "no-step", "begin step", step=None)


def test_two_people_at_once_begin_a_step_once() -> None:
    world = World().do("begin step", by="Ada")
    refused(world, "not-now", "begin step", by="Bo")
    world.wait(3).do("end step", by="Bo", step=1)
    refused(world, "step-over", "end step", by="Ada", step=1)


@pytest.mark.parametrize(
    ("temperature", "held"),
    [
        ("nan", ""),
        ("-274", ""),
        ("301", ""),
        ("572.1 F", ""),
        ("", ""),
        ("69", "-1"),
        ("69", "nan"),
        ("69", "1e9"),
        ("69", "21 min"),
    ],
)
def test_a_value_that_cannot_be_is_refused(temperature: str, held: str) -> None:
    world = World().mixed().do("begin step").wait(20)
    refused(world, "bad-value", "enter temperature", temperature=temperature, held=held)


def test_a_time_that_a_person_says_lies_between_what_came_before_and_now() -> None:
    world = World().mixed().wait(10)
    refused(world, "bad-time", "begin step", taken=world.at(1))
    refused(world, "bad-time", "begin step", taken=world.at(-11))
    world.do("begin step", taken=world.at(-5))
    assert world.run.begun_entered
    refused(world, "bad-time", "enter temperature", temperature="69", taken=world.at(-6))
    world.enter("69", taken=world.at(-2))
    assert world.run.values[0].entered
    refused(world, "bad-time", "end step", taken=world.at(-3))
    assert world.entries[-1].body["entered"] is True


def test_a_step_cannot_be_judged_without_the_temperature_it_is_judged_by() -> None:
    world = World().mixed().do("begin step").wait(30)
    refused(world, "needs-temperature", "end step")
    assert "end step" not in can(world.batch)  # type: ignore[arg-type]
    world.do("fail step", reason="the thermometer broke")
    assert world.faults == ["failed", "too cool"]


@pytest.mark.parametrize("do", [Ask.FAIL, Ask.DISCARD, Ask.STRIKE])
def test_what_departs_from_the_formula_has_a_reason(do: Ask) -> None:
    refused(running(), "needs-reason", do, value=1)


# --- cautions -------------------------------------------------------------------------------------


def test_every_caution_is_confirmed_by_name_before_the_step_begins() -> None:
    world = World().aged()
    error = refused(world, "cautions-not-confirmed", "begin step")
    assert all(name in error.message for name in DRY_ICE)
    error = refused(world, "cautions-not-confirmed", "begin step", confirmed=DRY_ICE[:-1])
    assert DRY_ICE[-1] in error.message
    assert DRY_ICE[0] not in error.message
    refused(world, "unknown-caution", "begin step", confirmed=(*DRY_ICE, "yes to all"))
    world.do("begin step", confirmed=reversed(DRY_ICE), by="Bo")
    assert world.run.confirmed == DRY_ICE
    assert world.entries[-1].body["confirmed"] == list(DRY_ICE)
    assert world.entries[-1].body["by"] == "Bo"


def test_a_step_has_the_cautions_of_its_means_and_its_own() -> None:
    text = (
        '[[steps]]\nkind = "freeze"\nwith = "dry ice"\n'
        'cautions = [{ name = "hot pan", text = "Mind it." }, { name = "ventilate", text = "x" }]'
    )
    (step,) = formula(text).steps
    assert [one.name for one in step.cautions] == [*DRY_ICE, "hot pan"]
    assert step.cautions[2].text != "x"


# --- limits ---------------------------------------------------------------------------------------


COOL = 'kind = "cool"\ntemperature = "at most 4 °C"\ntime = "within 90 min"'
AGE = 'kind = "age"\ntemperature = "at most 4 °C"\ntime = "4 h to 24 h"'
TEMPER = 'kind = "temper"\ntemperature = "-14 to -11 °C"'


@pytest.mark.parametrize(
    ("step", "values", "ends", "faults"),
    [
        (COOL, [(80, "3.9")], 85, []),
        (COOL, [(90, "4")], 300, []),
        (COOL, [(80, "3.9"), (100, "3.5")], 120, []),  # was there in time, and stayed
        (COOL, [(91, "3.9")], 92, ["too slow"]),
        (COOL, [(80, "4.1")], 85, ["too warm"]),
        (COOL, [(60, "3.9"), (80, "5"), (95, "3.9")], 96, ["too slow"]),  # it did not stay
        (COOL, [(80, "39.2 F")], 85, []),
        (COOL, [(80, "39.3 F")], 85, ["too warm"]),
        (AGE, [(1, "4"), (239, "3")], 240, []),
        (AGE, [(1, "4"), (100, "3")], 239, ["too short"]),
        (AGE, [(1, "4"), (100, "6"), (200, "3")], 300, ["too warm"]),
        (AGE, [(1, "4")], 1441, ["too long"]),
        (TEMPER, [(5, "-20"), (60, "-12")], 61, []),
        (TEMPER, [(60, "-14.1")], 61, ["too cool"]),
        (TEMPER, [(60, "-10.9")], 61, ["too warm"]),
        ('kind = "mix"\ntime = "at least 2 min"', [], 1.9, ["too short"]),
        ('kind = "mix"', [], 0, []),
        ('kind = "fill"\ntemperature = "at most -4 °C"', [(1, "-5"), (9, "-3")], 10, ["too warm"]),
    ],
)
def test_how_a_step_is_judged(
    step: str, values: list[tuple[float, str]], ends: float, faults: list[str]
) -> None:
    world, now = one(step), 0.0
    for minute, value in values:
        world.wait(minute - now).enter(value)
        now = minute
    world.wait(ends - now).do("end step")
    assert world.faults == faults
    assert world.state is (State.HELD if faults else State.DONE)
    verified(world.entries)


def test_what_will_hold_a_step_is_told_while_it_goes_on() -> None:
    world = one(COOL).wait(60)
    step = formula(f"[[steps]]\n{COOL}\n").steps[0]
    assert so_far(step, world.run, world.at()) == ()
    world.wait(31)
    assert so_far(step, world.run, world.at()) == ("too slow",)
    world.enter("3", taken=world.at(-5))  # it was there, and only now somebody says so
    assert so_far(step, world.run, world.at()) == ()
    world = one(AGE).enter("9")
    step = formula(f"[[steps]]\n{AGE}\n").steps[0]
    assert so_far(step, world.run, world.at()) == ("too warm",)


def test_a_step_out_of_its_limits_waits_for_a_decision_with_a_reason() -> None:
    world = one(COOL).wait(100).enter("3").do("end step")
    refused(world, "needs-reason", "accept step")
    refused(world, "needs-reason", "repeat step")
    refused(world, "not-now", "begin step")
    world.do("accept step", reason="it was down to 5 °C after 60 min", by="Bo")
    assert world.batch is not None
    assert world.batch.status is Status.CLOSED
    assert (world.run.decided_by, world.run.reason) == ("Bo", "it was down to 5 °C after 60 min")
    verified(world.entries)


def test_a_step_is_done_again_or_all_from_an_earlier_one() -> None:
    world = World().treated().do("begin step").wait(100).enter("3").do("end step")
    assert (world.state, world.faults) == (State.HELD, ["too slow"])
    refused(world, "not-this-step", "repeat step", from_step=4, reason="x")
    refused(world, "not-this-step", "repeat step", from_step=0, reason="x")
    world.do("repeat step", from_step=2, reason="treated anew, it stood warm")
    assert world.batch is not None
    assert world.batch.process.at == 2
    assert world.batch.process.done(2) is None
    refused(world, "heat-treatment-open", "close batch", reason="enough")
    world.do("begin step").wait(20).enter("69").wait(30).enter("69").do("end step")
    assert world.batch.process.at == 3
    verified(world.entries)


# --- formulas -------------------------------------------------------------------------------------


def test_steps_are_part_of_a_formula_and_go_along_when_it_is_scaled() -> None:
    made = formula()
    assert from_content(made.content()) == made
    assert made.scaled(Decimal(2000)).steps == made.steps
    assert [one["kind"] for one in made.content()["steps"]] == [
        "mix", "heat-treat", "cool", "age", "freeze", "fill", "harden", "temper",
    ]  # fmt: skip


#: What a weighd that knew no steps made of the formula in process_world.
REVISION = "700613897a3d"


def test_a_formula_without_steps_has_the_revision_it_had() -> None:
    plain = formula("")
    assert "steps" not in plain.content()
    assert plain.revision == REVISION == revision_of(plain.content())
    assert formula(STEPS).revision != plain.revision


# --- the diagram ----------------------------------------------------------------------------------

DEVELOPERS = Path(__file__).parents[2] / "DEVELOPERS.md"
#: Where each order leads, tried on batches that stand so.
LEADS = {Ask.NOTE: None, Ask.DISCARD: "over", Ask.CLOSE: "over"}


def diagram() -> str:
    """The table as a diagram; notes stay where they are, and are left out."""
    arrows: dict[tuple[str, str], list[str]] = {}
    for state, do in TABLE:
        if do is Ask.NOTE:
            continue
        if do in LEADS:
            arrows.setdefault((state, str(LEADS[do])), []).append(do)
            continue
        world = PLACES[state]()
        world.do(do, **WHOLE.get(do, {}))
        arrows.setdefault((state, world.state), []).append(do)
        if do is Ask.END:
            arrows.setdefault((state, State.HELD), []).append(do)
            arrows.setdefault((state, "over"), []).append(f"{do} (the last)")
        if do is Ask.ACCEPT:
            arrows.setdefault((state, "over"), []).append(f"{do} (the last)")
    out = ["```mermaid", "stateDiagram-v2"]
    for (a, b), asked in arrows.items():
        if a != b:
            out.append(f"    {a} --> {b} : {', '.join(sorted(asked))}")
    return "\n".join([*out, "```"])


def test_the_diagram_in_developers_md_is_that_of_the_table() -> None:
    text = DEVELOPERS.read_text("utf-8")
    found = re.search(r"<!-- process -->\n(.*?)\n<!-- /process -->", text, re.DOTALL)
    assert found, "DEVELOPERS.md has lost its table of batches in process"
    assert found[1] == diagram(), f"put this into DEVELOPERS.md:\n{diagram()}"


def test_so_many_temperatures_and_no_more() -> None:
    world = one('kind = "mix"').enter("20 °C")
    assert world.batch is not None
    process, run = world.batch.process, world.run
    for count, enough in ((999, False), (1000, True)):
        full = replace(run, values=run.values * count)
        world.batch = replace(world.batch, process=replace(process, runs=(full,)))
        if enough:
            assert "1000 temperatures" in str(
                refused(world, "bad-value", "enter temperature", temperature="21 °C")
            )
        else:
            world.enter("21 °C")


def test_a_note_has_words_and_a_batch_may_be_closed_early_with_a_reason() -> None:
    world = World('[[steps]]\nkind = "mix"\n' * 2).mixed()
    refused(world, "no-note", "note step", note="")
    refused(world, "needs-reason", "close batch", reason="")
    world.do("close batch", reason="sold as it is")
    assert world.entries[-1].body["early"] is True
    assert world.entries[-1].body["reason"] == "sold as it is"
    verified(world.entries)


def test_a_clock_behind_what_was_recorded_is_refused_and_a_said_time_too() -> None:
    world = one('kind = "mix"').wait(10).enter("20 °C").wait(-5)
    refused(world, "clock-behind", "end step")
    world.wait(10)
    refused(world, "bad-time", "enter temperature", temperature="20 °C", taken=world.at(-30))
    refused(world, "bad-time", "enter temperature", temperature="20 °C", taken=world.at(1))
    world.enter("21 °C", taken=world.at(-12))
