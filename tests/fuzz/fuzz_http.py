"""schemathesis over the OpenAPI description of a running station, for a while.

    pip install -e .[test,fuzz]
    python -m tests.fuzz.fuzz_http --seconds 1200 [--people] [--seed 7]

It starts a station of its own (``world``), asks for everything that is described, in and out of the
bounds that are described, and checks each answer: no 500, a status, a media type and a shape that
stand in the description, what is out of bounds refused, methods that are not there told. Then the
station must be alive and as large as before, its log without a traceback, and its record verified.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.fuzz.world import KEEPER, PIN, World, examples

#: Routes that are left out of the long run, and why. They have tests of their own.
LEFT_OUT = {
    "POST /api/first/scale": "writes the configuration, and the station begins anew",
    "POST /api/first/learn": "talks to serial ports of the machine it runs on",
}
#: What a refusal may be: which of them says what is wrong is held by the description.
RULES: dict[str, Any] = {
    "checks": {
        "negative_data_rejection": {"expected-statuses": ["4xx", 503]},
        "positive_data_acceptance": {"expected-statuses": ["2xx", "4xx", 503]},
        "missing_required_header": {"expected-statuses": ["4xx"]},
        # Who may do what is no security scheme of OpenAPI here: tests/http/test_people.py.
        "ignored_auth": {"enabled": False},
    }
}
CONFIG = "\n".join(
    f"[checks.{name}]\n" + "\n".join(f"{key} = {json.dumps(one)}" for key, one in told.items())
    for name, told in RULES["checks"].items()
)


def run(world: World, folder: Path, seconds: int, seed: int, *more: str) -> dict[str, Any]:
    """One run against a station; what schemathesis says of it."""
    there = examples(world)
    config = folder / "schemathesis.toml"
    config.write_text(CONFIG + "\n")
    report = folder / "report.json"
    left = [one for route in LEFT_OUT for one in ("--exclude-path", route.split(" ", 1)[1])]
    command = [sys.executable, "-m", "schemathesis.cli", "--config-file", str(config), "run"]
    command += [f"{world.address}/api/openapi.json", "--max-time", str(seconds)]
    command += ["--seed", str(seed), "--continue-on-failure", "--no-color", *left]
    command += ["--generation-database", "none"]
    command += ["--report", "json", "--report-json-path", str(report), *more]
    env = {
        **os.environ,
        "SCHEMATHESIS_HOOKS": "tests.fuzz.hooks",
        "WEIGHD_FUZZ_THERE": json.dumps(there),
        "WEIGHD_FUZZ_SEED": str(seed),
    }
    ran = subprocess.run(command, env=env, cwd=Path(__file__).parents[2], text=True)
    told = json.loads(report.read_text()) if report.is_file() else {}
    return {"code": ran.returncode, **told}


def main(given: Sequence[str] | None = None) -> int:
    """Fuzz for so many seconds; 0 where nothing was found."""
    said = argparse.ArgumentParser()
    said.add_argument("--seconds", type=int, default=1200)
    said.add_argument("--seed", type=int, default=1)
    said.add_argument("--people", action="store_true", help="a station that lists somebody")
    asked, more = said.parse_known_args(given)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with World(folder, people=asked.people) as world:
            if asked.people:
                cookie = signed_in(world)
                more = [*more, "--header", f"Cookie:{cookie}"]
            told = run(world, folder, asked.seconds, asked.seed, *more)
            wrong = world.sound()
            print("grown by", world.grown(), "record:", world.proved())
    for one in wrong:
        print("WRONG:", one)
    return 1 if wrong or told["code"] else 0


def signed_in(world: World) -> str:
    """Sign in who looks after people; the cookie for it."""
    answer = world.ask("POST", "/api/sign-in", {"name": KEEPER, "pin": PIN})
    assert answer.status_code == 200, answer.text
    return answer.headers["set-cookie"].partition(";")[0]


if __name__ == "__main__":
    sys.exit(main())
