"""Metrics, log events and environment variables, read out of the source."""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass

from docs.making.environment_said import ENVIRONMENT
from docs.making.log_said import EVENTS
from docs.making.sources import ROOT, calls
from docs.making.tables import code, sentence, table

METRICS_FILE = ROOT / "weighd" / "http" / "metrics.py"
_METRIC = re.compile(r"weighd_[a-z_]+")
_LEVELS = ("debug", "info", "warning", "error", "exception", "critical")


@dataclass(frozen=True, slots=True)
class Metric:
    """A metric. ``labels`` are those that it always has."""

    name: str
    kind: str
    about: str
    labels: tuple[str, ...]


def metrics() -> list[Metric]:
    """Every metric, in the order of the alphabet. Counters have ``_total`` behind their name."""
    found: dict[str, Metric] = {}
    for node in ast.walk(ast.parse(METRICS_FILE.read_text("utf-8"))):
        match node:
            case ast.Call(
                func=ast.Name(id=maker),
                args=[ast.Constant(value=str() as name), ast.Constant(value=str() as about), *_],
            ) if maker.endswith("MetricFamily"):
                labels: tuple[str, ...] = ()
                for one in node.keywords:
                    if one.arg == "labels" and isinstance(one.value, ast.List):
                        labels = tuple(ast.literal_eval(one.value))
                counts = maker.startswith("Counter")
                full = f"{name}_total" if counts else name
                found[full] = Metric(full, "counter" if counts else "gauge", about, labels)
            case ast.Tuple(
                elts=[ast.Constant(value=str() as name), ast.Constant(value=str() as about), *_]
            ) if _METRIC.fullmatch(name):
                found[name] = Metric(name, "gauge", about, ())
    return [found[one] for one in sorted(found)]


def made_of_metrics() -> str:
    """The table of metrics."""
    return table(
        ("metric", "kind", "labels", "what it counts or says"),
        (
            (code(one.name), one.kind, ", ".join(map(code, one.labels)), sentence(one.about))
            for one in metrics()
        ),
    )


@dataclass(frozen=True, slots=True)
class Event:
    """Something written to the log. ``fields`` go with it."""

    text: str
    level: str
    fields: tuple[str, ...]
    place: str


def events() -> list[Event]:
    """Everything that is written to the log, in the order of the alphabet."""
    found: dict[str, Event] = {}
    for file, node in calls(ROOT):
        match node:
            case ast.Call(
                func=ast.Attribute(value=ast.Name(id="log" | "_log"), attr=level),
                args=[ast.Constant(value=str() as text), *_],
            ) if level in _LEVELS:
                fields = tuple(one.arg for one in node.keywords if one.arg)
                told = "error" if level == "exception" else level
                found.setdefault(text, Event(text, told, fields, f"{file}:{node.lineno}"))
    return [found[one] for one in sorted(found)]


def made_of_events() -> str:
    """The table of log events."""
    return table(
        ("event", "level", "fields", "what it means, and what to do"),
        (
            (code(one.text), one.level, ", ".join(map(code, one.fields)), EVENTS.get(one.text, ""))
            for one in events()
        ),
    )


def environment() -> dict[str, str]:
    """Every variable of the environment that the program itself reads, and where."""
    found: dict[str, str] = {}
    for file, node in calls(ROOT):
        match node:
            case (
                ast.Call(
                    func=ast.Attribute(
                        value=ast.Attribute(attr="environ") | ast.Name(id="env" | "environment"),
                        attr="get" | "setdefault" | "pop",
                    ),
                    args=[ast.Constant(value=str() as name), *_],
                )
                | ast.Call(
                    func=ast.Attribute(attr="getenv"),
                    args=[ast.Constant(value=str() as name), *_],
                )
                | ast.Subscript(
                    value=ast.Attribute(attr="environ"), slice=ast.Constant(value=str() as name)
                )
            ):
                found.setdefault(name, f"{file}:{node.lineno}")
    return dict(sorted(found.items()))


def made_of_environment() -> str:
    """The table of variables."""
    return table(
        ("variable", "what it does"),
        ((code(name), said) for name, said in ENVIRONMENT.items()),
    )
