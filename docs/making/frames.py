"""Frames of the live link: their kinds, and the shape of what they carry."""

from __future__ import annotations

import re
from pathlib import Path

from docs.making.tables import code, table
from weighd.station.picture import SECTIONS

ROOT = Path(__file__).parents[2]
_SENT = ("weighd/http/live.py", "weighd/station/picture.py", "weighd/station/floor_picture.py")
_KIND = re.compile(r'"kind"(?::|\) !=) ?"([a-z]+)"')
#: What each kind is. A test names the ones that are missing here.
SAID = {
    "snapshot": (
        "station",
        (
            "The whole picture in `state`, and its number `seq`. The first frame, and whenever the "
            "number that a client goes on from is not known."
        ),
    ),
    "change": (
        "station",
        (
            "What is newer than the number that the client stood at: each section that changed, "
            "whole, in its newest form. `scales` holds only those that changed. A section that is "
            "gone is `null`."
        ),
    ),
    "beat": ("station", "A second passed without a change; `seq` is the newest number."),
    "resume": (
        "client",
        (
            "Go on from number `seq` of that run of the daemon (`boot`, as `state.station` has it)"
            "; where it is another run, a snapshot comes."
        ),
    ),
    "seen": (
        "client",
        (
            'With `/api/live?seen`: this frame has been shown. Written exactly `{"kind":"seen"}`. '
            "The next frame comes only then."
        ),
    ),
}
#: What each section of the picture is.
SECTIONS_SAID = {
    "station": "name, version, run (`boot`), notices, whether the record can be written",
    "scales": "every scale by its name: link, newest reading, what it is doing, its check",
    "batch": "the batch that is weighed, with all its additions; `null` between batches",
    "live": "the addition on the scale now: phase, net, verdict, cue, what can be done (`can`)",
    "process": "the batches that are off the bench and still being made",
    "sharing": "how far the shared store is behind; `null` without one",
}


def kinds() -> list[str]:
    """Every kind of frame that is sent or understood, in the order of the alphabet."""
    found = set()
    for name in _SENT:
        found |= set(_KIND.findall((ROOT / name).read_text("utf-8")))
    return sorted(found)


def sections() -> list[str]:
    """Every section of the picture."""
    return ["scales", *SECTIONS]


def made() -> str:
    """The table of kinds."""
    return table(
        ("kind", "sent by", "what it is"),
        ((code(one), *SAID.get(one, ("", ""))) for one in kinds()),
    )


def made_of_sections() -> str:
    """The table of sections."""
    return table(
        ("section", "what it holds"),
        ((code(one), SECTIONS_SAID.get(one, "")) for one in sections()),
    )


def made_of_shapes() -> str:
    """The shapes as the page declares them (TypeScript), with what is said of each field."""
    text = (ROOT / "web" / "src" / "core" / "frames.ts").read_text("utf-8")
    text = text[text.index("export type Verdict") : text.index("// --- formulas")]
    return f"```ts\n{text.replace('export ', '').rstrip()}\n```\n"
