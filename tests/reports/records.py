"""Records to make outputs of: the golden ones, and a copy that can be changed."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

SESSIONS = Path(__file__).parents[2] / "fixtures" / "sessions"
OLDER = Path(__file__).parents[2] / "fixtures" / "records"
GOLDEN = sorted(SESSIONS.glob("*.golden.json"))

#: What somebody may type, or have typed for them: markup, formulas, escapes, letters from the
#: right and letters that no font here has.
HOSTILE = (
    '#eval("1+1") #panic() #sys.inputs #image("/etc/passwd") #read("sheet.typ")',
    "*bold* _slanted_ `raw` $x^2$ @ref <label> = heading // gone /* gone */ [a] {b} ~ --",
    r"\u{202e} \n \\ \" ' \# {{ }} %s {0}",
    "=1+1 @SUM(A1) +1 -1 \t=cmd|' /C calc'!A0 ;=2+2 \r\n=3",
    "\u202eabc\u202c \u2066x\u2069 \u200f \u200b \x00 \x07 \x1b[31m",
    "חלב מלא 3% (kosher) וعربي: حليب كامل الدسم 123",
    "🍓 Erdbeere 日本語 ไทย \U0010ffff \ud800",
    "x" * 500,
    "née Œuf naïve Ångström ½ µg 5 °C ≥ −3 «…»",
    "",
)


def golden(name: str) -> dict[str, Any]:
    """A golden record, to be changed at will."""
    text = (SESSIONS / f"{name}.golden.json").read_text("utf-8")
    made: dict[str, Any] = json.loads(text)
    return made


def bodies(document: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    """The bodies of the entries of a kind."""
    return [one["body"] for one in document["entries"] if one["kind"] == kind]


def of_length(n: int) -> dict[str, Any]:
    """A record with ``n`` weighings: those of the plain one over and over. It does not verify."""
    document = golden("plain")
    first = document["entries"][0]["body"]
    accepted = [one for one in document["entries"] if one["kind"] == "addition accepted"]
    planned = list(first["additions"])
    for k in range(len(accepted), n):
        one = copy.deepcopy(accepted[k % len(accepted)])
        one["body"]["addition"] = k + 1
        document["entries"].insert(-1, one)
        first["additions"].append({**planned[k % len(planned)], "n": k + 1})
    return document
