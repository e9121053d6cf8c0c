"""The chart of one ingredient, scale or operator: single values, and how far each is from the last.

Values are shares of what is allowed. The allowed band is a ground, the limits of what is usual are
dashed lines. What is on target is a disc, what is not a cross, and what stands out has a ring round
it: colour only helps.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from weighd.reports import timeline_look as look

INCHES = (8.0, 4.6)


def figure(it: Mapping[str, Any]) -> Figure:
    """The plot of a group as :func:`weighd.station.trends.detail` gives it."""
    points, seen = it["points"], it["chart"]
    with mpl.rc_context(look.RC):
        sheet = Figure(figsize=INCHES, facecolor=look.GROUND)
        axes = sheet.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": [3, 1]})
        _values(axes[0], points, seen, {one["at"] for one in it["signals"]})
        _ranges(axes[1], [one["share"] for one in points], seen)
        axes[1].set_xlabel("weighing, oldest first", fontsize=look.TEXT)
        title = f"{it['name']}: {it['n']} weighings, {it['since'][:10]} to {it['until'][:10]}"
        sheet.suptitle(title, fontsize=look.TITLE, x=0.01, ha="left")
        sheet.tight_layout()
    return sheet


def _values(ax: Axes, points: Any, seen: Mapping[str, Any] | None, out: set[int]) -> None:
    ax.axhspan(-1, 1, color="#e3efe8", lw=0, gid="allowed")
    ax.axhline(0, color=look.HAIR, lw=0.8)
    numbers = range(1, len(points) + 1)
    shares = [one["share"] for one in points]
    ax.plot(numbers, shares, color=look.SOFT, lw=0.8)
    for n, one in zip(numbers, points, strict=True):
        good = one["verdict"] == "on target"
        ax.errorbar([n], [one["share"]], yerr=[one["sure"]], color=look.SOFT, lw=0.6)
        ax.plot(
            [n],
            [one["share"]],
            marker="o" if good else "X",
            ms=5,
            color=look.GOOD if good else look.OVER,
            ls="",
            gid=f"value-{n}-{'out' if n - 1 in out else 'usual'}",
        )
        if n - 1 in out:
            ax.plot([n], [one["share"]], "o", ms=11, mfc="none", mec=look.INK, mew=1.1)
    if seen is not None:
        ax.axhline(seen["centre"], color=look.INK, lw=1.0, gid="centre")
        for name in ("low", "high"):
            ax.axhline(seen[name], color=look.INK, lw=0.9, ls="--", gid=f"usual-{name}")
    ax.set_ylabel("share of what\nis allowed", fontsize=look.TEXT)


def _ranges(ax: Axes, shares: list[float], seen: Mapping[str, Any] | None) -> None:
    ranges = [abs(b - a) for a, b in pairwise(shares)]
    ax.plot(range(2, len(shares) + 1), ranges, "o-", ms=3, color=look.SOFT, lw=0.8)
    if seen is not None:
        ax.axhline(seen["mean_range"], color=look.INK, lw=1.0)
        ax.axhline(seen["most_range"], color=look.INK, lw=0.9, ls="--", gid="usual-range")
    ax.set_ylim(bottom=0)
    ax.set_ylabel("from the\nlast", fontsize=look.TEXT)
