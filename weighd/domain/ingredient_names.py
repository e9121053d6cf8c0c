"""Which of a kitchen's ingredients a name means: the one, those it may be, or none."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches

from weighd.domain.formula import Ingredient
from weighd.domain.spelling import plain

#: Names that are offered for one that is not known.
MOST_OFFERED = 4
_ASIDE = re.compile(r"\([^()]*\)|\[[^\[\]]*\]")


def _key(name: str) -> str:
    """A name to compare by: letters and digits only, without accents, in small letters."""
    return " ".join(re.findall(r"\w+", plain(name).replace("_", " ")))


@dataclass(frozen=True)
class Names:
    """The kitchen's ingredients by what they may be called."""

    known: Mapping[str, Ingredient]
    #: What somebody said that a name means, by the name as it stands.
    said: Mapping[str, str] = field(default_factory=dict)
    _exact: dict[str, list[str]] = field(default_factory=dict)
    _words: dict[str, frozenset[str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for identity, one in self.known.items():
            for key in {_key(one.name), _key(identity), _key(_ASIDE.sub(" ", one.name))} - {""}:
                self._exact.setdefault(key, []).append(identity)
            self._words[identity] = frozenset(_key(f"{one.name} {identity}").split())

    def meant(self, name: str) -> tuple[Ingredient | None, tuple[str, ...], str]:
        """The ingredient of a name, others that may be meant, and what is to be said about it."""
        if (told := self.said.get(name, "")) in self.known:
            return self.known[told], (), ""
        for called in (name, _ASIDE.sub(" ", name), *re.split("[,;]", name)[:1]):
            if len(found := self._exact.get(_key(called), [])) == 1:
                return self.known[found[0]], (), ""
            if found:
                return None, self._order(found), f"Several are called {called.strip()}."
        words = frozenset(_key(_ASIDE.sub(" ", name)).split())
        inside = [one for one, own in self._words.items() if words and words <= own]
        if inside:
            return None, self._order(inside), f'"{name}" is not said in full.'
        return None, self._near(name, words), f'No ingredient of this kitchen is called "{name}".'

    def _near(self, name: str, words: frozenset[str]) -> tuple[str, ...]:
        close = get_close_matches(_key(name), list(self._exact), n=MOST_OFFERED, cutoff=0.75)
        near = [identity for key in close for identity in self._exact[key]]
        shared = [one for one, own in self._words.items() if own and own <= words]
        return tuple(dict.fromkeys([*near, *sorted(shared)]))[:MOST_OFFERED]

    def _order(self, found: Sequence[str]) -> tuple[str, ...]:
        return tuple(sorted(found, key=lambda one: (len(self._words[one]), one)))[:MOST_OFFERED]
