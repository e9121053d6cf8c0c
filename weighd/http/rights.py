"""THE table of who may ask for what: every route that changes something, and every command.

1. Looking is free to whoever was let in (``door``): no ``GET`` has a row. What changes something
   and has no row here is refused to everybody once people are listed, and a test fails.
2. Where nobody is listed, nothing here counts.
3. A need is one right, or none (:data:`FREE`): then a name of the list is enough. Some follow from
   what is asked: a command, or a field that makes of it a correction.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from weighd.domain.people import Right

#: Nothing but a name is needed.
FREE = None
#: Free, but only for what is on target; whoever may accept anything else says so by PIN.
ON_TARGET = "accept"

Body = Mapping[str, Any]
Need = Right | None
Found = Need | Callable[[Body], Need]


@dataclass(frozen=True, slots=True)
class _When:
    """A right that is needed where a field says something."""

    field: str
    right: Right

    def __call__(self, body: Body) -> Need:
        return self.right if body.get(self.field) not in (None, "") else FREE


def _of_lot(body: Body) -> Need:
    """release lots, where it releases or counts; none else"""
    return Right.LOTS if body.get("do") in ("release", "adjust") else FREE


#: Commands of a batch, by what they do.
COMMANDS: Mapping[str, Found] = {
    "tare": FREE,
    ON_TARGET: FREE,
    "top up": FREE,
    "take out": FREE,
    "resume": FREE,
    "weigh again": FREE,
    "use scale": FREE,
    # It goes on with what is out of its limits.
    "put right": Right.ACCEPT,
    "abandon": Right.DISCARD,
    # A reason is only given for a lot past its best.
    "name lot": _When("reason", Right.LOTS),
    "next lot": _When("reason", Right.LOTS),
    # in process
    "begin step": FREE,
    "enter temperature": FREE,
    "strike temperature": FREE,
    "end step": FREE,
    "fail step": FREE,
    "repeat step": FREE,
    "accept step": Right.ACCEPT,
    "note step": FREE,
    "close batch": Right.DISCARD,
    # also once it is over
    "correct": Right.CORRECT,
    "countersign": Right.COUNTERSIGN,
    "record yield": _When("corrects", Right.CORRECT),
}


def _of_command(body: Body) -> Need:
    """that of the command, see below"""
    do = body.get("do")
    # What is no command the station refuses by itself.
    need = COMMANDS.get(do) if isinstance(do, str) else FREE
    return need(body) if callable(need) else need


#: Routes by method and path, as they are declared.
ROUTES: Mapping[tuple[str, str], Found] = {
    ("POST", "/api/batches"): FREE,
    ("POST", "/api/batches/{batch}/commands"): _of_command,
    ("POST", "/api/batches/{batch}/yield"): _When("corrects", Right.CORRECT),
    ("POST", "/api/lots"): _When("corrects", Right.CORRECT),
    ("POST", "/api/lots/{lot}/commands"): _of_lot,
    ("PUT", "/api/formulas/{formula}"): Right.FORMULAS,
    ("DELETE", "/api/formulas/{formula}"): Right.FORMULAS,
    ("POST", "/api/formulas/{formula}/publish"): Right.FORMULAS,
    ("POST", "/api/shared/formulas/{formula}"): Right.FORMULAS,
    ("PUT", "/api/ingredients/{ingredient}"): Right.FORMULAS,
    ("DELETE", "/api/ingredients/{ingredient}"): Right.FORMULAS,
    ("POST", "/api/ingredient-import"): Right.FORMULAS,
    ("PUT", "/api/limits/{kind}"): Right.FORMULAS,
    ("POST", "/api/vessels"): Right.SCALES,
    ("POST", "/api/vessels/{name}/forget"): Right.SCALES,
    ("POST", "/api/scales/{name}/forget"): Right.SCALES,
    ("POST", "/api/scales/{name}/check"): FREE,
    ("POST", "/api/notices/{notice}/dismiss"): FREE,
    ("POST", "/api/simulation"): FREE,
    # Asked with a body, and nothing is changed.
    ("POST", "/api/compose"): FREE,
    ("POST", "/api/solve"): FREE,
    ("POST", "/api/paste"): FREE,
    ("POST", "/api/steps"): FREE,
    ("POST", "/api/swap"): FREE,
    ("POST", "/api/scan"): FREE,
    ("POST", "/api/ingredients/{ingredient}/check"): FREE,
    ("POST", "/api/ingredient-import/look"): FREE,
    # the first start
    ("POST", "/api/first/look"): FREE,
    ("POST", "/api/first/learn"): Right.SCALES,
    ("POST", "/api/first/scale"): Right.SCALES,
    ("POST", "/api/first/name"): Right.SCALES,
    ("POST", "/api/first/list"): FREE,
    ("POST", "/api/first/formula"): Right.FORMULAS,
    # people
    ("POST", "/api/sign-in"): FREE,
    ("POST", "/api/sign-out"): FREE,
    ("POST", "/api/allow"): FREE,
    ("POST", "/api/people"): Right.PEOPLE,
    ("POST", "/api/people/{name}/pin"): Right.PEOPLE,
    ("POST", "/api/people/{name}/rights"): Right.PEOPLE,
    ("POST", "/api/people/{name}/retire"): Right.PEOPLE,
    # devices; the door has looked who may come in at all
    ("POST", "/api/device/pair"): FREE,
    ("POST", "/api/device/leave"): FREE,
    ("POST", "/api/devices"): Right.PEOPLE,
    ("POST", "/api/devices/withdraw"): Right.PEOPLE,
    ("POST", "/api/devices/{device}/forget"): Right.PEOPLE,
}


def need_said(need: Found) -> str:
    """What is needed, in words: for the reference."""
    match need:
        case None:
            return "none"
        case _When(field, right):
            return f"{right}, where `{field}` is given; none else"
        case Right():
            return str(need)
        case _:
            return str(need.__doc__)


def need_of(method: str, path: str, body: Body) -> Need:
    """The right that is needed; that of looking after people for what has no row.

    ``path``  as the route declares it.
    """
    need = ROUTES.get((method, path), Right.PEOPLE)
    return need(body) if callable(need) else need
