"""What the Debian package is made of, as far as it can be seen without building one."""

from __future__ import annotations

import importlib
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from typer.main import get_command

from tests.packaging.tools import tool
from weighd.cli.app import app
from weighd.config import parse

PACKAGING = Path(__file__).parents[2] / "packaging"
DEBIAN = PACKAGING / "debian"
SCRIPTS = ("postinst", "prerm", "postrm")


@pytest.fixture
def module(monkeypatch: pytest.MonkeyPatch) -> Iterator[Any]:
    monkeypatch.syspath_prepend(str(PACKAGING))

    def load(name: str) -> ModuleType:
        return importlib.import_module(name)

    yield load
    for name in ("manpage", "parts", "deb", "licences"):
        sys.modules.pop(name, None)


def commands(command: Any, name: str = "weighd") -> Iterator[tuple[str, Any]]:
    for below, one in getattr(command, "commands", {}).items():
        yield f"{name} {below}", one
        yield from commands(one, f"{name} {below}")


def test_every_command_and_option_is_in_the_manual(module: Any, tmp_path: Path) -> None:
    source = tmp_path / "weighd.1"
    source.write_text(module("manpage").page(), "utf-8")
    shown = subprocess.run(
        [tool("man"), "--warnings", "-l", str(source)],
        capture_output=True, text=True, timeout=60,
        env={"MANWIDTH": "400", "LC_ALL": "C.UTF-8", "PATH": "/usr/bin:/bin", "MANROFFOPT": "-c"},
    )  # fmt: skip
    assert (shown.returncode, shown.stderr) == (0, "")
    text = re.sub(r".\x08", "", shown.stdout)
    told = list(commands(get_command(app)))
    assert len(told) > 50
    for name, command in told:
        assert re.search(rf"^ +{name}( |$)", text, re.MULTILINE), name
        for one in command.params:
            for option in one.opts if one.param_type_name == "option" else ():
                assert option in text, (name, option)
    for code in range(6):
        assert re.search(rf"^ +{code} {{2,}}\w", text, re.MULTILINE)


def test_what_looks_like_a_command_of_the_typesetter_is_text(module: Any) -> None:
    escaped = module("manpage").escaped
    assert escaped(r"\[station] a\b -x 'y'") == r"[station] a\eb \-x \(aqy\(aq"


@pytest.mark.parametrize("script", SCRIPTS)
def test_its_scripts_are_sound(script: str) -> None:
    text = (DEBIAN / script).read_text("utf-8")
    assert text.startswith("#!/bin/sh\n")
    assert "\nset -e\n" in text
    done = subprocess.run(["sh", "-n", str(DEBIAN / script)], capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")


def test_no_script_takes_a_record_away() -> None:
    for script in SCRIPTS:
        for line in (DEBIAN / script).read_text("utf-8").splitlines():
            if re.match(r"\s*(rm|find|deluser|userdel)\b", line):
                assert "/var/lib/weighd" not in line and "deluser" not in line, (script, line)


def test_its_first_configuration_can_be_started_with() -> None:
    text = (DEBIAN / "weighd.toml").read_text("utf-8")
    config = parse(text, Path("/etc/weighd/weighd.toml"))
    assert str(config.place(config.station.data)) == "/var/lib/weighd/record"
    assert str(config.place(config.station.formulas)) == "/var/lib/weighd/formulas"
    assert config.http.host == "127.0.0.1" and not config.elsewhere.open


def test_every_blank_of_its_control_file_is_filled(module: Any) -> None:
    blanks = set(re.findall(r"@([A-Z]+)@", (DEBIAN / "control.in").read_text("utf-8")))
    source = (PACKAGING / "deb.py").read_text("utf-8")
    assert blanks == {"VERSION", "ARCHITECTURE", "SIZE", "PYTHON"}
    assert all(f'"{one}":' in source for one in blanks)
    assert "weighd (1.2-3) " in module("deb").changelog("1.2-3", 0)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completions_are_what_the_command_line_gives(module: Any, shell: str) -> None:
    text = module("deb").completion(shell)
    assert "_WEIGHD_COMPLETE=complete_" + shell in text
    assert "python" not in text
    if shell == "zsh":
        assert text.startswith("#compdef weighd\n")
        assert text.rstrip().endswith('_weighd_completion "$@"')


def test_an_environment_is_settled_where_it_is_installed_to(module: Any, tmp_path: Path) -> None:
    home = tmp_path / "home"
    (home / "bin").mkdir(parents=True)
    site = home / "lib" / "python3.11" / "site-packages"
    for folder in ("numpy/tests", "numpy/testing", "numpy/__pycache__", "x-1.dist-info"):
        (site / folder).mkdir(parents=True)
    for name in ("pip", "python3.11", "weighd"):
        (home / "bin" / name).write_text(f"#!{tmp_path}/bin/python\nimport weighd\n")
    (site / "x-1.dist-info" / "direct_url.json").write_text(str(tmp_path))
    deb = module("deb")
    deb.settle(home, "3.11")
    deb.thin(home)
    assert (
        home / "bin" / "weighd"
    ).read_text() == "#!/usr/lib/weighd/bin/python -I\nimport weighd\n"
    assert sorted(one.name for one in (home / "bin").iterdir()) == [
        "python", "python3", "python3.11", "weighd",
    ]  # fmt: skip
    assert (home / "bin" / "python3.11").readlink() == Path("/usr/bin/python3.11")
    left = [one for one in home.rglob("*") if one.is_file() and not one.is_symlink()]
    assert not [one for one in left if str(tmp_path) in one.read_text()]
    assert [one.name for one in (site / "numpy").iterdir()] == ["testing"]
