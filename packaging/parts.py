"""What weighd is made of besides its own code: names, versions, licences.

Read from what is installed and from the page's lock file; nothing is asked for elsewhere.
"""

from __future__ import annotations

import importlib.metadata
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[1]
#: With what several stations need.
WHOLE = "weighd[floor]"
#: Licences that a part may be under; of a choice (OR) one is enough, of several (AND) all count.
ALLOWED = frozenset(
    {
        "0BSD", "Apache-2.0", "BSD-2-Clause", "BSD-3-Clause", "CC0-1.0", "ISC", "MIT", "MIT-0",
        "MIT-CMU", "PSF-2.0", "Zlib",
        # A library that is called and can be replaced, not one that is built in.
        "LGPL-3.0-only",
        # matplotlib's own, which is that of Python with another name; its text is in the package.
        "LicenseRef-matplotlib",
    }
)  # fmt: skip
#: What those are under that state no expression, as their own licence file has it.
STATED = {
    "aiomqtt": "BSD-3-Clause",
    "contourpy": "BSD-3-Clause",
    "cycler": "BSD-3-Clause",
    "kiwisolver": "BSD-3-Clause",
    "matplotlib": "LicenseRef-matplotlib",
    "pyserial": "BSD-3-Clause",
    "pyusb": "BSD-3-Clause",
    "scipy": "BSD-3-Clause",
    "segno": "BSD-3-Clause",
}
#: Classifiers that mean one licence.
_CLASSIFIED = {
    "MIT License": "MIT",
    "Apache Software License": "Apache-2.0",
    "ISC License (ISCL)": "ISC",
}


class LicenceError(Exception):
    """A part whose licence is not known."""


@dataclass(frozen=True, slots=True)
class Part:
    """A library. ``kind`` is ``pypi`` or ``npm``, ``needs`` are names of others of its kind."""

    kind: str
    name: str
    version: str
    licence: str
    needs: tuple[str, ...] = ()


def plain(name: str) -> str:
    """A name as it is compared."""
    return re.sub(r"[-_.]+", "-", name).lower()


def python_parts(whole: str = WHOLE) -> list[Part]:
    """The libraries that are installed for weighd itself, by name. Raises LicenceError."""
    todo = [Requirement(whole)]
    asked: set[tuple[str, frozenset[str]]] = set()
    found: dict[str, tuple[importlib.metadata.Distribution, set[str]]] = {}
    while todo:
        wanted = todo.pop()
        key = plain(wanted.name), frozenset(wanted.extras)
        if key in asked:
            continue
        asked.add(key)
        distribution = importlib.metadata.distribution(wanted.name)
        needs = found.setdefault(key[0], (distribution, set()))[1]
        for one in needed(distribution, wanted.extras):
            needs.add(plain(one.name))
            todo.append(one)
    own = plain(Requirement(whole).name)
    return [
        Part("pypi", name, one.version, licence_of(one), tuple(sorted(needs)))
        for name, (one, needs) in sorted(found.items())
        if name != own
    ]


def needed(one: importlib.metadata.Distribution, extras: set[str]) -> Iterator[Requirement]:
    """What a distribution needs here, with these extras."""
    for text in one.requires or ():
        wanted = Requirement(text)
        if wanted.marker is None or any(
            wanted.marker.evaluate({"extra": extra}) for extra in ("", *extras)
        ):
            yield wanted


def licence_of(one: importlib.metadata.Distribution) -> str:
    """The licence of a distribution, an SPDX expression. Raises LicenceError."""
    about = one.metadata
    if said := about.get("License-Expression"):
        return str(said)
    if plain(one.name) in STATED:
        return STATED[plain(one.name)]
    classified = {
        line.rpartition(" :: ")[2]
        for line in about.get_all("Classifier") or ()
        if line.startswith("License :: OSI Approved :: ")
    }
    known = {_CLASSIFIED[name] for name in classified if name in _CLASSIFIED}
    if len(known) == 1 and len(classified) == 1:
        return known.pop()
    short = str(about.get("License") or "").strip()
    if short in ALLOWED:
        return short
    raise LicenceError(f"{one.name} {one.version} states no licence that is understood")


def page_parts(lock: Path = ROOT / "web" / "package-lock.json") -> list[Part]:
    """The libraries that are built into the page, by name. Raises LicenceError."""
    out = []
    for place, one in json.loads(lock.read_text("utf-8"))["packages"].items():
        if not place or one.get("dev"):
            continue
        name = place.rpartition("node_modules/")[2]
        if "license" not in one:
            raise LicenceError(f"{name} {one['version']} states no licence")
        needs = tuple(sorted(one.get("dependencies", {})))
        out.append(Part("npm", name, one["version"], one["license"], needs))
    return sorted(out, key=lambda part: part.name)


def allowed(expression: str) -> bool:
    """Whether a part under this licence may be among ours."""
    return any(
        all(one.strip("() ") in ALLOWED for one in re.split(r"\s+AND\s+", choice))
        for choice in re.split(r"\s+OR\s+", expression)
    )


HEAD = """# Licences

weighd itself is under the Apache License 2.0 (`LICENSE`). It is made with the libraries below; each
is under its own licence, whose text comes with it. This page is written by `make sbom`.

"""


def page_of(python: list[Part], page: list[Part]) -> str:
    """The list for people, as Markdown."""
    out = [HEAD]
    for title, parts in (
        ("Python libraries, several stations included", python),
        ("Built into the page", page),
    ):
        out.append(f"## {title}\n\n| library | version | licence |\n| --- | --- | --- |\n")
        out += [f"| {one.name} | {one.version} | {one.licence} |\n" for one in parts]
        out.append("\n")
    out.append(
        "`LicenseRef-matplotlib` is matplotlib's own licence, modelled on that of Python. Wheels\n"
        "of numpy, scipy, pillow, psycopg and others hold libraries of others (OpenBLAS, libpq),\n"
        "whose licences stand in their own files.\n"
    )
    return "".join(out)
