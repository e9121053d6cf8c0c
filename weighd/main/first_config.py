"""A scale written into the configuration: the file that is there with a table more, or a new one.

Nothing that stands in the file is changed but what is asked for, and nothing is written that the
station could not be started with.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from weighd.config import FILE_NAME, SCALES, Config, parse
from weighd.domain.errors import OperatorError
from weighd.main.plugging import plug
from weighd.station.drafting import NO_FILE
from weighd.storage.replacing import replace_file, tag_of
from weighd.storage.toml_edit import EditError, edited

#: How a scale is called that nobody gave a name.
USUAL_NAME = "bench"
SIMULATED = "simulated"
_HEAD = "# Written by weighd at its first start. Every key: docs, Configuration keys.\n"


class ConfigFile:
    """The configuration's file: where it is, or will be."""

    def __init__(self, path: Path | None) -> None:
        self.path = Path.cwd() / FILE_NAME if path is None else path.absolute()

    @property
    def folder(self) -> Path:
        """The folder that it stands in; relative folders of it count from there."""
        return self.path.parent

    def read(self) -> tuple[str, str]:
        """Its text and tag; nothing, where there is none yet. Raises OperatorError."""
        try:
            if not self.path.exists():
                return "", NO_FILE
            return self.path.read_text("utf-8-sig"), tag_of(self.path)
        except (OSError, UnicodeDecodeError) as error:
            raise OperatorError(
                "cannot-read", f"{self.path.name} cannot be read: {error}.", where=self.path.name
            ) from error

    def scales(self) -> Mapping[str, Mapping[str, Any]]:
        """The tables of its scales, by name."""
        found = self._document(self.read()[0]).get(SCALES, {})
        return found if isinstance(found, Mapping) else {}

    def add_scale(self, name: str, table: Mapping[str, Any], *, instead: bool) -> str:
        """Write a scale; its name, a free one like ``name``.

        ``instead``  simulated scales go, since a real one comes.
        Raises :class:`ConfigError` for what the station could not be started with, and
        :class:`OperatorError`; nothing is written then.
        """
        text, tag = self.read()
        wanted = self._document(text)
        held = dict(wanted.get(SCALES, {}))
        if instead:
            held = {key: one for key, one in held.items() if one.get("driver") != SIMULATED}
        name = free_name(name or USUAL_NAME, held)
        wanted[SCALES] = {**held, name: dict(table)}
        self._write(text, tag, wanted)
        return name

    def add_operator(self, name: str) -> None:
        """Have a name offered to whoever weighs. Raises as :meth:`add_scale`."""
        text, tag = self.read()
        wanted = self._document(text)
        station = dict(wanted.get("station", {}))
        names = list(station.get("operators", ()))
        if name in names:
            return
        wanted["station"] = {**station, "operators": [*names, name]}
        self._write(text, tag, wanted)

    def _document(self, text: str) -> dict[str, Any]:
        try:
            return tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise self._cannot(str(error)) from error

    def _write(self, text: str, tag: str, wanted: Mapping[str, Any]) -> None:
        try:
            after = edited(text or _HEAD, wanted)
        except EditError as error:
            raise self._cannot(str(error)) from error
        checked: Config = parse(after, self.path)
        plug(checked)  # opens nothing: a driver says whether it could be
        replace_file(self.path, after, tag)

    def _cannot(self, why: str) -> OperatorError:
        return OperatorError(
            "cannot-edit",
            f"{self.path.name} is written in a way that cannot be changed from here ({why}).",
            where=self.path.name,
            remedy="Change it with an editor of texts.",
        )


def free_name(name: str, taken: Mapping[str, object]) -> str:
    """The name, or the first like it that nobody has: ``bench``, ``bench-2``."""
    if name not in taken:
        return name
    return next(one for n in range(2, 1000) if (one := f"{name}-{n}") not in taken)
