"""An as-weighed record is complete: all that a reader may ask of it stands in the export itself.

The list of what has to be there is that of the station's own promise
(``docs/how-to/record.md``).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.station.everything import exported, planned, put_right, verified
from weighd.domain.errors import RecordError
from weighd.domain.record import Entry, Tail, seal
from weighd.domain.verify import Verifier, export
from weighd.main.proving import verify_file

GOLDEN = Path(__file__).parents[2] / "fixtures" / "sessions" / "planned.golden.json"
OLDER = Path(__file__).parents[2] / "fixtures" / "records"


@pytest.fixture(scope="module")
def record() -> Any:
    return json.loads(json.dumps(exported(planned())))


def of(record: Any, kind: str) -> list[dict[str, Any]]:
    return [{**one, **one["body"]} for one in record["entries"] if one["kind"] == kind]


def filled(body: Any, *names: str) -> None:
    """Each of these is there and says something."""
    for name in names:
        inside = body
        for key in name.split("."):
            assert key in inside, f"{name} is missing"
            inside = inside[key]
        assert inside not in ("", None, [], {}), f"{name} is empty"


def test_the_formula_stands_in_it_whole_with_its_revision_and_the_plan_as_chosen(
    record: Any,
) -> None:
    (opened,) = of(record, "batch opened")
    filled(opened, "formula.revision", "formula.content.additions", "formula.content.steps")
    filled(opened, "operator", "at", "batch_g", "rule.name", "rule.k", "weighd")
    plan = opened["plan"]
    filled(plan, "moves", "bowl_g", "dish_g", "dish_holds_g", "premixes")
    assert set(plan["offered"]) == {"bench", "fine"}
    for scale in plan["offered"].values():
        filled(scale, "driver", "interval_g", "max_g")
    for one in opened["additions"]:
        filled(one, "target_g", "low_g", "high_g", "tolerance", "scale", "step.role", "step.into")
    # Pairs of time and temperature, and the words of cautions, are part of the formula's content.
    heat = next(one for one in opened["formula"]["content"]["steps"] if one["kind"] == "heat-treat")
    assert "65.6" in json.dumps(heat)


def test_every_addition_has_what_it_was_judged_by(record: Any) -> None:
    accepted = of(record, "addition accepted")
    assert len(accepted) == 5
    for one in accepted:
        filled(
            one,
            *("ingredient", "name", "target_g", "low_g", "high_g", "net_g", "deviation_g", "u_g"),
            *("budget", "verdict", "rule.name", "rule.k", "guard_g", "accept_low_g"),
            *("scale", "interval_g", "tare_g", "tare_u_g", "gross_g", "operator", "started", "at"),
            *("evidence.decoder", "evidence.tare", "evidence.gross"),
        )
        for reading in (*one["evidence"]["tare"], *one["evidence"]["gross"]):
            filled(reading, "raw", "grams")
        if one["scale"] == "bench":
            filled(one, "check.standing", "check.last.hash", "check.last.at")
    assert {one["lot"] for one in accepted if one["ingredient"] in ("sugar", "milk")} >= {
        "R-0002",
        "R-0003",
    }
    # The check that an acceptance names by its hash comes along, whole, and the next one after it.
    named = {one["check"]["last"]["hash"] for one in accepted if "check" in one}
    carried = [one["hash"] for one in record["checks"]]
    assert named < set(carried)
    assert len(carried) == 2


def test_what_was_out_of_the_ordinary_has_a_reason_and_a_person(record: Any) -> None:
    (over,) = [one for one in of(record, "addition accepted") if one["verdict"] == "over"]
    filled(over, "reason", "operator")
    filled(of(record, "held")[0], "cause", "sum_g", "at")
    filled(of(record, "temperature struck out")[0], "reason", "by")
    filled(of(record, "step decided")[0], "reason", "by", "at")
    filled(of(record, "corrected")[0], "of", "field", "old", "new", "reason", "by", "at")
    (put,) = of(exported(put_right()), "put right")
    filled(put, "cause", "way", "reason", "by", "additions", "evidence", "mass_g")


def test_steps_and_yield_stand_in_it(record: Any) -> None:
    for kind in ("step begun", "step ended", "temperature entered", "step noted"):
        for one in of(record, kind):
            filled(one, "step", "by", "at")
    (drawn,) = of(record, "yield recorded")
    filled(drawn, "by", "at")
    assert "1100 g" in json.dumps(drawn)


def hashes(value: Any) -> Iterator[str]:
    """Every text that is a hash of an entry."""
    if isinstance(value, dict):
        for one in value.values():
            yield from hashes(one)
    elif isinstance(value, list):
        for one in value:
            yield from hashes(one)
    elif isinstance(value, str) and len(value) == 64 and set(value) <= set("0123456789abcdef"):
        yield value


@pytest.mark.parametrize("entries", [planned, put_right])
def test_nothing_in_it_refers_to_an_entry_that_is_not_there(entries: Any) -> None:
    """Links of the whole journal, and which check was the last good one, are the exceptions: they
    are shown by a proof, and by the journal."""
    record = exported(entries())
    rows = [*record["entries"], *record.get("checks", [])]
    there = {one["hash"] for one in rows} | {"0" * 64}
    for one in rows:
        assert set(hashes(one["body"])) <= there


def test_it_verifies_from_the_export_alone(record: Any, tmp_path: Path) -> None:
    for one in (record, json.loads(json.dumps(exported(put_right())))):
        assert verified(one).weighings
    # As a program beside nothing else: no configuration, no database, no formula.
    (tmp_path / "batch.json").write_bytes(GOLDEN.read_bytes())
    alone = "import sys; from weighd.cli.app import main; sys.exit(main())"
    done = subprocess.run(
        [sys.executable, "-c", alone, "verify", "batch.json"],
        cwd=tmp_path,
        env={**os.environ, "XDG_CONFIG_HOME": str(tmp_path), "HOME": str(tmp_path)},
        capture_output=True,
        text=True,
        timeout=120,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "The record holds" in done.stdout
    assert [one.name for one in tmp_path.iterdir()] == ["batch.json"]


# --- what a batch was opened with follows from its formula ----------------------------------------


def opened_anew(**changes: Any) -> list[Entry]:
    first = next(one for one in planned() if one.kind == "batch opened")
    body = json.loads(json.dumps(first.body))
    for path, value in changes.items():
        inside = body
        *way, last = path.split("__")
        for key in way:
            inside = inside[int(key) if isinstance(inside, list) else key]
        assert inside[int(last) if isinstance(inside, list) else last] != value
        inside[int(last) if isinstance(inside, list) else last] = value
    return [seal("test", first.kind, first.at, body, Tail())]


@pytest.mark.parametrize(
    "changes",
    [
        {"formula__revision": "0" * 12},
        {"formula__name": "Another ice"},
        {"formula__content__additions__0__target_g": "301"},
        {"formula__content__note": "milder"},
        {"batch_g": "1300"},
        {"additions__0__step__whole_g": "1.3"},
        {"additions__2__step__high_g": "306"},
        {"additions__4__name": "Water"},
        {"additions__4__allergens": ["milk"]},
        {"additions__4__step__of": 1},
        {"additions__4__step__of": 9},
        {"plan__moves": 1},
        {"plan__offered": {}},
        {"plan__offered__bench__interval_g": "2"},
    ],
)
def test_what_a_batch_was_opened_with_cannot_be_made_up(changes: Any) -> None:
    """Also by somebody who can compute hashes."""
    with pytest.raises(RecordError) as caught:
        verified(export("test", "test-0001", opened_anew(**changes)))
    assert caught.value.code == "does-not-follow"
    assert "entry 1" in caught.value.where


def test_targets_moved_to_steps_of_scales_follow_too() -> None:
    from tests.station.scripted import Hand

    hand = Hand(interval="1")
    hand.start(batch_g="1000", rounded=True)
    verifier = Verifier(whole=True)
    verifier.take(hand.journal[0])
    body = json.loads(json.dumps(hand.journal[0].body))
    assert body["size"]["rounded"]
    body["size"]["rounded"][0]["exact_g"] = "1"
    with pytest.raises(RecordError):
        Verifier(whole=True).take(seal("test", "batch opened", hand.journal[0].at, body, Tail()))


@pytest.mark.parametrize("path", sorted(OLDER.glob("*.json")), ids=lambda path: path.stem)
def test_records_from_before_are_held_to_what_they_hold(path: Path) -> None:
    report = verify_file(path).report
    assert (report.weighings > 0, report.unread) == (True, set())
