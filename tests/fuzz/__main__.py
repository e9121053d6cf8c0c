"""``python -m tests.fuzz --minutes 20 [--only http,socket]``: every fuzzer in turn, and a table.

schemathesis and the raw connections take the minutes, parsers a quarter of them for each group.
What a run found stays in ``test-artifacts/fuzz``: logs, inputs that broke something, and the
folders of inputs that atheris found interesting, from which the next run goes on.
"""

from __future__ import annotations

import argparse
import importlib.util
import re
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from tests.fuzz import targets_record, targets_text

ROOT = Path(__file__).resolve().parents[2]
KEPT = ROOT / "test-artifacts" / "fuzz"
TARGETS = {**targets_text.TARGETS, **targets_record.TARGETS}
GROUPS = tuple(dict.fromkeys(one.group for one in TARGETS.values()))
WIRE = ("lines,any,auto,find,text", "hid")


@dataclass
class Ran:
    """What a run did: inputs, what of the code they reached, what broke."""

    name: str
    seconds: float
    inputs: str
    reached: str
    broke: int


def _run(name: str, command: Sequence[str], seconds: float) -> tuple[str, int, float]:
    """A fuzzer to its end; what it said, its exit code, and how long it took."""
    began = time.monotonic()
    folder = KEPT / name
    folder.mkdir(parents=True, exist_ok=True)
    log = folder / "log"
    with log.open("w") as out:
        code = subprocess.run(
            [sys.executable, *command],
            cwd=folder if command[0].endswith(".py") else ROOT,
            stdout=out,
            stderr=subprocess.STDOUT,
            timeout=seconds * 3 + 600,
        ).returncode
    return log.read_text("utf-8", "replace"), code, time.monotonic() - began


def guided(name: str, program: str, choice: str, seconds: float) -> Ran:
    """A coverage-guided one; begun anew after a crash, until its time is over."""
    inputs, reached, broke, took = 0, "", 0, 0.0
    while took < seconds - 5:
        command = [str(ROOT / "tests" / "fuzz" / program), choice, "-timeout=20"]
        command += ["-rss_limit_mb=2048", "-max_len=8000", "-print_final_stats=1"]
        command += [f"-max_total_time={seconds - took:.0f}", str(KEPT / name / "inputs")]
        told, code, s = _run(name, command, seconds)
        took += s
        inputs += int((re.findall(r"number_of_executed_units: (\d+)", told) or ["0"])[-1])
        reached = (re.findall(r"cov: (\d+)", told) or [""])[-1]
        broke += code != 0
        if broke > 20:
            break
    return Ran(name, took, str(inputs), f"{reached} branches", broke)


def damaged(group: str, seconds: float) -> Ran:
    """The same targets by random damage, where atheris is not there."""
    program = (
        "import random, sys, time\n"
        "from tests.fuzz.target import mutated\n"
        "from tests.fuzz.__main__ import TARGETS\n"
        f"wanted = [it for it in TARGETS.values() if it.group == {group!r}]\n"
        f"dice, end, count = random.Random(1), time.monotonic() + {seconds}, 0\n"
        "while time.monotonic() < end:\n"
        "    one = dice.choice(wanted); seeds = [it[:8000] for it in one.seeds()]\n"
        "    for _ in range(200):\n"
        "        one.run(mutated(dice.choice(seeds), dice, seeds)); count += 1\n"
        "print('inputs:', count)\n"
    )
    told, code, took = _run(group, ["-c", program], seconds)
    found = re.findall(r"inputs: (\d+)", told) or ["?"]
    return Ran(group, took, found[-1], "not guided", int(code != 0))


def connected(name: str, module: str, seconds: float, *more: str) -> Ran:
    """One that asks a running station."""
    command = ["-m", f"tests.fuzz.{module}", "--seconds", str(int(seconds)), *more]
    told, code, took = _run(name, command, seconds)
    if found := re.findall(r"(\d+) generated", told):
        inputs, reached = f"{found[-1]} cases", " ".join(re.findall(r"Tested: (\d+)", told)[-1:])
        reached += " operations"
    else:
        counts = [int(one) for one in re.findall(r'": (\d+)', told)]
        inputs, reached = f"{sum(counts)} attacks", f"{len(counts)} kinds"
    return Ran(name, took, inputs, reached, int(code != 0))


def main(given: Sequence[str] | None = None) -> int:
    """Run them all; 0 where nothing broke."""
    said = argparse.ArgumentParser()
    said.add_argument("--minutes", type=float, default=20)
    said.add_argument("--only", default="")
    asked = said.parse_args(given)
    seconds = asked.minutes * 60
    short = max(10.0, seconds / 4)
    atheris = importlib.util.find_spec("atheris") is not None
    runs = {
        "http": lambda: connected("http", "fuzz_http", seconds),
        "people": lambda: connected("people", "fuzz_http", short, "--people", "--seed", "2"),
        "socket": lambda: connected("socket", "fuzz_socket", short),
        "lines": lambda: connected("lines", "fuzz_lines", short),
    }
    for group in GROUPS:
        if atheris:
            choice = f"--group={group}"
            runs[group] = lambda g=group, c=choice: guided(g, "fuzz_parsers.py", c, short)
        else:
            runs[group] = lambda g=group: damaged(g, short)
    for n, choice in enumerate(WIRE if atheris else ()):
        name = f"wire{n + 1}"
        runs[name] = lambda m=name, c=f"--only={choice}": guided(m, "fuzz_wire.py", c, short)
    wanted = asked.only.split(",") if asked.only else list(runs)
    table = []
    for name in wanted:
        table.append(runs[name]())
        print(_row(table[-1]), flush=True)
    print("\n" + "\n".join(map(_row, table)))
    return int(any(one.broke for one in table))


def _row(one: Ran) -> str:
    return (
        f"{one.name:10} {one.seconds:6.0f} s  {one.inputs:>16}  {one.reached:18} broke: {one.broke}"
    )


if __name__ == "__main__":
    sys.exit(main())
