"""The history of a scale's checks as a plot: one panel for each load, error over time.

What was allowed is a band; each error is drawn with twice its standard uncertainty to each side. A
passed one is a disc, a failed one a cross, one too close to call a hollow diamond: colour only
helps. Corners have a panel of their own, in which letters say where the worst of them was.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.dates import AutoDateLocator, ConciseDateFormatter, date2num
from matplotlib.figure import Figure

from weighd.reports import timeline_look as look

#: Marks and colours of the outcomes.
LOOKS: Mapping[str, Mapping[str, Any]] = {
    "pass": {"marker": "o", "color": look.GOOD, "markerfacecolor": look.GOOD},
    "fail": {"marker": "X", "color": look.OVER, "markerfacecolor": look.OVER},
    "too close to call": {"marker": "D", "color": look.CLOSE, "markerfacecolor": look.GROUND},
}
INCHES, PANEL_IN = 8.0, 1.5


@dataclass(frozen=True, slots=True)
class Dot:
    """One result: when (days), how far off (a range is above zero), ``u`` and limit in grams."""

    at: float
    off_g: float
    u_g: float
    limit_g: float
    outcome: str
    letter: str = ""


def panels(checks: Sequence[Mapping[str, Any]]) -> dict[str, list[Dot]]:
    """What is drawn in each panel, by its title, oldest first."""
    out: dict[str, list[Dot]] = {}
    for check in reversed(checks):
        at = float(date2num(datetime.fromisoformat(check["at"])))  # type: ignore[no-untyped-call]
        for step in check["steps"]:
            if step["part"] == "repeatability":
                continue
            title = _title(step)
            letter = "".join(word[0] for word in step["place"].split())
            out.setdefault(title, []).append(
                _dot(at, step, "error_g", letter if step["part"] == "corner" else "")
            )
        if check["repeatability"]:
            one = check["repeatability"]
            out.setdefault("range of one weight put on again and again", []).append(
                _dot(at, one, "range_g", "")
            )
    return out


def figure(scale: str, checks: Sequence[Mapping[str, Any]]) -> Figure:
    """The plot of checks as :func:`~weighd.station.check_history.history` gives them."""
    found = panels(checks)
    with mpl.rc_context(look.RC):
        sheet = Figure(figsize=(INCHES, 0.7 + PANEL_IN * len(found)), facecolor=look.GROUND)
        axes = sheet.subplots(len(found), 1, sharex=True, squeeze=False)
        for n, (title, dots) in enumerate(found.items()):
            _panel(axes[n][0], title, dots, n)
        last: Axes = axes[-1][0]
        last.margins(x=0.06)
        locator = AutoDateLocator(minticks=2, maxticks=8)  # type: ignore[no-untyped-call]
        last.xaxis.set_major_locator(locator)
        last.xaxis.set_major_formatter(ConciseDateFormatter(locator))  # type: ignore[no-untyped-call]
        last.set_xlabel("UTC", fontsize=look.TEXT)
        sheet.suptitle(f"Checks of the scale {scale}", fontsize=look.TITLE, x=0.01, ha="left")
        sheet.tight_layout()
    return sheet


def _panel(ax: Axes, title: str, dots: Sequence[Dot], number: int) -> None:
    one_sided = title.startswith("range")
    times = [one.at for one in dots]
    high = [one.limit_g for one in dots]
    low = [0.0 if one_sided else -one.limit_g for one in dots]
    ax.fill_between(times, low, high, step="mid", color="#e3efe8", lw=0, gid=f"allowed-{number}")
    for limits in (high,) if one_sided else (high, low):
        ax.step(times, limits, where="mid", color=look.SOFT, lw=0.8, ls="--")
    if len(dots) == 1:  # a band of no width is none
        ax.axhline(high[0], color=look.SOFT, lw=0.8, ls="--", gid=f"limit-{number}")
        if not one_sided:
            ax.axhline(low[0], color=look.SOFT, lw=0.8, ls="--")
    ax.axhline(0, color=look.HAIR, lw=0.8)
    for n, one in enumerate(dots):
        gid = f"check-{number}-{n}-{one.outcome.replace(' ', '-')}"
        ax.errorbar([one.at], [one.off_g], yerr=[2 * one.u_g], color=look.SOFT, lw=0.8, capsize=2)
        ax.plot([one.at], [one.off_g], ms=5.5, mew=1.1, ls="", gid=gid, **LOOKS[one.outcome])
        worst = max((it for it in dots if it.at == one.at), key=lambda it: abs(it.off_g))
        if one.letter and one is worst:
            ax.annotate(
                one.letter,
                (one.at, one.off_g),
                xytext=(5, 2),
                textcoords="offset points",
                fontsize=look.SMALL,
            )
    ax.set_title(title, fontsize=look.TEXT, loc="left", pad=3)
    ax.set_ylabel("g" if one_sided else "error g", fontsize=look.TEXT)
    reach = max(*high, *(abs(one.off_g) + 2 * one.u_g for one in dots)) * 1.15
    ax.set_ylim(-0.05 * reach if one_sided else -reach, reach)


def _title(step: Mapping[str, Any]) -> str:
    if step["weight"] is None:
        return "empty scale"
    name = f"{step['weight']['name']}, {step['weight']['nominal_g']} g"
    return f"corners, {name}" if step["part"] == "corner" else name


def _dot(at: float, one: Mapping[str, Any], key: str, letter: str) -> Dot:
    return Dot(
        at, float(one[key]), float(one["u_g"]), float(one["limit_g"]), one["outcome"], letter
    )
