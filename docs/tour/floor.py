"""An invented floor of six stations, told by the fold that a station keeps of a real one."""

from __future__ import annotations

import json
from typing import Any

from weighd.station.floor import Floor
from weighd.station.floor_topics import topic

#: Name, what is weighed, target and what is in, and why it is held; "" for what goes on.
STATIONS = (
    ("bench one", "Lemon sorbet", "Sucrose", "364", "312.4", ""),
    ("bench two", "Hazelnut gelato", "Whole milk", "608.7", "88.1", ""),
    ("pastry", "Flatbread dough", "Strong wheat flour", "500", "507.2", "over"),
    ("cold room", "Blackcurrant sherbet", "Buttermilk", "900", "899.6", ""),
)


def told(now: str) -> dict[str, Any]:
    """The first frame of its live link, at ``now``."""
    floor = Floor()
    floor.connected(0.0, now)

    def say(name: str, section: str, **body: Any) -> None:
        head = {"v": 1, "station": name, "instance": "a", "at": now, "clock": "station"}
        payload = json.dumps({**head, **body}).encode()
        floor.take(topic("weighd", name, section), payload, retained=False, now=0.0, utc=now)

    for name, formula, what, target, net, held in STATIONS:
        say(name, "presence", state="here", version="1", began=now, beat_s=5.0)
        edge = float(target) * 0.005
        addition = {
            "n": 2,
            "name": what,
            "scale": "bench",
            "target_g": target,
            "low_g": f"{float(target) - edge:.1f}",
            "high_g": f"{float(target) + edge:.1f}",
            "net_g": net,
            "phase": "held" if held else "pouring",
            "why": "",
            "verdict": None,
            "cue": None,
            "lifted": False,
            "held": {"cause": held, "since": now} if held else None,
        }
        batch = {
            "id": f"{name.replace(' ', '-')}-0007",
            "formula": formula,
            "batch_g": "2400",
            "opened": now,
            "of": 5,
            "accepted": 1,
            "allergens": [],
            "addition": addition,
        }
        say(name, "batch", batch=batch, last=None)
    for name in ("annex", "store"):
        say(name, "presence", state="here", version="1", began=now, beat_s=5.0)
        say(name, "batch", batch=None, last=None)
    say("annex", "presence", state="away", version="1", began=now, beat_s=5.0)
    head = {"boot": "b", "now": now, **(floor.of_link() or {})}
    parts = {"floor": head, "stations": floor.cards()}
    return {"kind": "snapshot", "seq": floor.changed, "now": now, "state": parts}
