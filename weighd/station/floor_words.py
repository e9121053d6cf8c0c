"""The floor in words, for a terminal: a line or a few a station, what needs somebody first."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from weighd.station.floor import Standing

#: What calls for somebody comes first.
_RANK = ("held", "due", "trouble", "weighing", "waiting", "idle", "gone")

Card = Mapping[str, Any]


def ranked(cards: Mapping[str, Card], utc: str) -> list[Card]:
    """The stations in the order in which they need somebody, then by name."""
    return sorted(cards.values(), key=lambda one: (_RANK.index(rank(one, utc)), one["name"]))


def rank(card: Card, utc: str) -> str:
    """How much a station needs somebody: one of ``held``, ``due``, ``trouble``, ... ``gone``."""
    if card["standing"] not in (Standing.HERE, Standing.UNCONFIRMED):
        return "gone"
    addition = (card["batch"] or {}).get("addition")
    steps = (card["steps"] or {}).get("batches", ())
    if addition is not None and addition["held"] is not None:
        return "held"
    if any(one["held"] is not None or one["out"] for one in steps):
        return "held"
    if any(is_due(one, there(card, utc)) for one in steps):
        return "due"
    if _troubles(card):
        return "trouble"
    if card["batch"] is not None:
        return "weighing"
    return "waiting" if steps else "idle"


def there(card: Card, utc: str) -> str:
    """What the clock of the station shows when ours shows ``utc``, as far as we know."""
    moment = datetime.fromisoformat(utc) + timedelta(seconds=card["ahead_s"] or 0.0)
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def is_due(step: Mapping[str, Any], at: str) -> bool:
    """Whether the time of a step is up, by the clock of its station."""
    times = (step["ready_at"], step["late_at"], step["cool_by"])
    return any(one is not None and one <= at for one in times)


def lines(card: Card, utc: str) -> list[str]:
    """What a station does, the most urgent first; ``utc`` is our own clock."""
    standing = card["standing"]
    out = []
    if standing != Standing.HERE:
        out.append(_standing(card))
        if standing in (Standing.AWAY, Standing.STOPPED, Standing.SILENT, Standing.CUT):
            return out + [f"then: {one}" for one in _weighing(card)[:1]] + _twice(card)
    at = there(card, utc)
    out += [*_twice(card), *_weighing(card)]
    for one in (card["steps"] or {}).get("batches", ()):
        out.append(_step(one, at))
    out += [*_troubles(card), *_notices(card)]
    if out:
        return out
    last = card["last"]
    return ["nothing is weighed" if last is None else f"{last['id']} {last['status']}"]


def _standing(card: Card) -> str:
    said = f"; last word {card['said'][11:19]} by its own clock" if card["said"] else ""
    since = f" since {card['since'][11:19]}" if card["since"] else ""
    words = {
        Standing.UNCONFIRMED: f"not heard yet, this is what the broker kept{said}",
        Standing.SILENT: f"silent{since}{said}",
        Standing.AWAY: f"away{since}{said}",
        Standing.STOPPED: f"stopped{since}{said}",
        Standing.CUT: f"not known, there is no connection to the broker{since}{said}",
    }
    return words[Standing(card["standing"])]


def _twice(card: Card) -> list[str]:
    return ["two stations use this name: give one of them another"] if card["twice"] else []


def _weighing(card: Card) -> list[str]:
    batch = card["batch"]
    if batch is None:
        return []
    who = f", {batch['operator']}" if batch.get("operator") else ""
    it = batch["addition"]
    place = f"{batch['id']} {batch['formula']}{who}"
    if it is None:
        return [f"{place}: {batch['accepted']} of {batch['of']} in"]
    net = "–" if it["net_g"] is None else it["net_g"]
    how = f"held: {it['held']['cause']}" if it["held"] else it["verdict"] or it["phase"]
    return [
        f"{how}: {it['name']}, {net} of {it['target_g']} g, {it['n']} of {batch['of']} ({place})"
    ]


def _step(it: Mapping[str, Any], at: str) -> str:
    if it["held"] is not None:
        how = f"held: {', '.join(it['held']) or 'somebody decides'}"
    elif it["out"]:
        how = ", ".join(it["out"])
    elif is_due(it, at):
        how = "time is up"
    elif it["state"] == "running":
        ends = min((one for one in (it["ready_at"], it["late_at"]) if one), default=None)
        how = "going on" if ends is None else f"{_left(at, ends)} left"
    else:
        how = {"waiting": "next", "done": "done"}.get(it["state"], it["state"])
    step = f" {it['step']} of {it['of']}" if it["step"] is not None else ""
    return f"{how}: {it['what'] or it['name']}, step{step} ({it['id']} {it['name']})"


def _left(at: str, until: str) -> str:
    seconds = int((datetime.fromisoformat(until) - datetime.fromisoformat(at)).total_seconds())
    minutes, rest = divmod(max(0, seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def _troubles(card: Card) -> list[str]:
    out = []
    if card["notices"] is not None and not card["notices"]["store"]["ok"]:
        out.append(f"its record cannot be written ({card['notices']['store']['code']})")
    for one in (card["scales"] or {}).get("scales", ()):
        if one["link"] in ("lost", "silent"):
            out.append(f"scale {one['name']} {one['link']}")
        elif one["check"] is not None and one["check"]["barred"]:
            out.append(f"scale {one['name']} barred: its check is {one['check']['standing']}")
        elif one["check"] is not None and one["check"]["standing"] != "good":
            out.append(f"scale {one['name']}: its check is {one['check']['standing']}")
    sharing = card["sharing"]
    if sharing is not None and sharing["state"] in ("behind", "stopped"):
        out.append(f"shared store: {sharing['behind']} entries behind")
    return out


def _notices(card: Card) -> list[str]:
    """Lots of which more was weighed than there was."""
    found = (card["notices"] or {}).get("notices", ())
    out = []
    for one in found:
        if one["code"] == "lot-below-nothing":
            lot, _, grams = one["text"].rpartition(" ")
            if lot and _is_mass(grams):
                out.append(f"lot {lot}: {grams} g more weighed than there was")
    return out


def _is_mass(text: str) -> bool:
    try:
        return Decimal(text).is_finite()
    except ArithmeticError:
        return False
