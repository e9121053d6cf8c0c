"""Every code of an error or refusal: what is said, what to do, and the status and exit code.

What a code means is what the program says where it raises it, so that is read out of the source:
the message, and the remedy. Where no remedy stands, :data:`~docs.making.codes_said.TO_DO` has one.
"""

from __future__ import annotations

import ast
import functools
import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from docs.making.codes_said import MEANS, TO_DO
from docs.making.sources import ROOT, calls
from docs.making.tables import code, sentence, table
from weighd.cli.exits import code_for
from weighd.domain import errors
from weighd.domain.errors import WeighdError
from weighd.http.errors import OF_CLASS, OF_CODE, status_of

_CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
#: The children of WeighdError, by name.
KINDS: dict[str, type[WeighdError]] = {
    name: one
    for name, one in vars(errors).items()
    if inspect.isclass(one) and issubclass(one, WeighdError) and one is not WeighdError
}
#: What each kind of error says of whose fault it is.
FAULT = {name: (one.__doc__ or "").strip().split("\n", 1)[0] for name, one in KINDS.items()}


@dataclass(slots=True)
class Refusal:
    """A code, and what is said with it. ``places`` are lines of source, as ``file:line``."""

    code: str
    says: list[str] = field(default_factory=list)
    remedies: list[str] = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)
    places: list[str] = field(default_factory=list)

    @property
    def meaning(self) -> str:
        """What happened."""
        return MEANS.get(self.code) or "<br>".join(dict.fromkeys(self.says))

    @property
    def to_do(self) -> str:
        """What to do next."""
        return "<br>".join(dict.fromkeys(self.remedies)) or TO_DO.get(self.code, "")

    @property
    def status(self) -> int | None:
        """The HTTP status, where one is known."""
        for kind in self.kinds:
            if kind in KINDS:
                return status_of(KINDS[kind](self.code, ""))
        return OF_CODE.get(self.code)

    @property
    def exit_code(self) -> int | None:
        """The exit code of a command that ends with it."""
        for kind in self.kinds:
            if kind in KINDS:
                return code_for(KINDS[kind](self.code, ""))
        return None


def _parts(node: ast.expr | None) -> Iterator[str]:
    """The texts that an expression may be; what is filled in is an ellipsis."""
    match node:
        case ast.Constant(value=str() as text):
            yield text
        case ast.JoinedStr(values=values):
            yield "".join(
                str(one.value) if isinstance(one, ast.Constant) else "…" for one in values
            )
        case ast.BinOp(left=left, op=ast.Add(), right=right):
            for one in _parts(left):
                for other in _parts(right):
                    yield one + other
        case ast.IfExp(body=body, orelse=orelse):
            yield from _parts(body)
            yield from _parts(orelse)


def _name(call: ast.Call) -> str:
    match call.func:
        case ast.Name(id=name) | ast.Attribute(attr=name):
            return name
    return ""


def _is_code(text: str, maker: str, first: bool) -> bool:
    if not _CODE.fullmatch(text):
        return False
    return text in OF_CODE or (maker.endswith("Error") and first and "-" in text)


def _raised(call: ast.Call, kind_there: str) -> Iterator[tuple[str, Refusal]]:
    """The codes that a call makes an error of, with what it says; ``kind_there`` for one that
    does not say its kind itself."""
    maker = _name(call)
    named = {one.arg: one.value for one in call.keywords}
    remedies = [one for one in _parts(named.get("remedy")) if one.strip("… ")]
    kinds = [maker] if maker in KINDS else [kind_there] * (maker == "wrong")
    for n, argument in enumerate(call.args):
        for text in _parts(argument):
            if _is_code(text, maker, n == 0):
                after = call.args[n + 1] if len(call.args) > n + 1 else None
                says = [one for one in _parts(after) if len(one) > 8 and " " in one]
                yield text, Refusal(text, says, remedies, kinds)
                return
    for text in _parts(named.get("code")):
        if _CODE.fullmatch(text):
            says = [one for one in _parts(call.args[-1] if call.args else None) if " " in one]
            yield text, Refusal(text, says, remedies, kinds)


@functools.cache
def refusals() -> dict[str, Refusal]:
    """Every code there is, in the order of the alphabet."""
    found: dict[str, Refusal] = {one: Refusal(one) for one in OF_CODE}
    for file, node in calls(ROOT):
        if not isinstance(node, ast.Call):
            continue
        kind = "FormulaError" if "/domain/" in file else "ConfigError"
        for name, one in _raised(node, kind):
            into = found.setdefault(name, Refusal(name))
            into.says += [sentence(text) for text in one.says]
            into.remedies += [sentence(text) for text in one.remedies]
            into.kinds += one.kinds
            into.places.append(f"{file}:{node.lineno}")
    return dict(sorted(found.items()))


def _rows(some: list[Refusal]) -> str:
    return table(
        ("code", "what it says", "what to do", "HTTP", "exit"),
        (
            (
                f'<span id="{one.code}"></span>{code(one.code)}',
                one.meaning,
                one.to_do,
                str(one.status or ""),
                "" if one.exit_code is None else str(one.exit_code),
            )
            for one in some
        ),
    )


def made() -> str:
    """A table of codes for each kind of error, by whose fault it is."""
    parts = []
    every = list(refusals().values())
    for kind, fault in FAULT.items():
        own = [one for one in every if one.kinds[:1] == [kind]]
        if own:
            status = OF_CLASS.get(KINDS[kind])
            parts.append(f"### {fault}\n\nHTTP {status} where the table says nothing else.\n")
            parts.append(_rows(own))
    rest = [one for one in every if not one.kinds]
    parts.append(f"### How it was asked\n\nSaid by the server itself.\n\n{_rows(rest)}")
    return "\n".join(parts)
