"""The steps of a formula as the text of its file, which reads back as the same."""

from __future__ import annotations

import json
from collections.abc import Iterable
from decimal import Decimal

from weighd.domain import mass
from weighd.domain.cautions import OF_MEANS
from weighd.domain.process import Limits, ProcessStep


def steps_toml(steps: Iterable[ProcessStep]) -> list[str]:
    """Lines of TOML for the ``[[steps]]`` of a formula file, an empty one before each."""
    return [line for one in steps for line in ("", "[[steps]]", *_step(one))]


def _step(step: ProcessStep) -> list[str]:
    temperature, time = _temperature(step.limits), _time(step.limits)
    given = {
        "kind": str(step.kind),
        "name": step.name,
        "how": step.how,
        "with": step.means,
        "temperature": temperature,
        "time": time,
        "table": step.table.id if step.table else "",
    }
    out = [f"{key} = {_quoted(text)}" for key, text in given.items() if text]
    own = [one for one in step.cautions if one not in OF_MEANS.get(step.means, ())]
    if own:
        rows = [f"{{ name = {_quoted(it.name)}, text = {_quoted(it.text)} }}" for it in own]
        out.append(f"cautions = [{', '.join(rows)}]")
    return out


def _temperature(limits: Limits) -> str:
    if limits.at_least is not None and limits.at_most is not None:
        return f"{limits.at_least} to {limits.at_most}"
    if limits.at_least is not None:
        return f"at least {limits.at_least}"
    return "" if limits.at_most is None else f"at most {limits.at_most}"


def _time(limits: Limits) -> str:
    if limits.least_s is not None and limits.most_s is not None:
        return f"{_exact(limits.least_s)} to {_exact(limits.most_s)}"
    if limits.least_s is not None:
        return f"at least {_exact(limits.least_s)}"
    return "" if limits.most_s is None else f"within {_exact(limits.most_s)}"


def _exact(seconds: Decimal) -> str:
    for unit, of in (("h", 3600), ("min", 60)):
        if seconds and seconds % of == 0:
            return f"{int(seconds // of)} {unit}"
    return f"{mass.text(seconds.normalize())} s"


def _quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are among its own."""
    return json.dumps(text, ensure_ascii=False)
