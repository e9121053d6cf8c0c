"""Tests in forks, for the mutants: collected once, and which of them come through what."""

from __future__ import annotations

import hashlib
import json
import os
import resource
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest
from hypothesis import Phase, settings

from benchmarks.mutants_made import SWITCH, Mutated, put_in

ROOT = Path(__file__).resolve().parent.parent
DOMAIN = ROOT / "weighd" / "domain"
TESTS = ROOT / "tests"
SURVIVED, KILLED, CPU, WAITS = range(4)


class Pool:
    """A plug-in of pytest: the tests are collected once, and run in forks."""

    def __init__(self, work: Callable[[Pool], None]) -> None:
        self.work = work
        self.items: dict[str, pytest.Item] = {}
        self.failed = ""

    @pytest.hookimpl(tryfirst=True)
    def pytest_collection(self) -> None:
        # the same examples each time, and no time for smaller ones
        settings.register_profile(
            "mutants",
            settings.get_profile("weighd"),
            phases=(Phase.explicit, Phase.generate),
            derandomize=True,
            database=None,
        )
        settings.load_profile("mutants")

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed = report.nodeid

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        self.items = {one.nodeid: one for one in session.items}
        session.config.pluginmanager.unregister(name="terminalreporter")
        self.work(self)
        return True

    def run(self, names: Sequence[str]) -> Iterator[tuple[str, bool]]:
        """One test after the other, here in this process, and whether it passes."""
        items = [self.items[one] for one in names]
        for item, following in zip(items, [*items[1:], None], strict=True):
            self.failed = ""
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=following)
            yield item.nodeid, not self.failed


def limited(seconds: float) -> None:
    """A fork: no words, and so much time of the processor."""
    os.setpgid(0, 0)
    whole = int(seconds) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (whole, whole + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    signal.signal(signal.SIGXCPU, lambda *_: os._exit(CPU))
    devnull = os.open(os.devnull, os.O_RDWR)
    for one in (0, 1, 2):
        os.dup2(devnull, one)


def in_fork(job: Callable[[Any], int], seconds: float, wall: float) -> tuple[int, str]:
    """The number the job ends with, and what it wrote."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(reading)
        code = KILLED
        try:
            limited(seconds)
            with os.fdopen(writing, "w") as out:
                code = job(out)
        except BaseException:  # noqa: BLE001  # whatever breaks out of a mutant has killed it
            code = KILLED
        finally:
            os._exit(code)
    os.close(writing)
    ends = time.monotonic() + wall
    late = False
    while True:
        done, status = os.waitpid(child, os.WNOHANG)
        if done:
            break
        if time.monotonic() > ends and not late:
            late = True
            os.killpg(child, signal.SIGKILL)
        time.sleep(0.01)
    with os.fdopen(reading) as out:
        said = out.read()
    if late:
        return WAITS, said
    if os.WIFSIGNALED(status):
        return (CPU if os.WTERMSIG(status) in (signal.SIGXCPU, signal.SIGKILL) else KILLED), said
    return os.WEXITSTATUS(status), said


def mapped(tests: list[str], folder: Path) -> dict[str, Any]:
    """Which tests come through which function, and how long each takes.

    Kept in a file by what the domain and what tests share are; after that only files of tests
    that are new or were changed run again.
    """
    shared = sorted(one for one in TESTS.rglob("*.py") if not one.name.startswith("test_"))
    world = _mark(*sorted(DOMAIN.glob("*.py")), *shared)
    file = folder / f"map-{world}.json"
    whole = json.loads(file.read_text()) if file.exists() else {"files": {}}
    marks = {one: _mark(ROOT / one) for one in tests}
    stale = [one for one in tests if whole["files"].get(one, {}).get("mark") != marks[one]]
    if stale:
        if "counts" not in whole:
            made = {one.stem: put_in(one, None) for one in sorted(DOMAIN.glob("*.py"))}
            whole["counts"] = {stem: count for stem, (_, _, count) in made.items()}
            whole["sources"] = {f"weighd.domain.{stem}": one for stem, (one, _, _) in made.items()}
        part = file.with_suffix(".part")
        collected(whole["sources"], stale, lambda pool: _map(pool, part))
        rows = json.loads(part.read_text())
        for one in stale:
            whole["files"][one] = {"mark": marks[one], "tests": rows.get(one, {})}
        part.write_text(json.dumps(whole))
        part.rename(file)

    calls: dict[str, list[str]] = defaultdict(list)
    took: dict[str, float] = {}
    red: list[str] = []
    for one in tests:
        for name, row in whole["files"][one]["tests"].items():
            took[name] = row["took"]
            red += [] if row["passes"] else [name]
            for function in row["through"]:
                calls[function].append(name)
    return {"counts": whole["counts"], "calls": calls, "took": took, "red": red}


def _mark(*files: Path) -> str:
    mark = hashlib.sha256()
    for one in files:
        mark.update(one.read_bytes())
    return mark.hexdigest()[:16]


def _map(pool: Pool, to: Path) -> None:
    """Runs every test that was collected, and writes what it came through, by its file."""

    def job(_: Any) -> int:
        found: dict[str, dict[str, Any]] = defaultdict(dict)
        SWITCH.called, begun = set(), time.process_time()
        for name, passes in pool.run(list(pool.items)):
            took, through = time.process_time() - begun, sorted(SWITCH.called)
            row = {"took": took, "passes": passes, "through": through}
            found[name.partition("::")[0]][name] = row
            SWITCH.called, begun = set(), time.process_time()
        to.write_text(json.dumps(found))
        return SURVIVED

    code, _ = in_fork(job, 7200, 36000)
    if code:
        raise SystemExit(f"the tests did not come to their end without a mutant ({code})")


def collected(sources: dict[str, str], tests: list[str], work: Callable[[Pool], None]) -> None:
    """Collects the tests over modules with these texts, in a fork: the next one begins clean."""
    child = os.fork()
    if child == 0:
        sys.meta_path.insert(0, Mutated(sources))
        code = 1
        try:
            options = ["-q", "-p", "no:cacheprovider", "-p", "no:xdist"]
            code = int(pytest.main([*options, *tests], plugins=[Pool(work)]))
        finally:
            sys.stdout.flush()
            os._exit(code)
    if os.waitpid(child, 0)[1]:
        raise SystemExit("the tests could not be run")
