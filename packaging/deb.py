"""The Debian package: weighd in an environment of its own below /usr/lib, with all that it needs.

    python packaging/deb.py OUT [--revision N] [--level N] [--again]

Run by the Python of an environment that has what the tests need (``make deb`` does it). The package
holds the libraries that ``packaging/requirements.lock`` names, by their hashes, as wheels for the
system's own Python; so it goes with one minor version of that, and one architecture.
``--again`` packs what was built before under another revision.
"""

from __future__ import annotations

import argparse
import gzip
import hashlib
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from email.utils import formatdate
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import licences
import manpage

from weighd import __version__

ROOT = Path(__file__).resolve().parents[1]
DEBIAN = ROOT / "packaging" / "debian"
PYTHON = "/usr/bin/python3"
HOME = "usr/lib/weighd"
#: Folders of libraries that nothing of weighd reads: tests, headers, samples.
IDLE = re.compile(r"/(tests|test|testing/tests|include|sample_data|\.agents)$")
#: Of these, what is called tests is imported all the same, or comes to nothing.
KEEP = ("numpy/testing",)
COMPLETIONS = {
    "bash": "usr/share/bash-completion/completions/weighd",
    "zsh": "usr/share/zsh/vendor-completions/_weighd",
    "fish": "usr/share/fish/vendor_completions.d/weighd.fish",
}


class BuildError(Exception):
    """The package cannot be built here; says what is missing."""


def run(*command: object, cwd: Path = ROOT, **more: str) -> str:
    """A command; what it printed. Raises BuildError with what it complained of."""
    env = {**os.environ, "LC_ALL": "C.UTF-8", **more}
    env.pop("PYTHONPATH", None)
    done = subprocess.run(
        [str(one) for one in command],
        check=False,
        cwd=cwd,
        env=env,
        capture_output=True,
        text=True,
    )
    if done.returncode != 0:
        raise BuildError(
            f"{' '.join(map(str, command))}\n{done.stdout[-2000:]}{done.stderr[-2000:]}"
        )
    return done.stdout


def moment() -> int:
    """The time that the package is of: that of the newest commit, so that it builds alike."""
    if given := os.environ.get("SOURCE_DATE_EPOCH"):
        return int(given)
    try:
        return int(run("git", "log", "-1", "--format=%ct").strip())
    except BuildError:
        return 0


# --- the environment -----------------------------------------------------------------------------


def environment(work: Path, tree: Path) -> str:
    """The environment below ``tree``; the version of Python that it is for, like ``3.11``."""
    if not Path(PYTHON).exists():
        raise BuildError("the system's Python is missing: apt install python3 python3-venv")
    minor = run(PYTHON, "-c", "import sys; print('%d.%d' % sys.version_info[:2])").strip()
    home = tree / HOME
    run(f"/usr/bin/python{minor}", "-m", "venv", "--without-pip", home)
    run(sys.executable, "-m", "build", "--wheel", "--outdir", work / "wheel", ROOT)
    (wheel,) = (work / "wheel").glob("*.whl")
    # The pip of whoever builds, for the Python that it is to be for.
    pip = (sys.executable, "-m", "pip", "--python", home / "bin" / "python", "install", "--quiet")
    pip = (*pip, "--no-compile", "--disable-pip-version-check", "--no-warn-script-location")
    lock = ROOT / "packaging" / "requirements.lock"
    run(*pip, "--require-hashes", "--only-binary", ":all:", "--requirement", lock)
    run(*pip, "--no-deps", "--no-index", wheel)
    settle(home, minor)
    thin(home)
    byte_code = ("-m", "compileall", "-q", "-j", "2", "--invalidation-mode", "unchecked-hash")
    run(home / "bin" / "python", "-B", *byte_code, "-s", tree, "-p", "/", home / "lib")
    return minor


def settle(home: Path, minor: str) -> None:
    """Have the environment know the place that it is installed to."""
    for one in (home / "bin").iterdir():
        if one.name not in ("python", "python3", f"python{minor}", "weighd"):
            one.unlink()
    script = home / "bin" / "weighd"
    _, _, rest = script.read_text("utf-8").partition("\n")
    # -I: nothing of whoever calls it, neither variables nor the folder they are in.
    script.write_text(f"#!/{HOME}/bin/python -I\n{rest}", "utf-8")
    script.chmod(0o755)
    for name in ("python", "python3"):
        (home / "bin" / name).unlink(missing_ok=True)
        (home / "bin" / name).symlink_to(f"python{minor}")
    (home / "bin" / f"python{minor}").unlink(missing_ok=True)
    (home / "bin" / f"python{minor}").symlink_to(f"/usr/bin/python{minor}")
    (home / "pyvenv.cfg").write_text(
        "home = /usr/bin\ninclude-system-site-packages = false\n"
        f"executable = /usr/bin/python{minor}\n"
    )
    for one in home.rglob("direct_url.json"):
        one.unlink()  # says where it was built


def thin(home: Path) -> None:
    """Leave out what nothing reads."""
    for name in ("include", "share"):
        shutil.rmtree(home / name, ignore_errors=True)
    (home / "lib64").unlink(missing_ok=True)
    for folder in sorted(home.rglob("*"), reverse=True):
        path = folder.as_posix()
        idle = IDLE.search(path) and not any(one in path for one in KEEP)
        if folder.is_dir() and not folder.is_symlink() and (idle or folder.name == "__pycache__"):
            shutil.rmtree(folder)
    for one in home.rglob("*.pyi"):
        one.unlink()


# --- the rest of the tree ------------------------------------------------------------------------


def put(tree: Path, place: str, text: str | bytes, mode: int = 0o644) -> None:
    """A file of the package."""
    path = tree / place
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    path.chmod(mode)


def furnish(tree: Path) -> None:
    """Unit, udev rule, manual, completions, first configuration, licences."""
    put(tree, "lib/systemd/system/weighd.service", of("packaging/systemd/weighd.service"))
    rule = of("drivers/weighd_drivers/70-weighd.rules")
    put(tree, "lib/udev/rules.d/70-weighd.rules", rule)
    put(tree, "usr/share/weighd/weighd.toml", of("packaging/debian/weighd.toml"))
    put(tree, "usr/share/man/man1/weighd.1.gz", zipped(manpage.page()))
    for shell, place in COMPLETIONS.items():
        put(tree, place, completion(shell))
    (tree / "usr/bin").mkdir(parents=True)
    (tree / "usr/bin/weighd").symlink_to(f"../../{HOME}/bin/weighd".replace("../../usr/", "../"))
    doc = "usr/share/doc/weighd"
    put(tree, f"{doc}/copyright", licences.copyright_file(tree / HOME))
    put(tree, f"{doc}/NEWS.gz", zipped(of("CHANGELOG.md")))
    put(tree, "usr/share/lintian/overrides/weighd", of("packaging/debian/lintian-overrides"))


def of(place: str) -> str:
    """A text of the checkout."""
    return (ROOT / place).read_text("utf-8")


def zipped(text: str) -> bytes:
    """A text as it lies below /usr/share/doc."""
    return gzip.compress(text.encode(), 9, mtime=0)


def completion(shell: str) -> str:
    """What the command line itself gives for a shell."""
    program = Path(sys.executable).with_name("weighd")
    text = run(program, _WEIGHD_COMPLETE=f"source_{shell}")
    if shell == "zsh":
        # Loaded by name when it is wanted first, and to complete at once.
        text = text.strip().replace(
            "\ncompdef _weighd_completion weighd", '\n_weighd_completion "$@"'
        )
    return text.strip() + "\n"


# --- the package ---------------------------------------------------------------------------------


def changelog(version: str, at: int) -> str:
    """The changelog of the package: ours is the NEWS beside it."""
    return (
        f"weighd ({version}) stable; urgency=medium\n\n"
        f"  * Version {__version__} of weighd; see NEWS.\n\n"
        f" -- The weighd authors <weighd@localhost>  {formatdate(at)}\n"
    )


def pack(tree: Path, out: Path, minor: str, revision: str, level: int) -> Path:
    """The package of a tree."""
    version, at = f"{__version__}-{revision}", moment()
    architecture = run("dpkg", "--print-architecture").strip()
    doc = "usr/share/doc/weighd"
    put(tree, f"{doc}/changelog.Debian.gz", zipped(changelog(version, at)))
    shutil.rmtree(tree / "DEBIAN", ignore_errors=True)
    facts = {
        "VERSION": version,
        "ARCHITECTURE": architecture,
        "PYTHON": minor,
        "SIZE": str(sum(one.stat().st_size for one in files(tree)) // 1024),
    }
    control = of("packaging/debian/control.in")
    for name, value in facts.items():
        control = control.replace(f"@{name}@", value)
    put(tree, "DEBIAN/control", control)
    for name in ("postinst", "prerm", "postrm"):
        put(tree, f"DEBIAN/{name}", of(f"packaging/debian/{name}"), 0o755)
    sums = (
        f"{digest(one)}  {one.relative_to(tree)}\n"
        for one in files(tree)
        if one.parent.name != "DEBIAN"
    )
    put(tree, "DEBIAN/md5sums", "".join(sums))
    rights(tree)
    made = out / f"weighd_{version}_{architecture}.deb"
    # zstd: some larger than xz, and unpacked ten times as fast, on whatever stands in a kitchen.
    build = ("dpkg-deb", "--root-owner-group", "-Zzstd", f"-z{level}", "--build", tree, made)
    run(*build, SOURCE_DATE_EPOCH=str(at))
    return made


def digest(path: Path) -> str:
    """What dpkg looks at whether a file was changed by."""
    return hashlib.md5(path.read_bytes(), usedforsecurity=False).hexdigest()


def files(tree: Path) -> Iterator[Path]:
    """The files of a tree, in an order."""
    return (one for one in sorted(tree.rglob("*")) if one.is_file() and not one.is_symlink())


def rights(tree: Path) -> None:
    """What is in a package can be read by everybody and changed by root."""
    for one in (tree, *tree.rglob("*")):
        if one.is_symlink():
            continue
        program = one.parent.name in ("bin", "DEBIAN") and one.stat().st_mode & 0o100
        one.chmod(0o755 if program or one.is_dir() else 0o644)


def main(given: Sequence[str] | None = None) -> int:
    """Build it; its name is the last thing printed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("--revision", default="1")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--level", type=int, default=12, help="of compression, 1 to 19")
    asked = parser.parse_args(given)
    out = asked.out.resolve()
    tree, note = out / "tree", out / "python"
    try:
        if not asked.again:
            shutil.rmtree(out, ignore_errors=True)
            tree.mkdir(parents=True)
            note.write_text(environment(out, tree))
            furnish(tree)
        made = pack(tree, out, note.read_text(), asked.revision, asked.level)
    except BuildError as error:
        print(f"deb: {error}", file=sys.stderr)
        return 1
    size = sum(one.stat().st_size for one in files(tree)) / 1e6
    print(f"deb: {made.stat().st_size / 1e6:.0f} MB, {size:.0f} MB installed", file=sys.stderr)
    print(made)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
