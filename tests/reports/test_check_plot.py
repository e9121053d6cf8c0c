"""The plot of a scale's checks: what is drawn of each, and that it repeats."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from tests.station.check_hand import FLAGS, check
from tests.station.scripted import Hand
from weighd.domain.errors import OperatorError
from weighd.main.check_reports import draw
from weighd.reports.check_plot import figure, panels
from weighd.reports.timeline import write
from weighd.station.check_history import history
from weighd.storage.memory import MemoryJournal


@pytest.fixture(scope="module")
def checks() -> list[dict[str, Any]]:
    """Three real ones: passed, too close to call, failed."""
    hand = Hand(check=FLAGS)
    hand.show("0.0")
    for shows in ("2000.1", "2000.5", "1997.0"):
        check(hand, shows)
        hand.tick(24 * 3600)
        hand.found()
        hand.show("0.0")
    journal = MemoryJournal("test")
    journal.append(hand.journal)
    return history(journal, "bench")


def test_each_load_has_a_panel_with_its_errors_oldest_first(checks: list[dict[str, Any]]) -> None:
    found = panels(checks)
    assert list(found) == ["empty scale", "2000 g, 2000 g"]
    dots = found["2000 g, 2000 g"]
    assert [dot.off_g for dot in dots] == [0.1, 0.5, -3.0]
    assert [dot.outcome for dot in dots] == ["pass", "too close to call", "fail"]
    assert {dot.limit_g for dot in dots} == {0.5}
    assert [round(b.at - a.at) for a, b in pairwise(dots)] == [1, 1]  # days


def test_corners_and_repeatability_have_panels_of_their_own(
    checks: list[dict[str, Any]],
) -> None:
    one = {**checks[0], "repeatability": None}
    step = one["steps"][1]
    corners = [
        {**step, "part": "corner", "place": place}
        for place in ("centre", "front left", "back right")
    ]
    again = {"range_g": "0.2", "u_g": "0.05", "limit_g": "0.5", "outcome": "pass"}
    found = panels([{**one, "steps": [*one["steps"], *corners], "repeatability": again}])
    assert [dot.letter for dot in found["corners, 2000 g, 2000 g"]] == ["c", "fl", "br"]
    far = [{**corners[0], "error_g": "0.0"}, {**corners[1], "error_g": "-0.4"}]
    sheet = figure("bench", [{**one, "steps": far}])
    assert [text.get_text() for text in sheet.axes[0].texts] == ["fl"]  # the worst alone
    (dot,) = found["range of one weight put on again and again"]
    assert dot.off_g == 0.2


def test_the_plot_names_what_it_draws_and_is_the_same_each_time(
    checks: list[dict[str, Any]], tmp_path: Path
) -> None:
    for n in (1, 2):
        write(figure("bench", checks), tmp_path / f"{n}.svg")
    drawn = (tmp_path / "1.svg").read_text()
    assert drawn == (tmp_path / "2.svg").read_text()
    assert re.findall(r'id="(check-1-[^"]+)"', drawn) == [
        "check-1-0-pass",
        "check-1-1-too-close-to-call",
        "check-1-2-fail",
    ]
    assert "Checks of the scale bench" in drawn
    write(figure("bench", checks[:1]), tmp_path / "one.png")
    assert (tmp_path / "one.png").read_bytes()[:4] == b"\x89PNG"


def test_where_it_cannot_be_written_that_is_said(
    checks: list[dict[str, Any]], tmp_path: Path
) -> None:
    with pytest.raises(OperatorError, match="SVG or PNG"):
        draw("bench", checks, tmp_path / "plot.pdf")
    with pytest.raises(OperatorError, match="cannot be written"):
        draw("bench", checks, tmp_path / "missing" / "plot.svg")
