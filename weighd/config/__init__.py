"""The configuration: TOML text in, one frozen :class:`Config` out, or an error with its line.

1. An empty file is a valid configuration: a station on the loopback address without a scale.
2. A wrong key or value is named with file, line and dotted key, and what is allowed there.
3. A scale's table holds the keys that every scale has; whatever else stands in it belongs to the
   scale's driver, which checks it itself (:meth:`Config.driver_error` gives its answer a line).
4. A relative folder counts from the folder of the configuration file.
"""

from __future__ import annotations

import difflib
import ipaddress
import os
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple, NoReturn

from pydantic import Field, PrivateAttr, ValidationError
from pydantic_core import PydanticUndefined

from weighd.config import checks
from weighd.config import elsewhere as from_elsewhere
from weighd.config import floor as on_floor
from weighd.config.elsewhere import ElsewhereSection, not_at_home
from weighd.config.floor import FloorSection
from weighd.config.sections import (
    NAME,
    DryIceSection,
    HeadsSection,
    HttpSection,
    JudgingSection,
    LabelsSection,
    LogSection,
    PeopleSection,
    PlanSection,
    RetentionSection,
    ScaleSection,
    SharedSection,
    StationSection,
    VesselSection,
)
from weighd.config.values import Section
from weighd.domain import toml_text
from weighd.domain.errors import ConfigError
from weighd.domain.vessels import Vessel, why_none

FILE_NAME = "weighd.toml"
_SECTIONS: dict[str, type[Section]] = {
    "station": StationSection,
    "http": HttpSection,
    "elsewhere": ElsewhereSection,
    "judging": JudgingSection,
    "plan": PlanSection,
    "dry_ice": DryIceSection,
    "labels": LabelsSection,
    "heads": HeadsSection,
    "retention": RetentionSection,
    "shared": SharedSection,
    "people": PeopleSection,
    "log": LogSection,
    "floor": FloorSection,
}
SCALES, VESSELS = "scales", "vessels"
_TABLES = (*_SECTIONS, SCALES, VESSELS)
__all__ = [
    "FILE_NAME",
    "SCALES",
    "Config",
    "Key",
    "find",
    "is_loopback",
    "load",
    "not_at_home",
    "parse",
    "reference",
    "tables",
]


class Config(Section):
    """Everything that was configured, with its defaults filled in. ``file`` may be ``None``."""

    station: StationSection = StationSection()
    http: HttpSection = HttpSection()
    elsewhere: ElsewhereSection = ElsewhereSection()
    judging: JudgingSection = JudgingSection()
    plan: PlanSection = PlanSection()
    dry_ice: DryIceSection = DryIceSection()
    labels: LabelsSection = LabelsSection()
    heads: HeadsSection = HeadsSection()
    retention: RetentionSection = RetentionSection()
    shared: SharedSection = SharedSection()
    people: PeopleSection = PeopleSection()
    log: LogSection = LogSection()
    floor: FloorSection = FloorSection()
    scales: Mapping[str, ScaleSection] = Field(default_factory=dict)
    vessels: Mapping[str, VesselSection] = Field(default_factory=dict)
    _file: Path | None = PrivateAttr(None)
    _lines: dict[toml_text.Path, int] = PrivateAttr(default_factory=dict)

    def known_vessels(self) -> list[Vessel]:
        """The vessels whose mass is configured."""
        return [one.as_vessel(name) for name, one in self.vessels.items()]

    @property
    def file(self) -> Path | None:
        """The file it was read from."""
        return self._file

    def place(self, folder: Path) -> Path:
        """A folder of the configuration, from where the file stands."""
        base = Path.cwd() if self._file is None else self._file.absolute().parent
        return base / folder

    def wrong(self, path: toml_text.Path, message: str, *, code: str = "bad-value") -> ConfigError:
        """The error that a key is wrong: for checks that need more than the text."""
        return _wrong(self._lines, str(self._file or FILE_NAME), path, message, code)

    def driver_error(self, scale: str, error: ValueError) -> ConfigError:
        """What a driver says of its settings, with file and line."""
        path: toml_text.Path = (SCALES, scale)
        if isinstance(error, ValidationError):
            first = error.errors(include_url=False)[0]
            if first["type"] == "extra_forbidden":
                message = _unknown(str(first["loc"][-1]), tuple(ScaleSection.model_fields))
                message = message.replace("; the keys are", ", nor of its driver; each scale has")
                return self.wrong((*path, *first["loc"]), message, code="unknown-key")
            return self.wrong((*path, *first["loc"]), _plainly(first))
        text = str(error)
        settings = self.scales[scale].settings
        named = [key for key in settings if re.search(rf"\b{re.escape(key)}\b", text)]
        return self.wrong((*path, *named[:1]), text.rstrip("."))


class Key(NamedTuple):
    """One key of the configuration, for a reference: dotted, default as TOML, description."""

    key: str
    default: str
    description: str


def tables() -> dict[str, type[Section]]:
    """The model of every table that a file may have; ``scales.NAME`` stands for any scale."""
    return {
        **_SECTIONS,
        f"{SCALES}.NAME": ScaleSection,
        f"{SCALES}.NAME.check": checks.CheckSection,
        f"{SCALES}.NAME.check.masses": checks.MassSection,
        f"{VESSELS}.NAME": VesselSection,
    }


def reference() -> list[Key]:
    """Every key, in the order a file would have them."""
    sections = tables()
    return [
        Key(f"{section}.{name}", _as_toml(field.default), field.description or "")
        for section, model in sections.items()
        for name, field in model.model_fields.items()
        if f"{section}.{name}" not in sections
    ]


def find(explicit: Path | None = None, environment: Mapping[str, str] | None = None) -> Path | None:
    """The configuration file: the one named, else the first there is; ``None`` for none.

    Looked for in the working folder, ``$XDG_CONFIG_HOME/weighd`` and ``/etc/weighd``.
    """
    if explicit is not None:
        return explicit
    env = os.environ if environment is None else environment
    home = env.get("XDG_CONFIG_HOME") or str(Path(env.get("HOME") or "~").expanduser() / ".config")
    places = (Path(), Path(home) / "weighd", Path("/etc/weighd"))
    return next((place / FILE_NAME for place in places if (place / FILE_NAME).is_file()), None)


def load(explicit: Path | None = None) -> Config:
    """Find and read the configuration; the defaults where there is none.

    Raises :class:`ConfigError` for a file that cannot be read or used.
    """
    file = find(explicit)
    if file is None:
        return Config()
    try:
        text = file.read_bytes().decode("utf-8-sig")
    except OSError as error:
        code = "no-config" if isinstance(error, FileNotFoundError) else "unreadable-config"
        raise ConfigError(
            code,
            f"The configuration cannot be read: {error.strerror or error}.",
            where=str(file),
        ) from error
    except UnicodeDecodeError as error:
        raise ConfigError(
            "not-text", "The configuration is not text in UTF-8.", where=str(file)
        ) from error
    return parse(text, file)


def parse(text: str, file: Path | None = None) -> Config:
    """The configuration that ``text`` holds. Raises :class:`ConfigError` with file and line."""
    name = str(file or FILE_NAME)
    try:
        document = toml_text.load(text)
    except toml_text.TomlError as error:
        place = f"{name}, line {error.line}" if error.line else name
        raise ConfigError("not-toml", f"This is not readable TOML: {error}.", where=place) from None
    where = toml_text.lines(text)

    def refuse(path: toml_text.Path, message: str, code: str = "bad-value") -> NoReturn:
        raise _wrong(where, name, path, message, code)

    sections: dict[str, Any] = {}
    for section, table in document.items():
        if section not in _TABLES:
            refuse((section,), _unknown(section, _TABLES), "unknown-key")
        if not isinstance(table, dict):
            at: toml_text.Path = (section, 0) if isinstance(table, list) else (section,)
            refuse(at, f"[{section}] must be a table")
        if section in _SECTIONS:
            sections[section] = _checked(_SECTIONS[section], table, (section,), where, name)
    scales = {}
    for scale, table in document.get(SCALES, {}).items():
        path: toml_text.Path = (SCALES, scale)
        if not isinstance(table, dict):
            refuse(path, f"a scale is a table of its own, [{SCALES}.NAME]")
        if not re.fullmatch(NAME, scale, re.ASCII) or len(scale) > 40:
            refuse(path, "a scale is named with letters, digits and hyphens")
        own = {key: one for key, one in table.items() if key in ScaleSection.model_fields}
        checked = _checked(ScaleSection, own, path, where, name)
        assert isinstance(checked, ScaleSection)
        for key, message in _quarrels(checked):
            refuse((*path, key), message)
        for below, message in checks.quarrels(checked):
            refuse((*path, *below), message)
        rest = {key: one for key, one in table.items() if key not in own}
        scales[scale] = checked.with_settings(rest)
    vessels = dict(_vessels(document.get(VESSELS, {}), where, name))
    config = Config(**sections, scales=scales, vessels=vessels)
    for at, message, code in _sense(config):
        refuse(at, message, code)
    config._file, config._lines = file, where
    return config


def _vessels(
    tables: Mapping[str, Any], where: dict[toml_text.Path, int], file: str
) -> Iterator[tuple[str, VesselSection]]:
    """Each ``[vessels.NAME]``. Raises :class:`ConfigError`."""
    for name, table in tables.items():
        path: toml_text.Path = (VESSELS, name)
        if not isinstance(table, dict):
            reason = f"a vessel is a table of its own, [{VESSELS}.NAME]"
            raise _wrong(where, file, path, reason, "bad-value")
        checked = _checked(VesselSection, table, path, where, file)
        assert isinstance(checked, VesselSection)
        wrong = why_none(checked.as_vessel(name))
        if wrong:
            raise _wrong(where, file, path, wrong, "bad-value")
        yield name, checked


def _checked(
    model: type[Section],
    table: Mapping[str, Any],
    path: toml_text.Path,
    where: dict[toml_text.Path, int],
    file: str,
) -> Section:
    try:
        return model.model_validate(table)
    except ValidationError as error:
        found = sorted(
            error.errors(include_url=False),
            key=lambda one: toml_text.line_of(where, (*path, *one["loc"])),
        )
        first = found[0]
        at = tuple(part for part in first["loc"] if not str(part).startswith("function-"))
        if first["type"] == "extra_forbidden":
            for name in (one for one in at[:-1] if isinstance(one, str)):
                model = checks.TABLES[name]
            once = from_elsewhere.gone(".".join(map(str, (*path, *at))))
            message = once or _unknown(str(at[-1]), tuple(model.model_fields))
            raise _wrong(where, file, (*path, *at), message, "unknown-key") from None
        raise _wrong(where, file, (*path, *at), _plainly(first), "bad-value") from None


def _quarrels(scale: ScaleSection) -> Iterator[tuple[str, str]]:
    """Figures of one scale that do not go together: the key to blame and why."""
    for key in ("max_g", "interval_g"):
        if getattr(scale, key) == 0:
            yield key, "must be above zero"
    if scale.max_g is not None:
        if scale.interval_g is not None and scale.interval_g >= scale.max_g:
            yield "interval_g", "must be smaller than max_g"
        if scale.min_g is not None and scale.min_g >= scale.max_g:
            yield "min_g", "must be smaller than max_g"
    yield from _unlike_its_class(scale)


def _unlike_its_class(scale: ScaleSection) -> Iterator[tuple[str, str]]:
    """A class that the figures contradict (OIML R 76-1, Table 3), or that hangs in the air."""
    if (stated := scale.accuracy).by_class is None:
        if scale.verification_interval_g is not None:
            yield "verification_interval_g", "belongs to accuracy_class, which is not given"
        return
    if scale.max_error_g is not None:
        yield "max_error_g", "cannot stand beside accuracy_class, which says the same; leave one"
    if scale.verification_interval_g == 0:
        yield "verification_interval_g", "must be above zero"
        return
    if stated.e_g is None or scale.max_g is None:
        return
    if stated.by_class.least_g(stated.e_g, scale.max_g) is None:
        reason = (
            f"no scale of class {stated.by_class} has e = {stated.e_g} g and Max = {scale.max_g} g "
            "(OIML R 76-1, Table 3); look at its plate again, or give max_error_g instead"
        )
        yield "accuracy_class", reason


def _sense(config: Config) -> Iterator[tuple[toml_text.Path, str, str]]:
    """What is well formed and still cannot be used."""
    if not is_loopback(config.http.host):
        yield ("http", "host"), not_at_home(config.http.host), "remote-refused"
    for key, reason, code in from_elsewhere.quarrels(config.elsewhere):
        yield ("elsewhere", key), reason, code
    if reason := config.retention.quarrel:
        yield ("retention", "archives"), reason, "bad-value"
    for key, reason in on_floor.quarrels(config.floor):
        yield ("floor", key), reason, "bad-value"
    try:
        config.judging.as_rule()
    except ValueError as error:
        yield ("judging", "k"), str(error), "bad-value"


def is_loopback(host: str) -> bool:
    """Whether only this computer can reach the address."""
    if host.lower() == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False


def _wrong(
    where: dict[toml_text.Path, int], file: str, path: toml_text.Path, message: str, code: str
) -> ConfigError:
    line = toml_text.line_of(where, path)
    place = f"{file}, line {line}" if line else file
    return ConfigError(code, f"{message}.", where=f"{place}, {toml_text.dotted(path)}")


def _unknown(key: str, allowed: tuple[str, ...]) -> str:
    near = difflib.get_close_matches(key, allowed, 1)
    hint = f' (did you mean "{near[0]}"?)' if near else ""
    return f'"{key}" is not a key here{hint}; the keys are {", ".join(allowed)}'


_PLAIN = {
    "string_type": "must be text in quotes",
    "int_type": "must be a whole number",
    "float_type": "must be a number",
    "bool_type": "must be true or false",
    "tuple_type": 'must be a list, like ["one", "two"]',
    "missing": "is missing",
    "finite_number": "must be a finite number",
}


def _plainly(error: Any) -> str:
    """One error of pydantic in words for whoever wrote the file."""
    kind, context = error["type"], error.get("ctx", {})
    if kind == "literal_error":
        return f"must be one of {context['expected'].replace(chr(39), chr(34))}"
    if kind == "string_pattern_mismatch" and context["pattern"] == NAME:
        return "must be letters, digits and hyphens"
    text = _PLAIN.get(kind) or str(error["msg"]).removeprefix("Value error, ")
    return text[:1].lower() + text[1:] if text[:1].isupper() else text


def _as_toml(value: object) -> str:
    if value is None or value is PydanticUndefined:
        return ""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, tuple):
        return "[" + ", ".join(f'"{one}"' for one in value) + "]"
    return str(value) if isinstance(value, int | float) else f'"{value}"'
