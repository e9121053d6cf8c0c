"""What was put right on a record sheet: struck out, beside what stands, and listed."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from tests.reports.put_right import put_right
from tests.reports.records import HOSTILE, bodies
from tests.reports.test_sheet import reaches_out, read, words
from tests.reports.test_sheet_process import document
from tests.station.process_cook import Cook
from weighd.main.outputs import checked, sheet
from weighd.reports.sheet_data import sheet_data


@pytest.fixture(scope="module")
def record() -> dict[str, Any]:
    return put_right()


def test_what_was_recorded_first_is_struck_out_beside_what_stands(record: dict[str, Any]) -> None:
    data = sheet_data(record, checked(record))
    first, second, third = data["weighings"]
    assert {"was": "Tester"} in first["details"][-1]
    assert first["details"][-1][-1] == "Cleo"
    assert second["reason"] == [{"was": "it pours so"}, {"gap": True}, "the spout drips"]
    assert third["details"][-1] == "Tester"
    assert ["Made by", [{"was": "Tester"}, {"gap": True}, "Dora"]] in data["facts"]
    made, trouble = sheet(record)
    assert trouble is None
    assert len(read(made).pages) == 1
    text = words(made)
    for told in (
        'lots R-0001 none 200.0 g, R-0002 L"3\\é 300.0 g',
        "\u201cit pours so the spout drips\u201d",
        "Put right afterwards",
        "1. Milk: lot 1 R-0001 R-0002 \u201cwrong label\u201d Bo",
        "Batch opened: operator Tester Dora \u201cwrong label\u201d Bo",
    ):
        assert told in text, told
    # Listed once, and not among what was out of the ordinary as well.
    assert text.count("\u201cwrong label\u201d") == 6
    assert read(made).xmp_metadata.pdfaid_part == "2"  # type: ignore[union-attr]


def test_a_struck_out_word_has_a_line_through_it(record: dict[str, Any]) -> None:
    """As many lines are drawn more than on the sheet of the same batch without its corrections."""
    plain = {**record, "entries": [it for it in record["entries"] if it["kind"] != "corrected"]}

    def lines(one: dict[str, Any]) -> int:
        content = read(sheet(one)[0]).pages[0].get_contents()
        assert content is not None
        return content.get_data().count(b"\nS\n")

    # Six in the list, five where they stand (of the lot put right twice the first), and the rules
    # of the list: one below its head, and one below each row.
    assert lines(record) - lines(plain) == 6 + 5 + 7


def test_steps_and_draws_tell_who_it_was_after_all() -> None:
    cook = Cook()
    batch = cook.weigh()
    cook.mix(batch)
    cook.step(batch, "begin step")
    cook.step(batch, "note step", note="the probe was wet")
    entries = {one.kind: one.body["n"] for one in cook.of(batch)}
    for n, field, old, new in (
        (entries["step noted"], "note", "the probe was wet", "the probe was cold"),
        (entries["step begun"], "operator", "Bo", "Cleo"),
    ):
        cook.do("correct", batch=batch, entry=n, field=field, old=old, new=new, reason="x", by="Al")
    text = words(sheet(document(cook, batch))[0])
    assert "the probe was wet the probe was cold (Bo)" in text
    assert "Step 2, step begun: operator Bo Cleo" in text


@pytest.mark.parametrize("text", HOSTILE[:6])
def test_what_somebody_put_right_is_text_and_nothing_else(
    record: dict[str, Any], text: str
) -> None:
    spoilt = copy.deepcopy(record)
    for body in bodies(spoilt, "corrected"):
        body |= {"old": text, "new": text, "reason": text, "by": text, "field": text or "lot"}
        body["of"]["n"] = [text] if text else 1
    made, trouble = sheet(spoilt)
    assert trouble is not None
    assert not reaches_out(read(made))
