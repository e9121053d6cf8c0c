"""What stands for what in a timeline: words, hatches and shapes; colour only helps."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

INK = "#0c1730"
SOFT = "#45526b"
HAIR = "#c9d3e0"
GROUND = "#ffffff"
COBALT = "#1d3c9e"
GOOD = "#0a6a3a"
OVER = "#b02a10"
CLOSE = "#6a2a9e"

#: Sizes of text, in points.
TITLE, TEXT, SMALL = 9.5, 7.5, 6.8

#: How wide a character is, as a share of its size; a little more than most are.
WIDE = 0.58

#: matplotlib's settings for one figure; the salt and the plain text make SVG files repeat.
RC: Any = {
    "svg.hashsalt": "weighd",
    "svg.fonttype": "none",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": TEXT,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelsize": TEXT,
    "ytick.labelsize": TEXT,
    "text.color": INK,
    "hatch.linewidth": 0.5,
    "path.simplify": False,
}


@dataclass(frozen=True, slots=True)
class Band:
    """How a stretch of the bands along the time axis is filled.

    Within a row of bands no two agree in both hatch and darkness: colour is never needed.
    """

    fill: str
    hatch: str
    edge: str = SOFT


_MOVING = Band("#d5def5", "////", COBALT)
_SETTLING = Band("#f3eafa", "....", CLOSE)
_FIRM = Band("#2f7d54", "", GOOD)
_STOP = Band("#fbdcd3", "xxxx", OVER)

#: The detector's words. A settled load that is not firm yet has lines where the firm one has none.
DETECTOR = {
    "empty": Band(GROUND, ""),
    "pouring": _MOVING,
    "settling": _SETTLING,
    "settled": Band("#e6f4eb", "||||", GOOD),
    "firm": _FIRM,
    "disturbed": _STOP,
}

#: The phases of an addition; a judged one carries its verdict as the word.
ADDITION = {
    "awaiting vessel": Band(GROUND, ""),
    "ready": Band("#eef2f7", "--"),
    "pouring": _MOVING,
    "settling": _SETTLING,
    "judged": Band("#e6f4eb", "**", GOOD),
    "on target": _FIRM,
    "short": Band("#dfe6f2", "\\\\\\\\", COBALT),
    "over": Band("#fbdcd3", "OO", OVER),
    "too close to call": Band("#ead9f6", "++++", CLOSE),
    "held": _STOP,
}


#: What the cook was told.
CUE = {"pour": _MOVING, "slow": Band("#ffe3a8", "||||", INK), "stop": Band(OVER, "", OVER)}


@dataclass(frozen=True, slots=True)
class Shape:
    """The mark of an entry: matplotlib's marker, colour, and whether it is filled."""

    marker: str
    colour: str
    filled: bool = True


#: Entries of the record, and what was refused.
MARKS = {
    "batch opened": Shape(">", SOFT),
    "tared": Shape("v", INK),
    "held": Shape("s", OVER),
    "decided": Shape("D", COBALT),
    "resumed": Shape(">", COBALT),
    "zero moved": Shape("P", CLOSE),
    "lot named": Shape("+", SOFT),
    "addition accepted": Shape("o", GOOD),
    "all weighed": Shape("h", GOOD),
    "step begun": Shape("1", SOFT),
    "temperature entered": Shape("_", COBALT),
    "temperature struck out": Shape("_", OVER),
    "step ended": Shape("2", GOOD),
    "step decided": Shape("p", COBALT),
    "step noted": Shape("|", SOFT),
    "clock set": Shape("4", CLOSE),
    "yield recorded": Shape("H", COBALT),
    "batch closed": Shape("8", SOFT),
    "batch abandoned": Shape("X", OVER),
    "scale changed": Shape("d", CLOSE),
    "put right": Shape("*", COBALT),
    "restarted": Shape("<", CLOSE),
    "corrected": Shape("v", COBALT),
    "countersigned": Shape("^", COBALT),
    "refused": Shape("x", OVER, filled=False),
}

#: A reading by the scale's own flag: in the shape, and the words of the legend.
FLAGS: dict[bool | None, tuple[str, str]] = {
    True: ("o", "reading, the scale says stable"),
    False: ("^", "reading, the scale says moving"),
    None: (".", "reading, no word of the scale"),
}
