"""What a target of fuzzing is, and inputs that are hard for many readers.

A target takes bytes and does with them what the station would do with such an input from outside.
What must hold: nothing is raised but the errors that the reader's docstring names, what was
written reads back as the same, and neither time nor memory run away.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

#: Longest input that is given to a target; readers bound what they take by themselves.
LONGEST = 8_000


@dataclass(frozen=True)
class Target:
    """One reader.

    ``run``    gives it an input; raises whatever must not be.
    ``seeds``  inputs to begin with, made of what ships and of fixtures.
    ``group``  which long run it belongs to.
    ``json``   its inputs are JSON: they are damaged as values too, not as bytes alone.
    """

    run: Callable[[bytes], None]
    seeds: Callable[[], Sequence[bytes]]
    group: str
    json: bool = False


def file_text(data: bytes) -> str | None:
    """Bytes as the text of a file; ``None`` for what no file of text in UTF-8 holds."""
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return None


def typed(data: bytes) -> str:
    """Bytes as text that came in JSON: it may hold half of a surrogate pair."""
    return data.decode("utf-8", "surrogateescape")


def of_json(data: bytes) -> object:
    """Bytes as a JSON value, ``None`` for what is none: those readers come after the parser."""
    try:
        return json.loads(data)
    except (ValueError, RecursionError):
        return None


#: Pieces that readers stumble over: put into inputs, and each tried alone.
HARD: tuple[bytes, ...] = tuple(
    one.encode("utf-8", "surrogatepass")
    for one in (
        "\0",
        "\ud800",
        "\u202e",
        "\u2066abc\u2069",
        "\ufeff",
        "\u2028",
        "\u0663\u0664",  # digits that are none of the ten
        "\u00bd",
        "\u00b2",
        "\u2212",
        "1e999999999",
        "1E-999999999",
        "-1e400",
        "9" * 400,
        "-0",
        "0." + "0" * 300 + "1",
        "NaN",
        "Infinity",
        "-Infinity",
        "sNaN",
        "nan",
        "inf",
        "[" * 1200,
        "{" * 1200,
        '{"a":' * 1200,
        "a." * 1200,
        "(" * 1200,
        '"' * 3,
        "\\u0000",
        "\\ud800",
        "\\",
        "\r\n",
        "\t",
        "%",
        "'''",
        "true",
        "null",
        "[]",
        "{}",
        "-1",
        "18446744073709551616",
        "1_0",
        "0x7f",
        "2026-02-30",
        "9999-12-31T23:59:59.999Z",
        "0000-00-00",
        "\u1e9e",
        "\u0130",
        "=",
        ";",
        ",",
    )
)


def mutated(seed: bytes, dice: random.Random, others: Sequence[bytes]) -> bytes:
    """A seed, damaged some times: what a fuzzer without coverage can do."""
    out = bytearray(seed)
    for _ in range(dice.choice((1, 1, 2, 3, 6))):
        at = dice.randrange(len(out) + 1)
        upto = min(len(out), at + dice.choice((1, 1, 2, 4, 12, 60)))
        match dice.randrange(7):
            case 0:
                out[at:at] = dice.choice(HARD)
            case 1:
                out[at:upto] = dice.choice(HARD)
            case 2:
                del out[at:upto]
            case 3:
                out[at:upto] = dice.randbytes(upto - at)
            case 4:
                out[at:at] = out[at:upto] * dice.choice((1, 3, 40))
            case 5:
                other = dice.choice(others)
                cut = dice.randrange(len(other) + 1)
                out[at:upto] = other[cut : cut + dice.choice((4, 20, 200))]
            case _:
                del out[at:]
    return bytes(out[:LONGEST])


def json_mutated(seed: bytes, dice: random.Random) -> bytes:
    """A JSON document with one or some values in it replaced, so that it stays JSON."""
    document = json.loads(seed)
    for _ in range(dice.choice((1, 1, 2, 4))):
        document = _replaced(document, dice)
    return json.dumps(document).encode()


#: Values in the place of others.
ODD: tuple[object, ...] = (
    None,
    True,
    False,
    0,
    -1,
    1.5,
    10**30,
    1e308,
    float("inf"),
    float("nan"),
    "",
    "0",
    "-1",
    "1e9",
    "\ud800",
    "\u202e",
    "x" * 500,
    "9" * 30,
    [],
    {},
    [[]],
    [None],
    {"": None},
    {"a": {"b": {}}},
)


def _replaced(value: object, dice: random.Random) -> object:
    if isinstance(value, dict) and value and dice.random() < 0.93:
        key = dice.choice(list(value))
        roll = dice.random()
        out = dict(value)
        if roll < 0.06:
            del out[key]
        elif roll < 0.1:
            out[dice.choice(("x", "", "\ud800"))] = out.pop(key)
        else:
            out[key] = _replaced(value[key], dice)
        return out
    if isinstance(value, list) and value and dice.random() < 0.93:
        at, roll, rows = dice.randrange(len(value)), dice.random(), list(value)
        if roll < 0.06:
            del rows[at]
        elif roll < 0.12:
            rows.insert(at, rows[at])
        else:
            rows[at] = _replaced(rows[at], dice)
        return rows
    return dice.choice(ODD)
