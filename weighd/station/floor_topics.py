"""Where a station's words stand on a broker: one topic a section, below the name of the station.

``TOP/1/STATION/SECTION``: ``1`` is the version of the payloads. A name that a topic cannot hold, or
that would be taken for a wildcard, is percent-encoded; a very long one ends in its hash.
"""

from __future__ import annotations

from hashlib import sha256
from urllib.parse import quote

VERSION = 1
#: What stands at the top, where nothing else is configured.
TOP = "weighd"
PRESENCE, CLASH = "presence", "clash"
#: Retained: the newest of each is what a late watcher sees.
RETAINED = ("batch", "steps", "scales", "sharing", "notices", PRESENCE)
SECTIONS = (*RETAINED, CLASH)
#: Characters of a station's name in a topic.
LONGEST = 120


def level(name: str) -> str:
    """A station's name as one level of a topic. Different names have different ones."""
    safe = quote(name.encode("utf-8", "surrogatepass"), safe="")
    if len(safe) > LONGEST:
        safe = f"{safe[: LONGEST - 33]}~{sha256(safe.encode()).hexdigest()[:32]}"
    return safe or "%"


def topic(top: str, station: str, section: str) -> str:
    """The topic of a section of a station."""
    return f"{top}/{VERSION}/{level(station)}/{section}"


def split(top: str, name: str) -> tuple[str, str] | None:
    """Level of the station, and section, of a topic; ``None`` for one that is none of ours."""
    head = f"{top}/{VERSION}/"
    if not name.startswith(head):
        return None
    station, slash, section = name[len(head) :].partition("/")
    if not slash or not station or section not in SECTIONS:
        return None
    return station, section
