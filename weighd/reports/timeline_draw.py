"""The two views of a panel: the whole of it, and a close look at the last grams."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from weighd.domain import mass
from weighd.reports import timeline_look as look
from weighd.reports.timeline_panel import Panel
from weighd.reports.trace import Claimed, Point, stretches

#: Disturbed stretches no further apart than this share one word.
TOGETHER_S = 1.0
#: What stands behind words that lie over lines.
PAPER: Any = {"facecolor": look.GROUND, "edgecolor": "none", "pad": 0.6, "alpha": 0.8}
#: Around a claim, the close look reaches this many intervals to each side.
AROUND_D = 6.0


def draw_whole(ax: Axes, panel: Panel) -> None:
    """The display and the claims from start to end, with what disturbed them."""
    times, amounts = panel.displays()
    ax.step(times, amounts, where="post", color=look.COBALT, lw=0.9, gid="readings-whole")
    _claims(ax, panel.claimed(), 1.0)
    _limits(ax, panel)
    known = [one for one in amounts if not math.isnan(one)]
    if known:
        limits = panel.limits()
        top = max([*known, limits[1]] if limits else known)
        # A lifted vessel runs out of the picture at its foot.
        low = max(min(known), -0.3 * top) if panel.tared and top > 0 else min(known)
        room = 0.08 * max(top - low, 4 * panel.d)
        ax.set_ylim(low - room, top + 2.2 * room)
    _disturbed(ax, panel)
    ax.set_ylabel("net g" if panel.tared else "display g", fontsize=look.TEXT)


def draw_close(ax: Axes, panel: Panel) -> None:
    """Readings one by one: around the target, or around each claim where there is no target."""
    covered = panel.close_range()
    if covered is None:
        _around_claims(ax, panel)
    else:
        _around_target(ax, panel, *covered)


# --- around a target -------------------------------------------------------------------------


def _around_target(ax: Axes, panel: Panel, low: float, high: float) -> None:
    times, amounts = panel.displays()
    ax.step(times, amounts, where="post", color=look.COBALT, lw=0.7, alpha=0.6, gid="steps")
    _readings(ax, panel.points, [panel.net(one) for one in panel.points])
    made = panel.claimed()
    _claims(ax, made, 1.0)
    _limits(ax, panel)
    ax.set_ylim(low, high)
    _name_claims(ax, panel, made, 1.0)
    ax.set_ylabel("close look, net g", fontsize=look.TEXT)
    assert panel.part is not None
    assert panel.part.target_g is not None
    target, d = float(panel.part.target_g), panel.d

    def deviation(amount: Any) -> Any:
        return (amount - target) / d

    def amount(deviation: Any) -> Any:
        return deviation * d + target

    side = ax.secondary_yaxis("right", functions=(deviation, amount))
    side.yaxis.set_major_locator(MaxNLocator(7, integer=True))
    side.set_ylabel("d from target", fontsize=look.TEXT)


def _name_claims(
    ax: Axes,
    panel: Panel,
    made: Sequence[tuple[Claimed, float]],
    scale: float,
) -> None:
    """Say the amounts of claims where there is room; point to firm ones above the picture."""
    low, high = ax.get_ylim()
    second, free, last = points_a_second(ax), -math.inf, ""
    for one, height in made:
        amount = mass.text(panel.amount(one.level_g, one))
        text = f"{amount} ± {2 * one.sigma_g:.2f}"
        wide = len(text) * look.WIDE * look.SMALL / second
        edge = one.since + wide > panel.until
        start = one.until - wide if edge else one.since
        if not one.firm or height < low or start < free or amount == last:
            continue
        above = height > high
        place = (one.since, high) if above else (one.until if edge else one.since, height)
        lift = 2 * float(one.sigma_g) * scale
        ax.annotate(
            text,
            place if above else (place[0], height + lift),
            xytext=(0, -14) if above else (0, 4),
            textcoords="offset points",
            ha="right" if edge else "left",
            fontsize=look.SMALL,
            color=look.OVER if above else look.GOOD,
            arrowprops={"arrowstyle": "->", "color": look.OVER, "lw": 0.7} if above else None,
            bbox=PAPER,
            zorder=4,
            gid="claim-above" if above else "claim-amount",
        )
        free, last = start + wide, amount


# --- around claims ---------------------------------------------------------------------------


def references(points: Sequence[Point]) -> list[Decimal | None]:
    """For each reading the level to compare it with: the claim that stands, else the next one,
    else the last one."""
    out: list[Decimal | None] = [one.level_g for one in points]
    following: Decimal | None = None
    for k in range(len(out) - 1, -1, -1):
        following = out[k] if out[k] is not None else following
        out[k] = following
    before: Decimal | None = None
    for k, one in enumerate(out):
        before = one if one is not None else before
        out[k] = before
    return out


def _around_claims(ax: Axes, panel: Panel) -> None:
    levels = references(panel.points)
    heights = [
        None if one.shown_g is None or level is None else float(one.shown_g - level) / panel.d
        for one, level in zip(panel.points, levels, strict=True)
    ]
    broken = [math.nan if one is None else one for one in heights]
    times = [one.t for one in panel.points]
    ax.step(times, broken, where="post", color=look.COBALT, lw=0.7, alpha=0.6, gid="steps")
    _readings(ax, panel.points, heights)
    made = [(one, 0.0) for one, _ in panel.claimed()]
    _claims(ax, made, 1 / panel.d)
    spread = max((2 * float(one.sigma_g) / panel.d for one, _ in made), default=0.0)
    room = max(AROUND_D, 2 * spread)
    ax.set_ylim(-room, room)
    _name_claims(ax, panel, made, 1 / panel.d)
    ax.set_ylabel("d from the claim", fontsize=look.TEXT)


# --- parts of both ---------------------------------------------------------------------------


def _readings(ax: Axes, points: Sequence[Point], heights: Sequence[float | None]) -> None:
    """Readings one by one; the scale's own flag is told by the shape."""
    for flag, (marker, _) in look.FLAGS.items():
        rows = [
            (one.t, height)
            for one, height in zip(points, heights, strict=True)
            if one.stable is flag and height is not None
        ]
        if rows:
            ax.plot(
                [t for t, _ in rows],
                [height for _, height in rows],
                ls="none",
                marker=marker,
                ms=3.0,
                mew=0.5,
                mec=look.COBALT,
                mfc=look.COBALT if flag else look.GROUND,
                gid=f"readings-{'unknown' if flag is None else 'stable' if flag else 'moving'}",
            )


def _claims(ax: Axes, made: Sequence[tuple[Claimed, float]], scale: float) -> None:
    """Claims with two standard uncertainties to each side; what is not firm is dashed."""
    for one, height in made:
        two = 2 * float(one.sigma_g) * scale
        word = "firm" if one.firm else "claim"
        ax.fill_between(
            [one.since, one.until],
            height - two,
            height + two,
            color=look.GOOD if one.firm else look.CLOSE,
            alpha=0.22,
            lw=0,
            gid=f"band-{word}",
        )
        ax.plot(
            [one.since, one.until],
            [height, height],
            color=look.GOOD if one.firm else look.CLOSE,
            lw=2.0 if one.firm else 1.2,
            ls="-" if one.firm else (0, (2, 1)),
            solid_capstyle="butt",
            zorder=3,
            gid=f"level-{word}",
        )


def _limits(ax: Axes, panel: Panel) -> None:
    part = panel.part
    if part is None or part.target_g is None:
        return
    ax.axhline(float(part.target_g), color=look.INK, lw=0.8, gid="target")
    limits = panel.limits()
    if limits is None:
        return
    low, high = limits
    ax.axhspan(low, high, color=look.GOOD, alpha=0.07, lw=0, gid="tolerance")
    for limit, name in ((low, "low"), (high, "high")):
        ax.axhline(limit, color=look.INK, lw=0.7, ls=(0, (5, 2)), gid=name)


def _disturbed(ax: Axes, panel: Panel) -> None:
    """What disturbed the scale, in words; stretches close together share one."""
    together: list[tuple[float, float, str]] = []
    for one in stretches(panel.points):
        if one.word != "disturbed":
            continue
        ax.axvspan(one.since, one.until, color=look.OVER, alpha=0.12, lw=0, gid="disturbed")
        if together and together[-1][2] == one.why and one.since - together[-1][1] < TOGETHER_S:
            together[-1] = (together[-1][0], one.until, one.why)
        else:
            together.append((one.since, one.until, one.why))
    for since, until, why in together:
        ax.text(
            (since + until) / 2,
            0.96,
            why,
            transform=ax.get_xaxis_transform(),
            rotation=90,
            ha="center",
            va="top",
            fontsize=look.SMALL,
            color=look.OVER,
            bbox=PAPER,
            zorder=4,
            gid="cause",
        )


def points_a_second(ax: Axes) -> float:
    """How many points (1/72 inch) wide a second is."""
    figure = ax.get_figure(root=True)
    assert figure is not None
    wide = ax.get_position().width * figure.get_figwidth() * 72
    low, high = ax.get_xlim()
    return wide / max(high - low, 1e-9)
