"""A trace as a plot: for each addition the whole of it, its last grams, and what was said.

A panel is four strips over one time axis, from the top: entries of the record; the whole
addition; a close look, around the target where there is one, else in scale intervals from the
claim; and what the detector said and how the addition stood. The same trace gives the same SVG,
byte for byte.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from textwrap import shorten
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import GridSpec, GridSpecFromSubplotSpec, SubplotSpec
from matplotlib.ticker import MaxNLocator

from weighd.domain import mass
from weighd.reports import timeline_look as look
from weighd.reports.timeline_draw import draw_close, draw_whole
from weighd.reports.timeline_panel import Panel, panels
from weighd.reports.timeline_strips import (
    draw_bands,
    draw_gaps,
    draw_marks,
    lanes,
    legend,
    place_marks,
)
from weighd.reports.timeline_text import heading
from weighd.reports.trace import Trace

#: More panels than these on one sheet cannot be read.
MOST_PANELS = 24
#: Heights of the strips of a panel in inches: a row of entries, the whole, the close look, bands.
LANE_IN, WHOLE_IN, CLOSE_IN, BANDS_IN = 0.135, 1.0, 1.75, 0.58
PNG_DPI = 130
_COLUMN_IN, _TITLE_IN, _TIME_IN = 7.6, 0.32, 0.42
_LEFT_IN, _RIGHT_IN, _BETWEEN_IN, _HEAD_IN, _FOOT_IN = 0.75, 0.6, 1.1, 0.62, 0.75


def figure(trace: Trace, scale: str) -> Figure:
    """The plot of one scale; at most ``MOST_PANELS`` additions of it, the first ones."""
    every = panels(trace, scale)
    drawn = every[:MOST_PANELS]
    columns = min(1 if len(drawn) == 1 else 2 if len(drawn) <= 8 else 3, max(len(drawn), 1))
    rows = max(math.ceil(len(drawn) / columns), 1)
    wide = (12.0 if columns == 1 else _COLUMN_IN) * columns
    room = (wide - _LEFT_IN - _RIGHT_IN - (columns - 1) * _BETWEEN_IN) / columns
    placed = [place_marks(panel, room) for panel in drawn]
    taken = [
        max([1, *(lanes(one) for one in placed[row * columns : (row + 1) * columns])])
        for row in range(rows)
    ]
    strips = [(lane * LANE_IN, WHOLE_IN, CLOSE_IN, BANDS_IN) for lane in taken]
    strip = sum(map(sum, strips)) / rows
    gap = _TITLE_IN + _TIME_IN
    high = _HEAD_IN + rows * (strip + gap) + _FOOT_IN
    with mpl.rc_context(look.RC):
        sheet = Figure(figsize=(wide, high), facecolor=look.GROUND)
        grid = GridSpec(
            rows,
            columns,
            figure=sheet,
            left=_LEFT_IN / wide,
            right=1 - _RIGHT_IN / wide,
            top=1 - (_HEAD_IN + _TITLE_IN) / high,
            bottom=(_FOOT_IN + _TIME_IN) / high,
            wspace=_BETWEEN_IN / room,
            hspace=gap / strip,
            height_ratios=[sum(one) for one in strips],
        )
        for n, panel in enumerate(drawn):
            row = n // columns
            marks = _draw(sheet, grid[row, n % columns], panel, strips[row])
            draw_marks(marks[0], marks[1:], placed[n], taken[row])
        _head(sheet, trace, scale, len(every) - len(drawn))
        legend(sheet, drawn)
    return sheet


def write(sheet: Figure, path: Path) -> None:
    """Write a plot as SVG or PNG, by the ending of its name. Raises ``OSError``."""
    kind = path.suffix.lower().removeprefix(".")
    nameless: dict[str, Any] = {"png": {"Software": None}, "svg": {"Date": None, "Creator": None}}
    with mpl.rc_context(look.RC):
        sheet.savefig(path, format=kind, metadata=nameless[kind], dpi=PNG_DPI)


def _draw(
    sheet: Figure, place: SubplotSpec, panel: Panel, heights: Sequence[float]
) -> tuple[Axes, ...]:
    """One panel; the strip for its entries, still empty, and the views below it."""
    strips = GridSpecFromSubplotSpec(4, 1, place, hspace=0.05, height_ratios=heights)
    whole = sheet.add_subplot(strips[1])
    marks = sheet.add_subplot(strips[0], sharex=whole)
    close = sheet.add_subplot(strips[2], sharex=whole)
    bands = sheet.add_subplot(strips[3], sharex=whole)
    room = 0.012 * max(panel.until - panel.since, 1.0)
    whole.set_xlim(panel.since - room, panel.until + room)
    draw_whole(whole, panel)
    draw_close(close, panel)
    draw_bands(bands, panel)
    draw_gaps((whole, close, bands), panel)
    for ax in (whole, close):
        ax.tick_params(labelbottom=False, bottom=False)
        ax.yaxis.set_major_locator(MaxNLocator(5 if ax is whole else 7))
        ax.grid(axis="y", color=look.HAIR, lw=0.4)
        ax.set_axisbelow(True)
        ax.ticklabel_format(useOffset=False, style="plain", axis="y")
    bands.set_xlabel("seconds", fontsize=look.TEXT, labelpad=1)
    marks.set_title(title(panel), fontsize=look.TITLE, loc="left", pad=3, gid="panel-title")
    return marks, whole, close


def title(panel: Panel) -> str:
    """What a panel is about: the addition, its target and limits."""
    part = panel.part
    if part is None:
        return panel.piece or "the whole recording"
    name = f"{part.n}  {shorten(part.name, 44, placeholder='…')}".rstrip()
    if panel.piece:
        name += f", {panel.piece}"
    if part.target_g is None:
        return name
    out = f"{name}   target {mass.text(part.target_g)} g"
    if part.low_g is not None and part.high_g is not None:
        out += f", {mass.text(part.low_g)} to {mass.text(part.high_g)}"
    return out


def _head(sheet: Figure, trace: Trace, scale: str, left_out: int) -> None:
    high = sheet.get_figheight()
    more = f"   ({left_out} more additions are not drawn)" if left_out else ""
    sheet.text(
        _LEFT_IN / sheet.get_figwidth(),
        1 - 0.26 / high,
        heading(trace, trace.scales[scale]) + more,
        fontsize=look.TITLE + 1.5,
        weight="bold",
        gid="heading",
    )
    sheet.text(
        _LEFT_IN / sheet.get_figwidth(),
        1 - 0.47 / high,
        shorten(trace.note, 170, placeholder="…"),
        fontsize=look.TEXT,
        color=look.SOFT,
        gid="note",
    )
