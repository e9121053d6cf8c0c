"""How well things are weighed, told to people."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

#: What each rule says, in a cook's words; ``{}`` is the side.
RULES = {
    "one beyond 3 sigma": "one far {} what is usual",
    "2 of 3 beyond 2 sigma, on one side": "two of three well {} what is usual",
    "4 of 5 beyond 1 sigma, on one side": "four of five {} what is usual",
    "8 in a row on one side": "eight in a row {} the mean",
    "6 in a row up or down": "six in a row, each {} the one before",
    "a step larger than steps usually are": "a sudden step to {} the one before",
}
ABOUT = (
    "Shares are parts of what is allowed: 1 is the upper limit, -1 the lower. Steady is what shows "
    "only its usual scatter. Room 1 means that the limits lie three times that scatter away."
)


def lines(found: Sequence[Mapping[str, Any]], by: str) -> list[str]:
    """A line for each group, and what stands out in it."""
    if not found:
        return ["Nothing was weighed then."]
    wide = max(len(by), *(len(it["name"]) for it in found))
    out = [f"{by:<{wide}}     n   bias         over      out  room  steady"]
    for it in found:
        room = it["capability"] and it["capability"]["cpk"]
        cost = "" if it["over_cost"] is None else f"  over-poured for {it['over_cost']}"
        out.append(
            f"{it['name']:<{wide}} {it['n']:>5}  {_bias(it['bias_percent']):<11}  "
            f"{it['over_g']:>6} g  {it['out_of_tolerance']:>3}  "
            f"{_room(room):>4}  {_steady(it):<3}{cost}".rstrip()
        )
        out += [f"    {told}" for told in standing_out(it)]
    if any(it["few"] for it in found):
        out.append("Groups of fewer than 20 say little of what is usual.")
    return [*out, ABOUT]


def standing_out(it: Mapping[str, Any], most: int = 3) -> list[str]:
    """What stands out, the newest of each kind, in words."""
    out, told = list[str](), set[tuple[str, bool]]()
    for one in it["signals"][::-1]:
        kind = (one["rule"], one["up"])
        if kind in told or len(out) == most:
            continue
        told.add(kind)
        side = "above" if one["up"] else "below"
        out.append(f"weighing {one['at'] + 1} of {it['n']}: {RULES[one['rule']].format(side)}")
    return out


def _steady(it: Mapping[str, Any]) -> str:
    return {None: "-", True: "yes", False: "NO"}[it["steady"]]


def _bias(one: Mapping[str, Any] | None) -> str:
    if one is None:
        return "-"
    return f"{one['mean']:+.2f} %" + ("" if one["sure"] else " ?")


def _room(cpk: float | None) -> str:
    return "-" if cpk is None else f"{cpk:.2f}"
