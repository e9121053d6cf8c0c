"""What is written down while a session is replayed, or a log is watched."""

from __future__ import annotations

import io
import json
import math
from decimal import Decimal

import pytest

from tests.reports.scripted_trace import trace, weighed
from weighd.cli.settle import run as settle
from weighd.domain.errors import SessionError
from weighd.domain.settling import Phase
from weighd.reports.timeline_text import lines
from weighd.reports.trace import LOG_SCALE, Gap, Point, claims, standings, stretches
from weighd.reports.tracing import log_trace


def test_every_reading_entry_and_refusal_is_written_down() -> None:
    hand = weighed()
    seen = trace(hand)
    points = seen.scales["bench"].points
    heard = [one for one in hand.kept if type(one).__name__ == "Heard"]
    assert [one.t for one in points] == [one.t for one in heard]
    assert points[0].shown_g == Decimal("312.4")
    kinds = [one.kind for one in seen.marks]
    assert [one for one in kinds if one != "refused"] == hand.kinds()
    assert kinds.count("refused") == 1
    assert [(one.n, one.name) for one in seen.parts] == [(1, "Milk"), (2, "Sugar"), (3, "Salt")]
    assert [one.target_g for one in seen.parts] == [Decimal(500), Decimal(120), Decimal(2)]
    for one, following in zip(seen.parts, seen.parts[1:], strict=False):
        assert one.since < one.until == following.since
    told = {one.kind: (one.text, one.part) for one in seen.marks}
    assert told["tared"] == ("tared at 312.4 g", 0)
    assert told["decided"] == ("decided: take out", 0)
    assert told["batch abandoned"] == ("batch abandoned: the salt is damp", 2)
    assert told["zero moved"] == ("zero moved by -900.0 g: tare key", 1)
    accepted = [(one.text, one.part) for one in seen.marks if one.kind == "addition accepted"]
    assert accepted == [
        ("accepted 500.0 g: on target", 0),
        ("accepted 120.0 g: on target", 1),
    ]


def test_a_claim_carries_its_uncertainty_and_its_tare() -> None:
    seen = trace()
    made = [one for one in claims(seen.scales["bench"].points) if one.firm]
    amounts = {one.level_g - one.tare_g for one in made if one.tare_g is not None}
    assert {Decimal("520.0"), Decimal("500.0"), Decimal("120.0")} <= amounts
    steady = next(one for one in made if one.tare_g and one.level_g - one.tare_g == Decimal(500))
    # A steady display: d/sqrt(12) for each of two readings (GUM, JCGM 100:2008, F.2.2.1, 5.1.2).
    assert float(steady.sigma_g) == pytest.approx(0.1 / math.sqrt(12) * math.sqrt(2), abs=2e-4)
    before = next(one for one in made if one.tare_g is None)
    assert float(before.sigma_g) == pytest.approx(0.1 / math.sqrt(12), abs=1e-4)


def test_a_silence_is_a_gap_from_its_own_moment() -> None:
    seen = trace()
    (gap,) = seen.scales["bench"].gaps
    times = [one.t for one in seen.scales["bench"].points]
    before = max(t for t in times if t <= gap.since)
    after = min(t for t in times if t > gap.since)
    assert gap == Gap(pytest.approx(before + 2.0), pytest.approx(after), "silent")
    held = next(one for one in seen.marks if one.text.startswith("held: scale silent"))
    assert held.t == pytest.approx(gap.since)


def test_disturbances_have_their_cause_and_verdicts_stand_with_the_phase() -> None:
    points = trace().scales["bench"].points
    whys = {one.why for one in stretches(points) if one.word == "disturbed"}
    assert {"lift", "overload"} <= whys
    stood = [one.word for one in standings(points)]
    assert stood[0] == "awaiting vessel"
    assert "held: over" in stood
    assert "judged: on target" in stood


def test_what_is_outside_the_span_is_left_out() -> None:
    whole = trace()
    part = whole.between(3.0, 8.0)
    kept = [one.t for one in part.scales["bench"].points]
    assert kept == [one.t for one in whole.scales["bench"].points if 3.0 <= one.t <= 8.0]
    assert [one.t for one in part.marks] == [one.t for one in whole.marks if 3.0 <= one.t <= 8.0]
    assert len(part.parts) == len(whole.parts)  # readings name them by their place


def test_a_run_ends_where_the_display_falls_silent() -> None:
    def at(t: float) -> Point:
        return Point(t, Decimal(1), None, "settled", "", Decimal(1), Decimal("0.03"), firm=True)

    runs = stretches([at(0.0), at(1.0), at(1.5), at(60.0), at(61.0)])
    assert [(one.since, one.until) for one in runs] == [(0.0, 3.5), (60.0, 61.0)]
    assert stretches([]) == []


def test_the_text_has_a_line_a_change_and_a_line_an_entry() -> None:
    seen = trace()
    told = list(lines(seen, "bench"))
    assert told[0].startswith("by-hand.jsonl: scale bench, d 0.1 g, ")
    assert told[1].endswith("  addition")
    assert told[1].index("grams") == told[2 + 3].index("312.4")
    times = [float(one.split()[0]) for one in told[2:]]
    assert times == sorted(times)
    entries = [one for one in told if one[11:13] == "= "]
    assert len(entries) == sum(one.kind != "refused" for one in seen.marks)
    held = next(n for n, one in enumerate(told) if "= held: over, 520.0 g in" in one)
    assert told[held + 1].split()[1:6] == ["settled", "832.4", "520.0", "0.0408", "firm"]
    assert told[held + 1].endswith("1 Milk held: over")
    assert any(one.endswith("2 Sugar pouring, cue: stop") for one in told)
    assert any(one.split()[1:6] == ["settled", "812.4", "500.0", "0.0408", "firm"] for one in told)
    assert any("disturbed" in one and "overload" in one for one in told)
    assert any("! scale silent" in one for one in told)
    assert any("! accept refused: The Milk is over" in one for one in told)


# --- logs ----------------------------------------------------------------------------------------


def log(*extra: str) -> list[str]:
    """A vessel, 120 g poured, and a second addition after a reset; as programs write them."""
    rows: list[str] = ['{"reset": true, "interval_g": "0.1", "tolerance_g": "1.0"}']
    grams, t = Decimal("312.4"), 0.0

    def show(seconds: float, step: Decimal = Decimal(0)) -> None:
        nonlocal grams, t
        for _ in range(round(seconds * 10)):
            grams, t = grams + step, round(t + 0.1, 3)
            rows.append(json.dumps({"t": t, "grams": str(grams), "stable": None, "over": False}))

    show(2.0)
    show(2.0, Decimal(6))
    show(3.0)
    rows.append(
        '{"reset": true, "ingredient": "sugar", "target_g": "20", "tolerance_g": "0.5"}',
    )
    show(1.0)
    show(1.0, Decimal(2))
    show(3.0)
    return [*rows, *extra]


def test_a_log_says_what_settle_says() -> None:
    out = io.StringIO()
    assert settle(io.StringIO("\n".join(log())), out)
    answers = [json.loads(one) for one in out.getvalue().splitlines()]
    points = log_trace("a.jsonl", log()).scales[LOG_SCALE].points
    assert len(points) == len(answers) > 100
    for point, answer in zip(points, answers, strict=True):
        assert (point.t, point.phase, point.why) == (answer["t"], answer["phase"], answer["why"])
        if answer["phase"] == Phase.SETTLED:
            assert point.level_g is not None
            assert point.tare_g is not None
            assert str(point.level_g - point.tare_g) == answer["grams"]
            assert str(point.sigma_g) == answer["sigma_g"]
        else:
            assert point.level_g is None or point.phase == Phase.EMPTY


def test_resets_are_additions_with_what_they_name() -> None:
    seen = log_trace("a.jsonl", log())
    first, second = seen.parts
    assert (first.n, first.name, first.target_g) == (1, "", None)
    assert (second.n, second.name, second.target_g) == (2, "sugar", Decimal(20))
    assert (second.low_g, second.high_g) == (Decimal("19.5"), Decimal("20.5"))
    assert first.until < second.since
    assert {one.part for one in seen.scales[LOG_SCALE].points} == {0, 1}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "line 123"),
        ('{"t": 1}', "time goes back"),
        ('{"t": "noon", "grams": "1"}', "noon"),
        ('{"t": 99, "grams": "heavy"}', "heavy"),
        ('{"reset": true, "interval_g": "-1"}', "above zero"),
        ('{"reset": true, "target_g": "much"}', "much"),
        ("[1, 2]", "line 123"),
    ],
)
def test_a_line_that_is_no_reading_is_named(text: str, said: str) -> None:
    assert len(log()) == 122
    with pytest.raises(SessionError, match=said) as caught:
        log_trace("a.jsonl", log(text))
    assert caught.value.code == "bad-session-line"
    assert "a.jsonl, line 123" in caught.value.where
