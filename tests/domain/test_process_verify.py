"""A record of a batch in process that was changed does not verify, whatever was changed."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from tests.domain.process_world import World, resealed, verified
from weighd.domain.errors import RecordError


def seq_of(world: World, kind: str, n: int = 0) -> int:
    return [one.seq for one in world.entries if one.kind == kind][n]


@pytest.mark.parametrize(
    ("kind", "nth", "change", "names"),
    [
        ("temperature entered", 1, {"temperature": "60 °C"}, "step ended"),
        ("temperature entered", 2, {"temperature": "9 °C"}, "step ended"),
        ("temperature entered", 0, {"taken": "2026-03-01T09:04:00.000Z"}, "temperature entered"),
        (
            "temperature entered",
            0,
            {"taken": "2026-03-01T09:02:59.999Z", "entered": True},
            "temperature entered",
        ),
        ("temperature entered", 0, {"temperature": "400 °C"}, "temperature entered"),
        ("step ended", 1, {"outcome": "held"}, "step ended"),
        ("step ended", 1, {"judged": {"faults": []}}, "step ended"),
        ("step ended", 0, {"ended": "2026-03-01T09:01:00.000Z"}, "step ended"),
        ("step begun", 4, {"confirmed": []}, "step begun"),
        ("step begun", 1, {"step": 3}, "step begun"),
        ("step begun", 0, {"kind": "cool"}, "step begun"),
    ],
)
def test_a_record_that_was_changed_names_the_first_entry_that_does_not_follow(
    kind: str, nth: int, change: dict[str, object], names: str
) -> None:
    world = World().finished()
    verified(world.entries)
    first = seq_of(world, kind, nth)
    with pytest.raises(RecordError) as caught:
        verified(resealed(world.entries, {first: change}))
    named = re.search(r"[Ee]ntry (\d+)", str(caught.value))
    assert named is not None
    found = world.entries[int(named[1]) - 1]
    assert found.kind == names
    assert found.seq >= first


def test_a_temperature_changed_without_its_hash_is_named() -> None:
    world = World().finished()
    at = seq_of(world, "temperature entered") - 1
    changed = list(world.entries)
    changed[at] = replace(changed[at], body={**changed[at].body, "temperature": "90 °C"})
    with pytest.raises(RecordError) as caught:
        verified(changed)
    assert caught.value.code == "hash-mismatch"
    assert f"entry {at + 1}" in str(caught.value)


def test_a_treatment_let_pass_or_a_batch_closed_over_it_does_not_verify() -> None:
    world = World().heat_held()
    body = {"step": 2, "decision": "accept", "reason": "I am sure", "by": "Ada"}
    world._add("step decided", body)
    with pytest.raises(RecordError, match="let pass"):
        verified(world.entries)
    world = World().mixed()
    world._add("batch closed", {"additions": 0, "steps": 8, "early": True, "reason": "x"})
    with pytest.raises(RecordError, match="not satisfied"):
        verified(world.entries)
    world = World('[[steps]]\nkind = "mix"\n')
    world._add("batch closed", {"additions": 0, "steps": 1})
    with pytest.raises(RecordError) as caught:
        verified(world.entries)
    assert caught.value.code == "closed-early"


@pytest.mark.parametrize("off", [-0.001, 0, 24, 24.001])
def test_a_time_that_was_said_lies_between_the_beginning_and_the_entry(off: float) -> None:
    """Of a temperature: not before its step began, and not after it was written down."""
    world = World('[[steps]]\nkind = "mix"\n').do("begin step")
    began = world.at(off)
    world.wait(24)
    told = {"step": 1, "temperature": "20 °C", "taken": began, "entered": True, "by": "Ada"}
    world._add("temperature entered", {**told, "value": 1})
    if 0 <= off <= 24:
        verified(world.entries)
        return
    with pytest.raises(RecordError) as caught:
        verified(world.entries)
    assert (caught.value.code, caught.value.where) == (
        "does-not-follow",
        "entry 4 (temperature entered)",
    )
    assert f"taken is {began}, before what came before it or after" in caught.value.message


def test_a_temperature_may_be_said_after_a_later_one_was_entered() -> None:
    world = World('[[steps]]\nkind = "mix"\n').do("begin step").wait(10).enter("20 °C")
    world.wait(5).enter("19 °C", taken=world.at(-8))
    verified(world.entries)
    world.do("end step")
    verified(world.entries)
    end = world.entries[-2]
    assert end.kind == "step ended"
    early = resealed(world.entries, {end.seq: {"ended": world.at(-6), "entered": True}})
    with pytest.raises(RecordError, match=r"ended is .*, before what came before it"):
        verified(early)


@pytest.mark.parametrize(
    ("reason", "faults"), [("", ["too cool"]), ("no gas", ["failed", "too cool"])]
)
def test_a_treatment_without_a_temperature_is_judged_only_where_it_failed(
    reason: str, faults: list[str]
) -> None:
    world = World().mixed().do("begin step").wait(30)
    body = {"step": 2, "ended": world.at(), "by": "Ada", "outcome": "held"}
    told = {**body, "judged": {"faults": faults}, **({"reason": reason} if reason else {})}
    world._add("step ended", told)
    if reason:
        verified(world.entries)
        return
    with pytest.raises(RecordError, match="no temperature was entered") as caught:
        verified(world.entries)
    assert (caught.value.code, caught.value.where) == ("does-not-follow", "entry 6 (step ended)")


def test_what_belongs_to_weighing_cannot_come_after_it() -> None:
    world = World()
    world._add("lot named", {"addition": 1, "lot": "L7"})
    with pytest.raises(RecordError) as caught:
        verified(world.entries)
    assert caught.value.code == "out-of-place"


@pytest.mark.parametrize(
    ("kind", "body"),
    [
        ("temperature struck out", {"step": 1, "value": 1, "reason": "", "by": "Ada"}),
        ("batch closed", {"additions": 0, "steps": 1, "early": True, "reason": "", "by": "Ada"}),
    ],
)
def test_what_needs_a_reason_does_not_verify_without_one(
    kind: str, body: dict[str, object]
) -> None:
    def world() -> World:
        it = World('[[steps]]\nkind = "mix"\n').do("begin step").wait(1).enter("20 °C")
        return it if "value" in body else it.do("fail step", reason="it fell")

    good = world()
    good._add(kind, {**body, "reason": "the wrong bowl"})
    verified(good.entries)
    bad = world()
    bad._add(kind, body)
    with pytest.raises(RecordError, match="reason is missing"):
        verified(bad.entries)


def test_a_decision_without_a_reason_does_not_verify() -> None:
    for reason in ("it will do", ""):
        world = World('[[steps]]\nkind = "mix"\n').do("begin step").do("fail step", reason="x")
        world._add("step decided", {"step": 1, "decision": "accept", "reason": reason, "by": "Ada"})
        world._add("batch closed", {"additions": 0, "steps": 1})
        if reason:
            verified(world.entries)
            continue
        with pytest.raises(RecordError, match="reason is missing"):
            verified(world.entries)


def test_a_clock_that_was_set_says_the_time_of_its_own_entry() -> None:
    for off in (0, 1, -1):
        world = World('[[steps]]\nkind = "mix"\n').do("begin step").wait(2)
        stand = {"begun": True, "values": 0}
        told = {"step": 1, "was": world.at(60), "now": world.at(off), "stand": stand}
        world._add("clock set", told)
        if off == 0:
            verified(world.entries)
            continue
        with pytest.raises(RecordError, match="now"):
            verified(world.entries)
