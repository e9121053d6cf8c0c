"""What is drawn of a trace: marks, claims, bands and limits, by the names they carry."""

from __future__ import annotations

import math
import os
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.text import Text

from tests.dose import LONG
from tests.reports.scripted_trace import trace
from tests.reports.test_tracing import log
from weighd.domain.addition import Phase as Stand
from weighd.domain.batch import Kind
from weighd.domain.metrology import Verdict
from weighd.domain.pouring import Cue
from weighd.domain.settling import Phase
from weighd.main.timelines import draw, scale_of, trace_of
from weighd.reports import timeline_look as look
from weighd.reports.timeline import MOST_PANELS, figure, title, write
from weighd.reports.timeline_draw import references
from weighd.reports.timeline_panel import WAIT_S, panels
from weighd.reports.timeline_strips import lanes, place_marks
from weighd.reports.trace import LOG_SCALE, Mark, Part, Point, Seen, Trace, claims, cues
from weighd.reports.tracing import log_trace

SESSIONS = sorted((Path(__file__).parents[2] / "fixtures" / "sessions").glob("*.jsonl"))
#: Those that are drawn whole: a plain one, and one with a cable pulled; all in the long run.
DRAWN = [one for one in SESSIONS if LONG or one.stem in ("plain", "unplugged")]


def named(sheet: Figure) -> Counter[str]:
    """How many things of each name are drawn."""
    return Counter(str(one.get_gid()) for one in sheet.findobj() if one.get_gid())


def lines_named(sheet: Figure, name: str) -> list[Line2D]:
    return [one for one in sheet.findobj(Line2D) if one.get_gid() == name]


def texts(sheet: Figure) -> list[str]:
    return [one.get_text() for one in sheet.findobj(Text) if one.get_text()]


# --- a scripted session --------------------------------------------------------------------------


def test_each_addition_has_its_panel_limits_and_entries() -> None:
    seen = trace()
    sheet = figure(seen, "bench")
    drawn = named(sheet)
    assert drawn["panel-title"] == 3
    assert "1  Milk   target 500 g, 495 to 505" in texts(sheet)
    kinds = Counter(one.kind for one in seen.marks if one.part is not None)
    assert kinds["held"] == 2
    for kind, count in kinds.items():
        assert drawn[f"mark-{kind.replace(' ', '-')}"] == count, kind
    for words in (
        "tared at 312.4 g",
        "held: over, 520.0 g in",
        "decided: take out",
        "accepted 500.0 g: on target",
        "batch abandoned: the salt is damp",
    ):
        assert words in texts(sheet)
    # Each panel but the last, whose salt never came, shows target and limits twice: whole, close.
    assert drawn["target"] == drawn["low"] == drawn["high"] == 5
    (whole, close, *_) = lines_named(sheet, "high")
    assert list(whole.get_ydata()) == list(close.get_ydata()) == [505.0, 505.0]
    assert drawn["gap-silent"] >= 1
    assert {"lift", "overload"} <= set(texts(sheet))
    told = sum(len(cues(one.points)) for one in panels(seen, "bench"))
    assert drawn["cue-pour"] + drawn["cue-slow"] + drawn["cue-stop"] == told > 3


def test_claims_are_drawn_where_they_stood_and_firm_ones_apart() -> None:
    seen = trace()
    panel = panels(seen, "bench")[0]
    sheet = figure(seen, "bench")
    firm = [one for one in claims(panel.points) if one.firm]
    lines = lines_named(sheet, "level-firm")
    spans = {tuple(float(x) for x in one.get_xdata()) for one in lines}
    assert {(one.since, one.until) for one in firm} <= spans
    assert all(one.get_linestyle() == "-" for one in lines)
    assert all(one.get_linestyle() != "-" for one in lines_named(sheet, "level-claim"))
    # A steady display is known to 2 * d/sqrt(6) to each side (GUM, JCGM 100:2008, F.2.2.1).
    bands = [one for one in sheet.findobj() if one.get_gid() == "band-firm"]
    heights = []
    for band in bands:
        ys = band.get_paths()[0].vertices[:, 1]
        heights.append(ys.max() - ys.min())
    assert min(heights) == pytest.approx(4 * 0.1 / math.sqrt(12), abs=1e-3)  # before the tare
    assert any(one == pytest.approx(4 * 0.1 / math.sqrt(6), abs=1e-3) for one in heights)


def test_an_over_pour_outside_the_close_look_is_pointed_to() -> None:
    seen = trace()
    panel = panels(seen, "bench")[0]
    covered = panel.close_range()
    assert covered is not None
    assert covered[0] < 495 < 505 < covered[1]
    assert covered[1] > 520  # 15 g over is near enough to be shown
    far = [
        replace(one, level_g=Decimal("932.4")) if one.level_g == Decimal("832.4") else one
        for one in panel.points
    ]
    seen.scales["bench"].points[: len(far)] = far
    drawn = figure(seen, "bench")
    assert named(drawn)["claim-above"] == 1
    assert any(one.startswith("620.0 ± ") for one in texts(drawn))


def test_the_scales_flag_is_told_by_the_shape_of_a_reading() -> None:
    flags = [True, False, None]
    points = [Point(k / 10, Decimal("1.0"), flags[k % 3], "settling", part=0) for k in range(30)]
    part = Part(
        1, "Salt", "s", 0.0, 3.0, Decimal("0.1"), Decimal(1), Decimal("0.8"), Decimal("1.2")
    )
    sheet = figure(Trace("x", "", {"s": Seen("s", Decimal("0.1"), points)}, [part]), "s")
    shapes = {}
    for name in ("stable", "moving", "unknown"):
        (line,) = lines_named(sheet, f"readings-{name}")
        assert len(line.get_xdata()) == 10
        shapes[name] = line.get_marker()
    assert len(set(shapes.values())) == 3


def test_a_silence_and_a_missing_number_break_the_line() -> None:
    panel = panels(trace(), "bench")
    times, amounts = panel[0].displays()
    (gap,) = panel[0].gaps
    assert math.isnan(amounts[times.index(gap.since)])
    times, amounts = panel[2].displays()
    overload = [t for t, amount in zip(times, amounts, strict=True) if math.isnan(amount)]
    assert len(overload) == 5


# --- which panels --------------------------------------------------------------------------------


def wait_then_pour(wait: float, pour: float) -> Trace:
    points, grams = [], Decimal(0)
    for k in range(round((wait + pour) * 10)):
        if k > wait * 10:
            grams += Decimal("0.5")
        points.append(Point(k / 10, grams, True, "settled", part=0, tare_g=Decimal(0)))
    end = points[-1].t
    target = points[-1].shown_g
    assert target is not None
    part = Part(1, "Sugar", "s", 0.0, end, Decimal("0.1"), target, target - 1, target + 1)
    return Trace("x", "", {"s": Seen("s", Decimal("0.1"), points)}, [part])


def test_a_long_wait_before_the_pour_is_cut() -> None:
    (panel,) = panels(wait_then_pour(20.0, 5.0), "s")
    assert panel.since == pytest.approx(20.0 - WAIT_S, abs=0.8)
    assert panel.points[0].t >= panel.since
    (panel,) = panels(wait_then_pour(2.0, 5.0), "s")
    assert panel.since == 0.0


def test_the_end_of_a_long_addition_is_shown_once_more() -> None:
    whole, end = panels(wait_then_pour(1.0, 120.0), "s")
    assert "its last" in title(end)
    assert "its last" not in title(whole)
    assert end.until == whole.until
    covered = whole.close_range()
    assert covered is not None
    came = end.net(next(one for one in end.points if one.t >= end.since + 1.0))
    assert came is not None
    assert came == pytest.approx(covered[0], abs=1.0)


def test_without_additions_all_of_it_is_one_panel_and_pieces_where_it_is_long() -> None:
    seen = wait_then_pour(5.0, 20.0)
    seen.parts.clear()
    (panel,) = panels(seen, "s")
    assert title(panel) == "the whole recording"
    long = wait_then_pour(5.0, 90.0)
    long.parts.clear()
    first, *pieces = panels(long, "s")
    assert len(pieces) == 4
    assert title(first) == "the whole recording"
    assert [one.points[0].t for one in pieces] == sorted(one.points[0].t for one in pieces)
    assert {one.t for piece in pieces for one in piece.points} == {one.t for one in first.points}


def test_more_additions_than_fit_are_said_to_be_left_out() -> None:
    points = [Point(k * 0.1, Decimal(k), True, "pouring", part=k // 4) for k in range(4 * 30)]
    parts = [
        Part(n + 1, f"lot {n}", "s", n * 0.4, n * 0.4 + 0.3, Decimal("0.1")) for n in range(30)
    ]
    sheet = figure(Trace("x", "", {"s": Seen("s", Decimal("0.1"), points)}, parts), "s")
    assert named(sheet)["panel-title"] == MOST_PANELS == 24
    assert any("6 more additions are not drawn" in one for one in texts(sheet))


def test_around_claims_a_reading_is_compared_with_the_claim_that_stands_or_comes() -> None:
    levels = [None, Decimal(5), None, None, Decimal(9), None]
    points = [
        Point(float(n), Decimal(n), None, "x", level_g=level) for n, level in enumerate(levels)
    ]
    assert references(points) == [5, 5, 9, 9, 9, 9]
    assert references([points[0]]) == [None]


def test_words_of_entries_never_overlap() -> None:
    (panel,) = panels(wait_then_pour(2.0, 5.0), "s")
    crowd = [Mark(1.0 + n * 0.05, "held", f"held: reason number {n}", 0) for n in range(12)]
    placed = place_marks(replace(panel, marks=crowd), wide_in=6.0)
    rows = [one.lane for one in placed]
    taken = [one for one in rows if one is not None]
    assert len(set(taken)) == len(taken) == lanes(placed) == 7  # too close to share any row
    assert rows.count(None) == 5
    apart = [Mark(0.5, "tared", "tared", 0), Mark(4.0, "held", "held", 0)]
    assert [one.lane for one in place_marks(replace(panel, marks=apart), wide_in=6.0)] == [0, 0]


# --- shapes and words ----------------------------------------------------------------------------


def luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of relative luminance)."""
    parts = [int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)]
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b


def test_no_two_bands_of_a_row_differ_by_hue_alone() -> None:
    for row in (look.DETECTOR, look.ADDITION, look.CUE):
        seen: dict[tuple[str, bool], str] = {}
        for word, band in row.items():
            looks = (band.hatch, luminance(band.fill) < 0.3)
            assert looks not in seen or {word, seen[looks]} <= {"held", "disturbed"}, word
            seen[looks] = word


def test_every_word_has_its_look() -> None:
    assert {str(one) for one in Phase} | {"firm"} == set(look.DETECTOR)
    assert {str(one) for one in Stand} - {"accepted"} | {str(one) for one in Verdict} == set(
        look.ADDITION
    )
    assert {str(one) for one in Cue} == set(look.CUE)
    assert {str(one) for one in Kind} | {"refused"} == set(look.MARKS)
    assert len({(one.marker, one.filled, one.colour) for one in look.MARKS.values()}) == len(
        look.MARKS
    )


# --- files ---------------------------------------------------------------------------------------


def test_a_log_is_drawn_around_its_claims_and_around_a_target_it_names() -> None:
    sheet = figure(log_trace("a.jsonl", log()), LOG_SCALE)
    drawn = named(sheet)
    assert drawn["panel-title"] == 2
    assert drawn["target"] == 2
    labels: list[Any] = [one.get_ylabel() for one in sheet.axes]
    assert "d from the claim" in labels
    assert "close look, net g" in labels


@pytest.mark.parametrize("session", DRAWN, ids=lambda one: one.stem)
def test_recorded_sessions_are_drawn(session: Path, tmp_path: Path) -> None:
    seen = trace_of(session)
    file = tmp_path / "x.svg"
    draw(seen, scale_of(seen, None), file)
    tree = ET.parse(file)
    ids = Counter(one.get("id", "") for one in tree.iter())
    said = {one.text for one in tree.iter() if one.tag.endswith("text")}
    entries = [one for one in seen.marks if one.part is not None]
    assert entries
    for mark in entries:
        assert ids[f"mark-{mark.kind.replace(' ', '-')}"], mark
    for word in ("pouring", "settling", "detector", "addition", "seconds", "target"):
        assert word in said
    if not LONG and session.stem != "plain":
        return  # a drawing is a drawing: one as a picture will do
    draw(seen, scale_of(seen, None), tmp_path / "x.png")
    assert (tmp_path / "x.png").read_bytes().startswith(b"\x89PNG\r\n\x1a\n")


def test_the_same_trace_gives_the_same_bytes(tmp_path: Path) -> None:
    files = [tmp_path / "a.svg", tmp_path / "b.svg"]
    for file in files:
        write(figure(trace(), "bench"), file)
    assert files[0].read_bytes() == files[1].read_bytes()
    # and in another process, where strings hash otherwise
    made = []
    for seed in ("1", "2"):
        out = tmp_path / f"{seed}.svg"
        subprocess.run(
            [sys.executable, "-m", "weighd", "timeline", str(SESSIONS[0]), "-o", str(out)],
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
        )
        made.append(out.read_bytes())
    assert made[0] == made[1]
    assert b"<dc:date>" not in made[0]


def test_nothing_but_drawing_brings_the_plotting_library() -> None:
    asked = (
        "import sys, weighd.cli.app, weighd.main.daemon, weighd.main.timelines, "
        "weighd.reports.timeline_text\n"
        "print([name for name in ('matplotlib', 'numpy') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
