"""What the station says in sentences of its own, and what the page says them with in German.

The page finds a sentence by the English one (``web/src/lang/de/sayings.ts``); one that was changed
in the code and not there would fall back to English without anybody noticing.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]
GERMAN = ROOT / "web" / "src" / "lang" / "de"
#: What the station says at a page stands in these; commands speak English.
SPEAKS = ("domain", "station", "http", "solver", "storage")
#: What reads the fields of formulas, ingredients and limits.
READERS = (
    "duration", "facts_text", "formula", "formula_text", "limits", "process_text", "substitutes",
    "temperature",
)  # fmt: skip
#: A sentence that is put together of another one's words, which has German of its own.
WRAPS = re.compile(r"(\{\}|\"\{\}\": |[ .])*")


def template(node: ast.expr) -> str | None:
    """A text with ``{}`` for what is filled in; ``None`` where it is no text."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else None
    if isinstance(node, ast.JoinedStr):
        parts = (template(one) if isinstance(one, ast.Constant) else "{}" for one in node.values)
        return "".join(part or "" for part in parts)
    return None


def texts(node: ast.expr) -> list[str]:
    if isinstance(node, ast.IfExp):
        return [*texts(node.body), *texts(node.orelse)]
    text = template(node)
    return [] if text is None or WRAPS.fullmatch(text) else [text.removesuffix(".")]


def calls(*folders: str) -> Iterator[tuple[Path, str, ast.Call]]:
    for folder in folders:
        for path in sorted((ROOT / "weighd" / folder).rglob("*.py")):
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name | ast.Attribute):
                    func = node.func
                    name = func.id if isinstance(func, ast.Name) else func.attr
                    yield path, name, node


def refusals() -> dict[str, set[str]]:
    """What is said where something is refused, by its code."""
    said: dict[str, set[str]] = {}
    for _, name, node in calls(*SPEAKS):
        if name in ("OperatorError", "FormulaError", "SolverError") and len(node.args) > 1:
            code = node.args[0]
            if isinstance(code, ast.Constant):
                said.setdefault(str(code.value), set()).update(texts(node.args[1]))
    return said


def faults() -> set[str]:
    """What is said of a field."""
    said: set[str] = set()
    for path, name, node in calls("domain"):
        if path.stem not in READERS:
            continue
        if name == "wrong" and len(node.args) > 1:
            said.update(texts(node.args[1]))
        if name == "ValueError" and node.args and path.stem in ("duration", "temperature"):
            said.update(texts(node.args[0]))
    return said


def sayings() -> set[str]:
    """The English sentences that German is there for."""
    text = (GERMAN / "sayings.ts").read_text("utf-8")
    return {
        one[1].replace('\\"', '"')
        for one in re.finditer(r"^  (?:(?=\")\"|(?=')'|)(.+?)[\"']?: [\"`]", text, re.MULTILINE)
    }


def with_their_own_words() -> set[str]:
    """Codes of which the page keeps what the station says."""
    text = (GERMAN / "refusals.ts").read_text("utf-8")
    return set(re.findall(r"^    \"?([a-z-]+)\"?: (?:more|at)\(", text, re.MULTILINE))


#: Said at a command only, or to a program.
ELSEWHERE = {"bad-method", "bad-value", "bad-time", "cannot-write"}


def test_all_that_is_kept_of_a_refusal_has_its_german() -> None:
    said, german = refusals(), sayings()
    codes = with_their_own_words()
    assert len(codes) > 40
    missing = {
        code: sorted(said.get(code, set()) - german)
        for code in sorted(codes - ELSEWHERE)
        if any(matches(one, german) is None for one in said.get(code, ()))
    }
    assert missing == {}


def fits(sentence: str, into: str) -> bool:
    parts = (re.escape(part) for part in into.split("{}"))
    return re.fullmatch(".*".join(parts), sentence, re.DOTALL) is not None


def matches(sentence: str, german: set[str]) -> str | None:
    """The key of a sentence: itself, one that it fits into, or one that says in full what one of
    its slots may hold."""
    if sentence in german:
        return sentence
    return next((key for key in german if fits(sentence, key) or fits(key, sentence)), None)


def test_a_sentence_without_german_is_found() -> None:
    german = sayings()
    assert matches('No lot "{}" was received there', german) is None
    assert matches("The {} of this batch is weighed in parts", german) is None
    assert matches('No lot "{}" was received here', german)


def test_what_is_wrong_with_a_field_has_its_german() -> None:
    german = sayings()
    said = faults()
    assert len(said) > 40
    assert sorted(one for one in said if matches(one, german) is None) == []
