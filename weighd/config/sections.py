"""The sections of a configuration: every key, its default, and what it is for."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, PrivateAttr, StringConstraints

from weighd.config.checks import CheckSection, time_of_day
from weighd.config.values import Figure, File, Folder, Grams, Section, as_tuple
from weighd.domain import mass
from weighd.domain.accuracy import Accuracy, AccuracyClass
from weighd.domain.check_routine import Routine
from weighd.domain.label_size import LabelLook, read_label_size
from weighd.domain.metrology import Rule
from weighd.domain.vessels import Vessel

NAME = r"^[A-Za-z0-9]+(?:-[A-Za-z0-9]+)*$"


def _shared(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError("must be text in quotes")  # noqa: TRY004 -- pydantic gathers these
    if value and not value.startswith(("postgresql://", "postgres://")):
        raise ValueError("must be an address, like postgresql://bench@floor.example/weighd")
    return value


Name = Annotated[str, StringConstraints(pattern=NAME, max_length=40)]
Argument = Annotated[str, StringConstraints(min_length=1, max_length=1000)]
Person = Annotated[str, StringConstraints(min_length=1, max_length=80, strip_whitespace=True)]


class StationSection(Section):
    name: Name = Field(
        default="station",
        description="Name of the station: letters, digits, hyphens. Batches carry it.",
    )
    data: Folder = Field(default=Path("weighd-data"), description="Folder that holds the record.")
    formulas: Folder = Field(default=Path("formulas"), description="Folder of the formula files.")
    operators: Annotated[tuple[Person, ...], BeforeValidator(as_tuple)] = Field(
        default=(),
        description="Names offered on the page to whoever weighs; any other can be typed.",
    )


class HttpSection(Section):
    host: Annotated[str, StringConstraints(min_length=1, max_length=253)] = Field(
        default="127.0.0.1",
        description="Address to listen on for the station's own computer; other devices have a "
        "door of their own (elsewhere).",
    )
    port: int = Field(
        default=8451, ge=0, le=65535, description="Port to listen on; 0 takes a free one."
    )


class JudgingSection(Section):
    rule: Literal["guarded", "simple"] = Field(
        default="guarded",
        description="Decision rule: guarded keeps a guard band and says too close to call where "
        "the uncertainty straddles a limit; simple does not.",
    )
    k: Grams = Field(
        default=Decimal(2),
        description="Width of the guard band in standard uncertainties, up to 5.",
    )

    def as_rule(self) -> Rule:
        """The decision rule of the domain."""
        return Rule(self.rule, self.k)


class PlanSection(Section):
    bowl_g: Grams | None = Field(
        default=None,
        description="Mass of the empty bowl that batches are made in, in grams: it counts against "
        "a scale's capacity when weighings are planned.",
    )
    dish_g: Grams | None = Field(
        default=None, description="Mass of the empty dish for small amounts, in grams."
    )
    dish_holds_g: Grams | None = Field(
        default=None, description="Most that the dish takes, in grams."
    )

    def as_text(self) -> dict[str, str]:
        """The figures by key, empty for what is not known."""
        told = {"bowl_g": self.bowl_g, "dish_g": self.dish_g, "dish_holds_g": self.dish_holds_g}
        return {key: "" if one is None else mass.text(one) for key, one in told.items()}


class DryIceSection(Section):
    room_m3: Figure | None = Field(
        default=None, description="Volume of the room in m³ where dry ice is used."
    )
    air_changes: Figure | None = Field(
        default=None,
        description="Its air changes an hour, if they are known; else they count as none.",
    )
    efficiency_percent: Figure | None = Field(
        default=None,
        description="Share of the cold of dry ice that ends in the mix, in percent; 60, a guess, "
        "where not given.",
    )

    def as_text(self) -> dict[str, str]:
        """The figures by key, empty for what is not known."""
        told = {key: getattr(self, key) for key in ("room_m3", "air_changes", "efficiency_percent")}
        return {key: "" if one is None else mass.text(one) for key, one in told.items()}


class VesselSection(Section):
    mass_g: Grams = Field(description="Mass of the empty vessel in grams.")
    u_g: Grams = Field(
        default=Decimal(0),
        description="How well that is known: its standard uncertainty in grams.",
    )
    allow_g: Grams = Field(
        default=Decimal(0),
        description="What it may differ by besides, in grams: wet, or with its spatula.",
    )

    def as_vessel(self, name: str) -> Vessel:
        """The vessel of the domain."""
        return Vessel(name, self.mass_g, self.u_g, self.allow_g)


def _label_sizes(value: object) -> object:
    sizes = as_tuple(value)
    if not isinstance(sizes, tuple) or not sizes:
        raise ValueError('must be a list of sizes, like ["62x40"]')
    for one in sizes:
        if not isinstance(one, str):
            raise ValueError('must be a list of sizes, like ["62x40"]')  # noqa: TRY004 -- as above
        read_label_size(one)
    return sizes


class LabelsSection(Section):
    sizes: Annotated[tuple[str, ...], BeforeValidator(_label_sizes)] = Field(
        default=LabelLook().sizes,
        description="Sizes of labels in mm, the usual one first: 62x40 is one a page, 70x37 on "
        "210x297 as many as fit on a sheet, with gap 2x0 behind it where they do not touch.",
    )
    code: Literal["link", "elements"] = Field(
        default="link",
        description="What the code of a label holds where the formula states a trade number: link, "
        "a GS1 Digital Link address; elements, GS1 element strings.",
    )
    kitchen: Annotated[str, StringConstraints(max_length=80, strip_whitespace=True)] = Field(
        default="", description="Who made it, as labels have it; the station's name otherwise."
    )
    language: Literal["en", "de"] = Field(
        default="en",
        description="Language of the words on labels, English or German, whatever the page has: "
        "that of the country they are for.",
    )

    def look(self, station: str) -> LabelLook:
        """How labels look, at a station of this name."""
        return LabelLook(self.sizes, self.code, self.kitchen or station, self.language)


class HeadsSection(Section):
    folder: Folder | None = Field(
        default=None,
        description="Folder for the signed head of each day, on another disk at best; none is "
        "written where it is not given.",
    )
    at_utc: Annotated[str, BeforeValidator(time_of_day)] = Field(
        default="22:00", description="Time of day in UTC at which it is made."
    )
    pdf: bool = Field(default=True, description="Whether it is also written as a page to print.")
    command: Annotated[tuple[Argument, ...], BeforeValidator(as_tuple)] = Field(
        default=(),
        description="A command of your own that gets the head as text on its input, without a "
        "shell; {day}, {short}, {file} and {station} in its arguments are filled in.",
    )


class SharedSection(Section):
    store: Annotated[str, BeforeValidator(_shared)] = Field(
        default="",
        description="Address of the PostgreSQL database that several stations share, "
        "postgresql://USER@HOST:PORT/DATABASE; without one nothing is sent.",
    )
    password_file: File | None = Field(
        default=None, description="File whose first line is the user's password there."
    )
    formulas: Literal["take", "ask", "off"] = Field(
        default="take",
        description="What is done with formulas that other stations publish: take lists them "
        "beside the kitchen's own, ask waits until somebody takes them, off leaves them there.",
    )


class PeopleSection(Section):
    minutes: float = Field(
        default=15.0,
        ge=1,
        le=1440,
        allow_inf_nan=False,
        description="Minutes for which somebody who signed in by PIN stays signed in on that page "
        "without doing anything.",
    )


class RetentionSection(Section):
    batches_days: int | None = Field(
        default=None,
        ge=1,
        le=100_000,
        description="Days after which a batch that is over may be put away, for weighd archive "
        "without --before, and for archives.",
    )
    archives: Folder | None = Field(
        default=None,
        description="Folder into which such batches are put away while the station runs, once a "
        "day; without one nothing is ever put away by itself.",
    )
    backups: int | None = Field(
        default=None,
        ge=1,
        le=100_000,
        description="How many copies weighd backup leaves in its folder, without --keep.",
    )

    @property
    def quarrel(self) -> str:
        """Why it cannot be used; empty where it can."""
        if self.archives is None or self.batches_days is not None:
            return ""
        return "needs batches_days: how old a batch has to be that is put away there"


class LogSection(Section):
    level: Literal["debug", "info", "warning", "error"] = Field(
        default="info", description="The least serious messages that are written."
    )
    format: Literal["auto", "text", "json"] = Field(
        default="auto", description="How they are written; auto is text on a terminal, else json."
    )


class ScaleSection(Section):
    """Keys that every scale has. ``settings`` is everything else: the driver's own."""

    driver: Name = Field(default="serial", description="Name of the driver that reaches the scale.")
    max_g: Grams | None = Field(
        default=None, description="Capacity in grams, where the scale does not say it itself."
    )
    min_g: Grams | None = Field(default=None, description="Smallest load worth weighing, in grams.")
    interval_g: Grams | None = Field(
        default=None,
        description="Scale interval in grams; the last digit shown where it is not given.",
    )
    repeatability_g: Grams = Field(
        default=Decimal(0), description="Standard deviation of repeated weighings, in grams."
    )
    max_error_g: Grams | None = Field(
        default=None, description="Most that an amount weighed in may be off by, in grams."
    )
    accuracy_class: Literal["I", "II", "III", "IIII"] | None = Field(
        default=None,
        description="Accuracy class of a verified scale (OIML R 76-1), instead of max_error_g.",
    )
    verification_interval_g: Grams | None = Field(
        default=None,
        description="Its verification scale interval e in grams; interval_g where not given.",
    )
    creep_g: Grams = Field(
        default=Decimal(0),
        description="Most that the display moves by itself in half an hour with the load on, in "
        "grams.",
    )
    silent_after_s: float = Field(
        default=2.0,
        gt=0,
        le=3600,
        allow_inf_nan=False,
        description="Seconds without a reading after which the scale counts as silent.",
    )
    check: CheckSection | None = None
    _settings: Mapping[str, object] = PrivateAttr(default_factory=dict)

    def with_settings(self, settings: Mapping[str, object]) -> ScaleSection:
        """The same, with what belongs to the driver."""
        copy = self.model_copy()
        copy._settings = dict(settings)
        return copy

    @property
    def accuracy(self) -> Accuracy:
        """What is stated of its errors; e is d where a class is given without e."""
        stated = Accuracy(
            self.repeatability_g,
            self.max_error_g,
            None if self.accuracy_class is None else AccuracyClass(self.accuracy_class),
            self.verification_interval_g,
            self.creep_g,
        )
        return stated if self.interval_g is None else stated.on(self.interval_g)

    def routine(self, k: Decimal) -> Routine | None:
        """How it is checked; ``k`` is the width of a guard band. ``None`` where it is not."""
        return None if self.check is None else self.check.as_routine(self.max_g, k)

    @property
    def settings(self) -> Mapping[str, object]:
        """What the table holds for its driver."""
        return self._settings
