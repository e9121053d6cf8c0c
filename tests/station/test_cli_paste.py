"""``weighd paste``: a list becomes a formula, or says which lines it is not sure of."""

from __future__ import annotations

from pathlib import Path

from tests.forked import run

KITCHEN = """
[ingredients.buttermilk]
name = "Buttermilk"

[ingredients.cream-36]
name = "Cream, 36 % fat"
"""


def test_a_list_becomes_a_formula(tmp_path: Path) -> None:
    (tmp_path / "ingredients.toml").write_text(KITCHEN)
    (tmp_path / "list.txt").write_text("820 g buttermilk\n180 g cream\na pinch of buttermilk\n")
    arguments = [
        "paste",
        tmp_path / "list.txt",
        "--save",
        tmp_path / "ice.toml",
        "--name",
        "Buttermilk ice",
    ]
    arguments += ["--ingredients", tmp_path / "ingredients.toml"]
    done = run(*arguments)
    assert (done.returncode, done.stderr) == (1, "")
    assert (
        '?   2  180 g cream\n         "cream" is not said in full. Perhaps cream-36?' in done.stdout
    )
    assert "1 taken, 820 g; 2 not understood." in done.stdout
    assert not (tmp_path / "ice.toml").exists()
    done = run(*arguments, "--means", "cream=cream-36", "--leave-out")
    assert (done.returncode, done.stderr) == (0, "")
    told = run("formula", tmp_path / "ice.toml")
    assert told.returncode == 0
    assert "Buttermilk ice (ice, " in told.stdout
    assert "1000 g" in told.stdout
    again = run(*arguments, "--means", "cream=cream-36", "--leave-out")
    assert (again.returncode, "It is there already" in again.stderr) == (2, True)


def test_bad_input(tmp_path: Path) -> None:
    (tmp_path / "ingredients.toml").write_text(KITCHEN)
    (tmp_path / "list.txt").write_text("Freeze at once.\n")
    for arguments, said in (
        (["list.txt", "--save", "x.toml"], "No line of it gives an ingredient"),
        (["nowhere.txt"], "nowhere.txt"),
        (["list.txt", "--ingredients", "none.toml"], "none.toml"),
        (["list.txt", "--means", "cream=gone"], "names no ingredient"),
    ):
        files = [tmp_path / one if "." in one else one for one in arguments]
        if "--ingredients" not in files:
            files += ["--ingredients", tmp_path / "ingredients.toml"]
        done = run("paste", *files)
        assert (done.returncode, done.stdout.count("Traceback")) == (2, 0), done
        assert said in done.stderr
