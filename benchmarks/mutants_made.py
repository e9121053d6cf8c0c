"""Mutants of the domain, made by mutmut: modules with some in them, switched on by name."""

from __future__ import annotations

import importlib.abc
import importlib.util
from collections.abc import Callable, Container
from dataclasses import dataclass
from functools import wraps
from pathlib import Path
from typing import Any

import libcst as cst
import mutmut.mutation.trampoline as trampoline
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.file_mutation import (
    Mutation,
    combine_mutations_to_source,
    create_mutations,
    group_by_top_level_node,
)

from benchmarks.mutants_worded import worded


@dataclass(frozen=True)
class Mutant:
    """One change: where it stands, what it does, and by what name mutmut switches it on.

    ``number`` is its place among all of its module, the same as long as the module is the same.
    """

    name: str
    function: str
    number: int
    line: int
    was: str
    now: str
    words: bool


class Switch:
    """Which mutant is on in this process, and what was called since it was last asked."""

    def __init__(self) -> None:
        self.on = ""
        self.called: set[str] = set()

    def wrap(self, mutants: dict[str, Any], is_classmethod: bool = False) -> Callable[..., Any]:
        """Instead of mutmut's own, which asks the environment at each call."""

        def around(function: Any) -> Any:
            where = function.__module__ + "."

            @wraps(function)
            def switched(*args: Any, **kwargs: Any) -> Any:
                of = mutants["_mutmut_orig"]
                self.called.add(where + of.__name__.removesuffix("_orig"))
                if self.on.startswith(where):
                    of = mutants.get(self.on.removeprefix(where), of)
                if is_classmethod:
                    return getattr(args[0], of.__name__)(*args[1:], **kwargs)
                return of(*args, **kwargs)

            return switched

        return around


SWITCH = Switch()
trampoline.wrap_in_trampoline = SWITCH.wrap  # type: ignore[assignment]


class Mutated(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives modules of the domain with their mutants in them."""

    def __init__(self, sources: dict[str, str]) -> None:
        self.sources = sources

    def find_spec(self, name: str, *_: Any) -> Any:
        if name not in self.sources:
            return None
        return importlib.util.spec_from_loader(name, self, origin=f"<mutants of {name}>")

    def exec_module(self, module: Any) -> None:
        name = module.__name__
        exec(compile(self.sources[name], f"<mutants of {name}>", "exec"), module.__dict__)


def made(file: Path) -> tuple[Any, list[Mutation], set[str], set[str]]:
    """All mutants of one module that stand in a function."""
    module, mutations, *ignored = create_mutations(str(file), file.read_text())
    inside = [
        one for one in mutations if isinstance(one.contained_by_top_level_function, cst.FunctionDef)
    ]
    return module, inside, *ignored  # type: ignore[return-value]


def put_in(file: Path, numbers: Container[int] | None) -> tuple[str, list[Mutant], int]:
    """The module's text with these of its mutants in it, those, and how many there are in all.

    Without ``numbers`` it is one of each function: enough to see who calls it.
    """
    module, mutations, classes, functions = made(file)
    place = {id(one): n for n, one in enumerate(mutations)}
    if numbers is None:
        picked = list({id(one.contained_by_top_level_function): one for one in mutations}.values())
    else:
        picked = [one for n, one in enumerate(mutations) if n in numbers]
    if not picked:
        return file.read_text(), [], len(mutations)
    whole = combine_mutations_to_source(module, picked, classes, functions)
    lines = MetadataWrapper(module, unsafe_skip_copy=True).resolve(PositionProvider)
    grouped = group_by_top_level_node(picked)
    in_order = [
        one
        for top in module.body
        for node in (top, *(top.body.body if isinstance(top, cst.ClassDef) else ()))
        for one in grouped.get(node, ())
    ]
    package = f"weighd.domain.{file.stem}"
    said = [
        Mutant(
            f"{package}.{name}",
            f"{package}.{name.rpartition('_')[0]}",
            place[id(one)],
            lines[one.original_node].start.line,
            _one_line(module, one.original_node),
            _one_line(module, one.mutated_node),
            worded(one),
        )
        for name, one in zip(whole.mutant_names, in_order, strict=True)
    ]
    return whole.code, said, len(mutations)


def _one_line(module: Any, node: Any) -> str:
    return " ".join(module.code_for_node(node).split())[:200]
