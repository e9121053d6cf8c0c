"""Coverage-guided fuzzing of everything that reads a text or a document from outside.

    pip install -e .[fuzz]                    # atheris: Linux on x86 only, so no test needs it
    python tests/fuzz/fuzz_parsers.py --only=formula,csv -max_total_time=600 FOLDER

Targets are those of ``targets_text`` and ``targets_record``; ``--group=typed`` takes all of one
group, and without either all run. ``FOLDER`` keeps what was found interesting, for each choice of
targets one of its own. A crash is written to ``crash-...``; named as an argument it is read again,
and put into ``fixtures/fuzz/TARGET/`` it is read by the tests for good.
"""

from __future__ import annotations

import random
import sys
from pathlib import Path

import atheris

_ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(_ROOT), str(_ROOT / "drivers"), str(_ROOT / "web")]

with atheris.instrument_imports(
    include=["weighd", "weighd_drivers", "biip", "tomllib", "tomlkit"],
    exclude=["weighd.http.app", "weighd.cli"],
):
    from tests.fuzz import targets_record, targets_text

from tests.fuzz.target import LONGEST, json_mutated, mutated  # noqa: E402

TARGETS = {**targets_text.TARGETS, **targets_record.TARGETS}
CHOICE = list(TARGETS)
_SEEDS: dict[str, list[bytes]] = {}


def one_input(data: bytes) -> None:
    """One input: which target, and what it is given."""
    if data:
        TARGETS[CHOICE[data[0] % len(CHOICE)]].run(data[1 : 1 + 8 * LONGEST])


def mutate(data: bytes, largest: int, seed: int) -> bytes:
    """Another input: as libFuzzer makes one, or with a piece that is hard for readers."""
    dice = random.Random(seed)
    if len(data) > 1 and dice.random() < 0.4:
        name = CHOICE[data[0] % len(CHOICE)]
        try:
            if TARGETS[name].json and dice.random() < 0.8:
                return (data[:1] + json_mutated(data[1:], dice))[:largest]
        except (ValueError, RecursionError):
            pass
        return (data[:1] + mutated(data[1:], dice, _SEEDS[name]))[:largest]
    out: bytes = atheris.Mutate(data, largest)
    return out


def _begin(folder: Path) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for at, name in enumerate(CHOICE):
        for n, seed in enumerate(_SEEDS[name]):
            (folder / f"{name}-{n}").write_bytes(bytes([at]) + seed)


def main() -> None:
    """Fuzz until told to stop."""
    given = sys.argv[1:]
    for one in [one for one in given if one.startswith(("--only=", "--group="))]:
        sys.argv.remove(one)
        wanted = one.partition("=")[2].split(",")
        CHOICE[:] = [it for it in TARGETS if it in wanted or TARGETS[it].group in wanted]
    _SEEDS.update({name: list(TARGETS[name].seeds()) for name in CHOICE})
    for one in [Path(one) for one in given if not one.startswith("-")]:
        if one.is_dir() or not one.exists():
            _begin(one)
    atheris.Setup(sys.argv, one_input, custom_mutator=mutate)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
