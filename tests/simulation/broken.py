"""What a simulation says when a rule does not hold."""

from __future__ import annotations


class Broken(AssertionError):  # noqa: N818 - a word of its own
    """A rule that was broken: ``rule`` is its name, the same for the same defect."""

    def __init__(self, rule: str, told: str) -> None:
        super().__init__(f"{rule}: {told}")
        self.rule, self.told = rule, told


def hold(yes: object, rule: str, told: object = "") -> None:
    """Raises :class:`Broken` unless it holds; ``told`` may be a function that says more."""
    if not yes:
        raise Broken(rule, str(told() if callable(told) else told))
