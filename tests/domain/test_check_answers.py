"""Checks of scales as a whole: what is asked for and said, the entry made, and the entry forged.

``fixtures/tables/checks.txt`` has them; what the figures should be is checked in ``test_check*``. A
line that changes is a change to a check, or to what it is held to afterwards:
``python -m tests.domain.test_check_answers`` writes the file anew, to be read.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from tests.domain.answering import answer, shown
from tests.domain.bench_world import batch
from tests.domain.check_world import CLASS_III, KITCHEN, go, started, terms, weight
from tests.domain.kept import Kept
from tests.domain.test_verify import flip, leaves
from weighd.domain.check import Plan, Terms, doubts, nearest_to_a_third
from weighd.domain.check_record import body_of
from weighd.domain.check_routine import Routine, routine_of
from weighd.domain.check_standing import (
    Duty,
    Last,
    Outcome,
    Then,
    barred,
    past_of,
    standing,
    with_acceptance,
)
from weighd.domain.check_steps import Going, insist
from weighd.domain.check_verify import CheckVerifier
from weighd.domain.errors import RecordError
from weighd.domain.following import readable
from weighd.domain.metrology import Rule
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.rederive import Rederiver
from weighd.domain.weights import WeightClass

KEPT = Kept("checks.txt")
D = Decimal
AT = "2026-11-26T08:00:00.000Z"
TWO = weight(2000)
WHOLE = Plan(masses=(weight(500), TWO), corners=weight(2000), repeat=weight(1000), repeat_n=3)
SIMPLE = Rule("simple")

#: A plan, what it is held to, and what the display shows one after the other.
CASES: dict[str, tuple[Plan, Terms, str]] = {
    "good": (Plan(masses=(TWO,)), terms(), "0.0 - 2000.1 - 0.0"),
    "off": (Plan(masses=(TWO,)), terms(), "0.0 - 2000.9 - 0.0"),
    "too close": (Plan(masses=(TWO,)), terms(), "0.0 - 2000.5 - 0.0"),
    "no guard": (Plan(masses=(TWO,)), terms(rule=SIMPLE), "0.0 - 2000.5 - 0.0"),
    "nothing stated": (Plan(masses=(TWO,)), terms(limit=None), "0.0 - 2000.0 - 0.0"),
    "class III": (Plan(masses=(TWO,)), terms(CLASS_III, None), "0.0 - 2001.0 - 0.0"),
    "not empty": (Plan(masses=(TWO,)), terms(), "0.4 - 2000.4 - 0.4"),
    "half done": (WHOLE, terms(), "0.0 - 500.0"),
    "whole": (
        WHOLE,
        terms(limit="1"),
        (
            "0.0 - 500.1 - 0.0 - 2000.1 - 0.0 - 2000.0 - 0.0 - 2000.2 - 0.0 - 1999.9 - 0.0 "
            "- 2000.3 - 0.0 - 2000.1 - 0.0 - 1000.0 - 0.1 - 1000.2 - 0.0 - 1000.1 - 0.0"
        ),
    ),
    "no zero": (Plan(zero=False, masses=(TWO,)), terms(), "0.1 - 2000.0 - 0.1"),
    "odd": (Plan(masses=(TWO,)), terms(), "312.4 - 0.0 - 1500.0 - -20.0"),
}


def played(plan: Plan, held: Terms, shows: str) -> Going:
    return go(started(plan, held), [None if one == "-" else one for one in shows.split()])


def body(going: Going) -> dict[str, Any]:
    return body_of(going, by="Ada", began=AT, version="1")


def entry(made: dict[str, Any], seq: int = 1, **more: Any) -> Entry:
    whole = {**made, "last_good": None, **more}
    return replace(seal("kitchen", "scale checked", AT, whole, Tail(seq - 1, "0" * 64)))


def made() -> Iterator[tuple[str, str]]:
    for name, (plan, held, shows) in CASES.items():
        going = started(plan, held)
        said = []
        for one in shows.split():
            going = go(going, [None if one == "-" else one])
            note = f" {going.note}" if going.note else ""
            said.append(f"{one}: {going.wanted}{note} {len(going.taken)}")
        yield f"{name} | asked", "; ".join(said)
        yield f"{name} | current", f"{shown(going.current)} room {going.room_g}"
        yield f"{name} | entry", json.dumps(less_readings(body(going)))
        yield f"{name} | doubts", answer(lambda p=plan, h=held: doubts(p, h), carried)
        sure = insist(going)
        yield f"{name} | insisted", "no" if sure is None else f"{sure.wanted} {len(sure.taken)}"
    for limit in ("0.1", "0.2", "0.3", "1"):
        for rule in (None, SIMPLE):
            plan = Plan(masses=(weight(2000, WeightClass.M3),), repeat=weight(500), repeat_n=2)
            told = carried(doubts(plan, terms(limit=limit, rule=rule)))
            yield f"doubts | {limit} {'simple' if rule else 'guarded'}", told
    masses = [weight(one) for one in (100, 500, 1000, 2000, 5000)]
    for most in (None, D(300), D(3000), D(4500), D(6000), D(30000)):
        yield f"corners | {most}", nearest_to_a_third(masses, most).name
    yield "placements", shown(WHOLE.placements)
    yield "weights", shown([one.name for one in WHOLE.weights])


def carried(found: Any) -> str:
    """Of sentences: the numbers in them."""
    return " / ".join(
        " ".join(word.strip(".,") for word in one.split() if any(it.isdigit() for it in word))
        for one in found
    )


def less_readings(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: less_readings(one) for key, one in value.items() if key != "evidence"}
    return [less_readings(one) for one in value] if isinstance(value, list | tuple) else value


def held(one: Entry) -> None:
    with readable(f"entry {one.seq}"):
        CheckVerifier(Rederiver(None), whole=True).check(one)


def forged() -> Iterator[tuple[str, str]]:
    for name in ("whole", "not empty"):
        good = entry(body(played(*CASES[name])))
        held(good)
        seen = set[str]()
        for path in leaves(dict(good.body)):
            place = ".".join("#" if isinstance(key, int) else key for key in path)
            if place in seen:
                continue
            seen.add(place)
            for done in ("changed", "gone"):
                changed = copy.deepcopy(dict(good.body))
                inside: Any = changed
                for key in path[:-1]:
                    inside = inside[key]
                if done == "changed":
                    inside[path[-1]] = flip(inside[path[-1]])
                else:
                    del inside[path[-1]]
                told = answer(
                    lambda c=changed, g=good: held(replace(g, body=c)), lambda _: "stands"
                )
                code, _, rest = told.partition(" | ")
                yield f"forged {name} | {place} {done}", f"{code} {rest if 'does' in code else ''}"


def stands() -> Iterator[tuple[str, str]]:
    duties = {
        "a day": Duty(),
        "six hours": Duty(Then.BARS, D(6)),
        "from three": Duty(Then.BARS, None, "03:00"),
    }
    lasts: dict[str, Last | None] = {"never": None}
    lasts |= {str(one): Last(4, "ab" * 32, AT, one) for one in Outcome}
    days = ("26T13:59:59.999", "26T14:00:00.000", "27T02:59:59.999", "27T03:00:00.000")
    days += ("27T07:59:59.999", "27T08:00:00.000")
    moments = [f"2026-11-{one}Z" for one in days]
    for title, duty in duties.items():
        yield f"duty {title}", json.dumps(duty.as_json())
        for name, last in lasts.items():
            found = [str(standing(last, duty, at)) for at in moments]
            yield f"stands | {title} | {name}", " / ".join(found)
            yield (
                f"accepted | {title} | {name}",
                json.dumps(with_acceptance(last, duty, moments[3])),
            )
            why = barred("bench", standing(last, duty, moments[3]), duty)
            yield f"barred | {title} | {name}", "no" if why is None else f"{why.code} @ {why.where}"
        for plan in (WHOLE, Plan(masses=(TWO,), limit_g=D("0.5"), rule=SIMPLE)):
            routine = Routine(plan, duty)
            assert routine_of(routine.as_json()) == routine
            yield f"routine | {title}", json.dumps(routine.as_json())
    rows = [
        entry({"scale": scale, "outcome": outcome}, seq)
        for seq, (scale, outcome) in enumerate(
            (("bench", "pass"), ("fine", "pass"), ("bench", "fail"), ("spare", "fail")), start=1
        )
    ]
    for scales in (["bench"], ["bench", "fine"], ["spare"], []):
        past = past_of(rows[::-1], scales)
        told = {name: less_hashes(one.as_json()) for name, one in past.items()}
        yield f"past | {' '.join(scales)}", json.dumps(told)


def less_hashes(row: Any) -> Any:
    if isinstance(row, dict):
        return {key: less_hashes(one) for key, one in row.items()}
    return row[:6] if isinstance(row, str) and len(row) == 64 else row


def lines() -> list[str]:
    rows = [f"{what} | {said}" for part in (made, forged, stands) for what, said in part()]
    return [one.rstrip() for one in rows]


def test_checks_are_answered_as_they_were() -> None:
    assert KEPT.beside(lines()) == ([], [])


def test_what_a_check_found_cannot_be_changed_afterwards() -> None:
    for line in KEPT.lines():
        what, place, *told = line.split(" | ")
        ends = ("outcome changed", "#.error_g changed")
        if what.startswith("forged") and place.endswith(ends):
            assert "stands" not in told, line


def test_acceptances_are_counted_that_a_check_puts_in_doubt() -> None:
    """Flagged where the scale did not stand well then; in doubt where it fails the next check."""
    duty = Duty(Then.FLAGS, D(6))
    scale = replace(KITCHEN, duty=duty)
    of = replace(batch(), scales={"bench": scale})
    verifier = CheckVerifier(Rederiver(None), whole=True)
    passed, failed = (body(played(*CASES[name])) for name in ("good", "off"))

    def accepted(seq: int, last: Last | None, at: str = AT) -> None:
        told = with_acceptance(last, duty, at)
        made_ = {"scale": "bench", "check": told}
        verifier.accepted(of, seal("kitchen", "addition accepted", at, made_, Tail(seq - 1, "")))

    accepted(1, None)
    assert (verifier.flagged, verifier.doubted) == (1, 0)
    good = entry(passed, 2)
    verifier.check(good)
    last = Last(2, good.hash, AT, Outcome.PASS)
    accepted(3, last)
    accepted(4, last, "2026-11-26T13:59:59.999Z")
    assert (verifier.flagged, verifier.doubted) == (1, 0)
    accepted(5, last, "2026-11-26T14:00:00.000Z")  # six hours are over
    assert (verifier.checks, verifier.flagged, verifier.doubted) == (1, 2, 0)
    bad = entry(failed, 6, last_good=last.as_json())
    verifier.check(bad)
    assert (verifier.checks, verifier.doubted) == (2, 3)
    accepted(7, Last(6, bad.hash, AT, Outcome.FAIL))
    close = entry(body(played(*CASES["too close"])), 8, last_good=last.as_json())
    verifier.check(close)  # it could not tell
    assert (verifier.flagged, verifier.doubted) == (3, 3)
    for change in ({"check": None}, {"check": with_acceptance(last, duty, AT)}):
        one = seal("kitchen", "addition accepted", AT, {"scale": "bench", **change}, Tail(8, ""))
        told = answer(lambda one=one: verifier.accepted(of, one))
        assert told.startswith("does-not-follow @ entry 9 (addition accepted)")
    one = seal("kitchen", "addition accepted", AT, made_of(last), Tail())
    told = answer(lambda: verifier.accepted(batch(), one))
    assert told.startswith("does-not-follow")


def made_of(last: Last) -> dict[str, Any]:
    return {"scale": "bench", "check": with_acceptance(last, Duty(), AT)}


@pytest.mark.parametrize("n", [0, 1])
def test_a_load_was_kept_where_a_weight_was_asked_for_and_nowhere_else(n: int) -> None:
    """Of the empty scale there is none; of a weight there is, or it was never on."""
    good = entry(body(played(*CASES["good"])))
    steps = [dict(one) for one in good.body["steps"]]
    assert [one["loaded"] is None for one in steps] == [True, False]
    steps[n]["loaded"] = steps[1 - n]["loaded"]
    with pytest.raises(RecordError) as caught:
        held(replace(good, body={**good.body, "steps": steps}))
    assert (caught.value.code, caught.value.where) == ("does-not-follow", "entry 1 (scale checked)")
    said = "loaded is not as, where its evidence gives the weight asked for."
    assert caught.value.message == said


def test_a_check_of_nothing_shows_nothing() -> None:
    good = entry(body(played(*CASES["good"])))
    with pytest.raises(RecordError, match="A check of nothing shows nothing") as caught:
        held(replace(good, body={**good.body, "steps": []}))
    assert (caught.value.code, caught.value.where) == (
        "too-little-evidence",
        "entry 1 (scale checked)",
    )


def test_a_kitchen_scale_has_nothing_stated() -> None:
    assert terms(KITCHEN, None).limit(D(2000)) == 0


if __name__ == "__main__":
    KEPT.write(lines())
