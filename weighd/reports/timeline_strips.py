"""The strips above and below the views of a panel: entries, gaps, and what was said when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from textwrap import shorten
from typing import Any

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Rectangle

from weighd.reports import timeline_look as look
from weighd.reports.timeline_draw import PAPER, points_a_second
from weighd.reports.timeline_panel import Panel
from weighd.reports.trace import Mark, Stretch, cues, standings, stretches

#: Rows for the words of entries, at most; a word that finds no row free is left to the text.
MOST_LANES = 7
#: The longest words of an entry, in characters.
LONGEST = 46


@dataclass(frozen=True, slots=True)
class Placed:
    """Where the words of an entry stand; ``lane`` is ``None`` where no row was free."""

    mark: Mark
    text: str
    lane: int | None
    left: bool


def place_marks(panel: Panel, wide_in: float) -> list[Placed]:
    """Rows for the words of the entries, in a panel so many inches wide."""
    second = wide_in * 72 / max(panel.until - panel.since, 1e-9)
    free = [panel.since] * MOST_LANES
    out = []
    for mark in panel.marks:
        text = shorten(mark.text, LONGEST, placeholder="…")
        wide = (len(text) * look.WIDE * look.SMALL + 9) / second
        left = mark.t + wide > panel.until
        start = mark.t - wide if left else mark.t
        lane = next((n for n, until in enumerate(free) if until <= start), None)
        if lane is not None:
            free[lane] = mark.t + (6 / second if left else wide)
        out.append(Placed(mark, text, lane, left))
    return out


def lanes(placed: Sequence[Placed]) -> int:
    """How many rows are taken."""
    return max((1 if one.lane is None else one.lane + 1 for one in placed), default=0)


def draw_marks(ax: Axes, below: Sequence[Axes], placed: Sequence[Placed], rows: int) -> None:
    """Entries of the record: a shape and words, and a line down to the readings."""
    ax.set_ylim(-0.65, rows - 0.35)
    ax.axis("off")
    for one in placed:
        shape, t = look.MARKS[one.mark.kind], one.mark.t
        height = one.lane or 0
        for view in below:
            view.axvline(t, color=look.SOFT, lw=0.5, ls=":", zorder=0)
        ax.plot([t, t], [-0.65, height], color=look.SOFT, lw=0.5, ls=":", zorder=0)
        ax.plot(
            t,
            height,
            ls="none",
            marker=shape.marker,
            ms=4.5,
            mec=shape.colour,
            mfc=shape.colour if shape.filled else "none",
            clip_on=False,
            gid=f"mark-{one.mark.kind.replace(' ', '-')}",
        )
        if one.lane is None:
            continue
        ax.annotate(
            one.text,
            (t, height),
            xytext=(-5 if one.left else 5, 0),
            textcoords="offset points",
            ha="right" if one.left else "left",
            va="center",
            fontsize=look.SMALL,
            annotation_clip=False,
            gid="mark-text",
        )


def draw_gaps(axes: Sequence[Axes], panel: Panel) -> None:
    """Stretches in which the scale could not be heard."""
    for gap in panel.gaps:
        for ax in axes:
            ax.axvspan(
                gap.since,
                gap.until,
                facecolor=look.HAIR,
                edgecolor=look.SOFT,
                hatch="--",
                alpha=0.6,
                lw=0,
                gid=f"gap-{gap.why}",
            )
        axes[0].text(
            (gap.since + gap.until) / 2,
            0.96,
            f"scale {gap.why}",
            transform=axes[0].get_xaxis_transform(),
            rotation=90,
            ha="center",
            va="top",
            fontsize=look.SMALL,
            bbox=PAPER,
            zorder=4,
            gid="gap-text",
        )


def draw_bands(ax: Axes, panel: Panel) -> None:
    """What the detector said, and below it how the addition stood, along the time axis."""
    rows: list[tuple[str, list[tuple[Stretch, str, str]], Mapping[str, look.Band]]] = [
        ("detector", [_said(one) for one in stretches(panel.points)], look.DETECTOR)
    ]
    stood = standings(panel.points)
    if stood:
        rows.append(("addition", [_stood(one) for one in stood], look.ADDITION))
    told = cues(panel.points)
    if told:
        rows.append(("cue", [(one, one.word, one.word) for one in told], look.CUE))
    ax.set_ylim(len(rows), 0)
    ax.set_yticks([n + 0.5 for n in range(len(rows))], [name for name, _, _ in rows])
    ax.tick_params(axis="y", length=0, labelsize=look.SMALL)
    second = points_a_second(ax)
    for n, (name, said, styles) in enumerate(rows):
        for one, key, word in said:
            band = styles[key]
            ax.add_patch(
                Rectangle(
                    (one.since, n + 0.08),
                    max(one.until - one.since, 0.6 / second),
                    0.84,
                    facecolor=band.fill,
                    edgecolor=band.edge,
                    hatch=band.hatch,
                    lw=0.4,
                    gid=f"{name}-{key.replace(' ', '-')}",
                )
            )
            if len(word) * look.WIDE * look.SMALL + 5 <= (one.until - one.since) * second:
                ax.text(
                    (one.since + one.until) / 2,
                    n + 0.5,
                    word,
                    ha="center",
                    va="center",
                    fontsize=look.SMALL,
                    bbox=PAPER,
                    gid=f"{name}-word",
                )


def _said(one: Stretch) -> tuple[Stretch, str, str]:
    key = "firm" if one.firm and one.word == "settled" else one.word
    return one, key, one.why or key


def _stood(one: Stretch) -> tuple[Stretch, str, str]:
    """A verdict is the word for what is judged; what is held stays held, whatever it comes to."""
    phase, _, verdict = one.word.partition(": ")
    key = verdict if verdict and phase == "judged" else phase
    return one, key, f"held, {verdict}" if verdict and phase == "held" else key


def legend(figure: Figure, drawn: Sequence[Panel]) -> None:
    """What the shapes, hatches and lines mean: only those that stand in this figure."""
    handles: list[Any] = []
    flags = {one.stable for panel in drawn for one in panel.points}
    for flag, (marker, words) in look.FLAGS.items():
        if flag in flags:
            handles.append(
                Line2D(
                    [],
                    [],
                    ls="none",
                    marker=marker,
                    ms=4,
                    mec=look.COBALT,
                    mfc=look.COBALT if flag else look.GROUND,
                    label=words,
                )
            )
    handles += [
        Line2D([], [], color=look.CLOSE, lw=1.2, ls=(0, (2, 1)), label="claim, ±2 sigma"),
        Line2D([], [], color=look.GOOD, lw=2, label="firm claim, ±2 sigma"),
    ]
    if any(panel.part is not None and panel.part.target_g is not None for panel in drawn):
        handles += [
            Line2D([], [], color=look.INK, lw=0.8, label="target"),
            Line2D([], [], color=look.INK, lw=0.7, ls=(0, (5, 2)), label="low and high"),
        ]
    said = {_said(one)[1] for panel in drawn for one in stretches(panel.points)}
    stood = {_stood(one)[1] for panel in drawn for one in standings(panel.points)}
    names = {"firm": "settled, firm", "settled": "settled, not yet firm"}
    told = {one.word for panel in drawn for one in cues(panel.points)}
    styles = {**look.ADDITION, **look.DETECTOR}
    bands = [(names.get(key, key), styles[key]) for key in styles if key in said | stood]
    bands += [(f"cue: {key}", band) for key, band in look.CUE.items() if key in told]
    for label, band in bands:
        patch = Patch(fc=band.fill, ec=band.edge, hatch=band.hatch, lw=0.4, label=label)
        handles.append(patch)
    kinds = {mark.kind for panel in drawn for mark in panel.marks}
    for kind, shape in look.MARKS.items():
        if kind in kinds:
            handles.append(
                Line2D(
                    [],
                    [],
                    ls="none",
                    marker=shape.marker,
                    ms=4.5,
                    mec=shape.colour,
                    mfc=shape.colour if shape.filled else "none",
                    label=kind,
                )
            )
    figure.legend(
        handles=handles,
        loc="lower center",
        ncols=max(3, int(figure.get_figwidth() / 2.1)),
        fontsize=look.TEXT,
        frameon=False,
        handlelength=2.4,
    )
