"""What a reader answers to what somebody may write, in a line: what it read, or what is wrong.

Of an error: its code, its place, and what its sentence carries, that is, the words in quotes and
the numbers; the rest of a sentence may be put in other words.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from decimal import Decimal
from enum import Enum
from typing import Any

from weighd.domain.errors import WeighdError

#: What may stand behind a key of a TOML file and does not belong there, or only just.
ODD = ('""', '" "', '"x" ', "3", "-1", "0", "true", "[]", '["a", 3]', "{}", '"a\\u0007"', '"1e3"')
_CARRIED = re.compile(r'"[^"]*"|(?<![\w.])[-+]?\d[\d.,]*(?:\w+)?')
_LONG = re.compile(r"(.)\1{40,}")


def told(error: Exception) -> str:
    """An error in a line."""
    if isinstance(error, WeighdError):
        sentences = f"{error.message} | {error.remedy}" if error.remedy else error.message
        head, rest = f"{error.code} @ {error.where}", sentences
    else:
        head, rest = type(error).__name__, str(error)
    carried = " ".join(one.rstrip(".,") for one in _CARRIED.findall(rest))
    hint = " | remedy" if isinstance(error, WeighdError) and error.remedy else ""
    return f"{head} | {carried}{hint}"


def shown(value: Any) -> str:
    """A value in a line: what of it is not as usual."""
    if is_dataclass(value) and not isinstance(value, type):
        parts = [
            f"{one.name}={shown(getattr(value, one.name))}"
            for one in fields(value)
            if getattr(value, one.name) not in (None, "", (), {}, False)
        ]
        return f"{type(value).__name__}({', '.join(parts)})"
    if isinstance(value, Enum):
        return str(value.value)
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{key}: {shown(one)}" for key, one in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(shown(one) for one in value) + "]"
    return repr(value)


def answer(read: Callable[[], Any], show: Callable[[Any], str] = shown) -> str:
    """What comes of reading, in a line."""
    try:
        line = show(read())
    except (WeighdError, ValueError, KeyError, TypeError) as error:
        line = told(error)
    return short(line)


def short(text: str) -> str:
    """A text in one line that can be shown; what is repeated long is counted."""
    text = "".join(
        one if one.isprintable() else one.encode("unicode_escape").decode() for one in text
    )
    return _LONG.sub(lambda found: f"{found[1]}*{len(found[0])}", text)


def flat(value: Any, path: str = "") -> dict[str, Any]:
    """JSON values by their places."""
    if isinstance(value, Mapping):
        return {k: v for key, one in value.items() for k, v in flat(one, f"{path}.{key}").items()}
    if isinstance(value, list | tuple):
        return {k: v for n, one in enumerate(value) for k, v in flat(one, f"{path}.{n}").items()}
    return {path[1:]: value}


def besides(usual: Any) -> Callable[[Any], str]:
    """Shows only what is other than usual: by place, ``-`` for what is gone."""
    was = flat(usual)

    def show(value: Any) -> str:
        now = flat(value)
        changed = [f"{key}={now[key]!r}" for key in now if now[key] != was.get(key)]
        return "read: " + ", ".join([*changed, *(f"-{key}" for key in was if key not in now)])

    return show


def edited(text: str, odd: Iterable[str] = ODD) -> Iterator[tuple[str, str]]:
    """A TOML text with each of its lines changed in each way: what was done, and the whole text."""
    rows = text.strip().splitlines()
    for n, row in enumerate(rows):
        key, equals, _ = row.partition(" = ")
        for value in odd if equals else ():
            changed = [*rows[:n], f"{key} = {value}", *rows[n + 1 :]]
            yield f"{n + 1} {key} = {value}", "\n".join(changed)
        yield f"{n + 1} {row} left out", "\n".join([*rows[:n], *rows[n + 1 :]])
        if not row.startswith("["):
            yield f"{n + 1} then other", "\n".join([*rows[: n + 1], "other = 1", *rows[n + 1 :]])
