"""A second person signs a batch that is over; names, and how they were given, in the record.

Our own rules (common practice, no source: a second pair of eyes had no part in what it looks at).
"""

from __future__ import annotations

import copy
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.station.scripted import Hand, LineDecoder, formula
from weighd.domain.errors import OperatorError, RecordError
from weighd.domain.record import NOTHING_BEFORE, entry_hash
from weighd.domain.verify import Report, Verifier, export, read_export, verify_export
from weighd.domain.whose import BY_THE_STATION, actor
from weighd.reports.schema_kinds import KINDS
from weighd.reports.sheet_data import Checked, sheet_data
from weighd.station.countersigned import draw_countersigned, tell_countersigned
from weighd.station.inputs import Command
from weighd.station.session import Header, header_line, line, read

BATCH = "test-0001"
DEVELOPERS = (Path(__file__).parents[2] / "DEVELOPERS.md").read_text("utf-8")
GOLDEN = sorted((Path(__file__).parents[2] / "fixtures" / "sessions").glob("*.golden.json"))


class Cook(Hand):
    """Weighs the test formula, the sugar a little over; what was taken in is kept."""

    def take(self, event: Any) -> Any:
        self.__dict__.setdefault("inputs", []).append(replace(event, t=self.t))
        return super().take(event)

    def __init__(self, who: str = "Ada") -> None:
        self.who = who
        super().__init__()

    def weigh(self, **more: Any) -> None:
        self.lift("0.0")
        self.do("start", formula=formula().content(), by=self.who)
        self.lift("300")
        self.do("tare", by=self.who)
        self.pour("800")
        self.do("accept", by=self.who)
        self.pour("930")
        self.do("accept", by=self.who, reason="the bag slipped", **more)
        self.pour("932")
        self.do("accept", by="Cy")

    def sign(self, by: str = "Bo", upto: int | None = None, **more: Any) -> None:
        upto = self.n if upto is None else upto
        self.do("countersign", batch=BATCH, entry=upto, by=by, **more)

    @property
    def n(self) -> int:
        return max(int(one.body["n"]) for one in self.journal)

    def correct(self, by: str, new: str = "L-1") -> None:
        [first, *_] = [one for one in self.journal if one.kind == "addition accepted"]
        told = {"field": "lot", "old": self.stands, "new": new, "reason": "misread", "by": by}
        self.do("correct", batch=BATCH, entry=first.body["n"], **told)
        self.stands = new

    stands = ""


@pytest.fixture
def cook() -> Cook:
    cook = Cook()
    cook.weigh()
    return cook


def verified(cook: Hand) -> Report:
    verifier = Verifier(whole=True, reread=lambda _spec: LineDecoder())
    for one in cook.journal:
        verifier.take(one)
    return verifier.finish()


def drawn(cook: Hand) -> dict[str, Any]:
    batch = cook.station.off_bench.get(BATCH)
    assert batch is not None
    return draw_countersigned(batch)


def test_somebody_without_a_part_in_it_signs_and_what_comes_later_is_not_covered(
    cook: Cook,
) -> None:
    ends = cook.journal[-1]
    cook.sign(note="looked at the sheet")
    entry = cook.journal[-1]
    assert entry.kind == "countersigned"
    assert entry.body["of"] == {"n": ends.body["n"], "hash": ends.hash}
    assert (entry.body["by"], entry.body["note"]) == ("Bo", "looked at the sheet")
    assert verified(cook).countersigned == 1
    [one] = drawn(cook)["countersigned"]
    assert (one["by"], one["upto"], one["later"]) == ("Bo", ends.body["n"], 0)
    cook.correct("Ada")
    [one] = drawn(cook)["countersigned"]
    assert one["later"] == 1
    [told] = tell_countersigned(drawn(cook))
    assert told.endswith("What came later is not covered: 1 entry.")
    document = export("test", BATCH, cook.journal)
    [told] = sheet_data(document, Checked())["countersigned"]
    assert told.startswith("Bo, ")
    assert "as far as entry" in told
    assert "not covered: 1 entry" in told
    cook.sign()  # something is new, so Bo may sign again
    assert [one["later"] for one in drawn(cook)["countersigned"]] == [1, 0]
    cook.sign("Dee")  # and a third
    verify_export(json.loads(json.dumps(export("test", BATCH, cook.journal))), None)


@pytest.mark.parametrize(
    ("by", "more", "code"),
    [
        ("Ada", {}, "own-batch"),  # started and weighed
        (" ada ", {}, "own-batch"),  # however it is written
        ("Cy", {}, "own-batch"),  # accepted one
        ("", {}, "no-operator"),
        ("Bo", {"upto": 1}, "changed-meanwhile"),
        ("Bo", {"upto": 99}, "unknown-entry"),
        ("Bo", {"note": "x" * 501}, "bad-text"),
    ],
)
def test_what_is_refused(cook: Cook, by: str, more: dict[str, Any], code: str) -> None:
    with pytest.raises(OperatorError) as raised:
        cook.sign(by, **more)
    assert raised.value.code == code
    assert cook.journal[-1].kind == "batch closed"


def test_who_corrected_had_a_part_and_twice_needs_something_new(cook: Cook) -> None:
    cook.correct("Eve")
    for by, code in (("Eve", "own-batch"), ("Bo", "")):
        if not code:
            cook.sign(by)
            continue
        with pytest.raises(OperatorError) as raised:
            cook.sign(by)
        assert raised.value.code == code
    cook.sign("Dee")
    with pytest.raises(OperatorError) as raised:
        cook.sign("Bo")  # only another countersignature came since
    assert raised.value.code == "countersigned-already"


def test_not_while_it_is_weighed() -> None:
    cook = Cook()
    cook.lift("0.0")
    cook.do("start", formula=formula().content(), by="Ada")
    with pytest.raises(OperatorError) as raised:
        cook.sign(upto=1)
    assert raised.value.code == "not-over"


# --- how a name was given ---------------------------------------------------------------------


def test_who_proved_a_name_and_who_allowed_it_stands_in_the_record_and_replays() -> None:
    cook = Cook()
    cook.weigh(proved=("Ada", "Bo"), allowed_by="Bo")
    over = [one for one in cook.journal if one.body.get("reason") == "the bag slipped"]
    assert [one.body["allowed_by"] for one in over] == ["Bo"]
    assert over[0].body["proved"] == {"Ada": "pin", "Bo": "pin"}
    others = [one for one in cook.journal if one not in over]
    assert not any({"proved", "allowed_by"} & set(one.body) for one in others)
    verified(cook)
    with pytest.raises(OperatorError) as raised:
        cook.sign("Bo")  # who let it pass had a part in it
    assert raised.value.code == "own-batch"
    document = export("test", BATCH, cook.journal)
    second = sheet_data(document, Checked())["weighings"][1]
    assert "Ada, allowed by Bo" in second["details"]
    header = Header({"bench": {"driver": "test", "interval_g": "0.1", "max_g": "6000"}}, "", "test")
    lines = [header_line(header), *filter(None, map(line, cook.inputs))]  # type: ignore[attr-defined]
    given = [one for one in read(lines)[1] if isinstance(one, Command) and one.proved]
    assert [(one.proved, one.allowed_by) for one in given] == [(("Ada", "Bo"), "Bo")]


def test_who_may_not_accept_what_is_off_accepts_what_is_on_target() -> None:
    cook = Cook()
    cook.lift("0.0")
    cook.do("start", formula=formula().content(), by="Ada")
    cook.lift("300")
    cook.do("tare")
    cook.pour("800")
    cook.do("accept", on_target_only=True)
    cook.pour("930")
    with pytest.raises(OperatorError) as raised:
        cook.do("accept", reason="so what", on_target_only=True)
    assert raised.value.code == "needs-right"
    assert cook.kinds().count("addition accepted") == 1
    cook.do("accept", reason="so what")
    assert cook.kinds().count("addition accepted") == 2


def sealed(document: dict[str, Any]) -> dict[str, Any]:
    """The record with good hashes after a change: whoever can write it can do that."""
    prev, after = NOTHING_BEFORE, NOTHING_BEFORE
    first = document["entries"][0]["seq"]
    for n, one in enumerate(document["entries"]):
        one["prev"] = prev if n or first == 1 else one["prev"]
        one["body"]["after"] = after
        if one["kind"] == "countersigned" and one["body"]["of"].pop("fits", True):
            one["body"]["of"]["hash"] = after
        one["hash"] = entry_hash(
            one["seq"], one["station"], one["kind"], one["at"], one["body"], one["prev"]
        )
        prev = after = one["hash"]
    return document


def last(document: dict[str, Any]) -> dict[str, Any]:
    body: dict[str, Any] = document["entries"][-1]["body"]
    return body


Change = Callable[[dict[str, Any]], Any]


@pytest.mark.parametrize(
    "change",
    [
        lambda it: last(it).update(by="Ada"),
        lambda it: last(it).update(by="  "),
        lambda it: last(it).update(by=7),
        lambda it: last(it)["of"].update(n=1),
        lambda it: last(it)["of"].update(n=True),
        lambda it: last(it)["of"].update(hash="0" * 64, fits=False),
        lambda it: last(it).update(more=1),
        lambda it: last(it).update(proved={"Bo": "face"}),
        lambda it: last(it).update(proved={"Zoe": "pin"}),
        lambda it: last(it).update(proved={}),
        lambda it: last(it).update(proved=["Bo"]),
        lambda it: last(it).update(allowed_by="Zoe"),
        lambda it: last(it).update(allowed_by="Zoe", proved={"Bo": "pin", "Zoe": "pin"}),
        lambda it: last(it).update(allowed_by="Bo", proved={"Bo": "pin"}),
        lambda it: last(it).update(allowed_by=None, proved={"Bo": "pin"}),
        lambda it: it["entries"][-2]["body"].update(proved={"Ada": "pin"}),  # the station's own
        lambda it: last(it).pop("by"),
        lambda it: it["entries"][0]["body"].update(operator=""),
        lambda it: it["entries"][1]["body"].update(by=""),  # tared by nobody
    ],
)
def test_what_no_station_writes_does_not_verify(cook: Cook, change: Change) -> None:
    cook.sign(proved=("Bo",))
    good = json.loads(json.dumps(export("test", BATCH, cook.journal)))
    verify_export(sealed(copy.deepcopy(good)), None)
    change(good)
    with pytest.raises(RecordError):
        verify_export(sealed(good), None)


@pytest.mark.parametrize("golden", GOLDEN, ids=lambda it: it.name.split(".")[0])
def test_every_act_has_a_name_and_the_station_has_none(golden: Path) -> None:
    document = json.loads(golden.read_text("utf-8"))
    for one in read_export(document):
        if one.kind not in BY_THE_STATION:
            assert actor(one.body), one.kind


def test_every_kind_of_entry_names_somebody_or_is_the_station_s() -> None:
    for kind, body in KINDS.items():
        named = {"operator", "by"} & set(body["required"])
        assert named or kind in BY_THE_STATION, kind
        assert f"`{kind}`" in DEVELOPERS or str(kind).startswith("lot "), kind
