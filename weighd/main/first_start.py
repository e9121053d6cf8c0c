"""The first start: which scales there are, what they say, and the choice written down.

Called in threads, one at a time. Devices are listened to while somebody looks at the page and let
go when nobody does; nothing is sent to them but, where that is asked for, a request for a weight.
"""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Callable, Mapping
from typing import Any

from weighd.config import Config
from weighd.domain import mass
from weighd.domain.errors import ConfigError, OperatorError, ScaleError
from weighd.main.first_config import SIMULATED, ConfigFile
from weighd.main.looking import Heard, Learning, Listener, Place, plugged_in
from weighd.station.picture import draw_reading

#: A scale that has said nothing for so long says nothing by itself, seconds.
LISTEN_S = 2.0
#: Nobody looks any more, seconds after the last question.
LET_GO_S = 5.0
#: Where nothing is plugged in it is looked again no more often, seconds.
LOOK_AGAIN_S = 1.5
#: What a refusal says that the shipped rule for USB scales would mend.
ASKS_FOR_RULE = "weighd scales --rule"
#: Named in the configuration in the place of a port.
_WHICH = ("port", "id", "serial")
#: What a simulated scale is set up with: it prints a tenth of a gram.
_SIMULATED = {"driver": SIMULATED, "max_g": "6000", "interval_g": "0.1"}


class _Watched:
    """One place, with whoever listens there."""

    def __init__(self, place: Place) -> None:
        self.place = place
        self.listener: Listener | None = None
        self.learning: Learning | None = None
        #: What the learning found, to be listened to and written down.
        self.way: Mapping[str, Any] = {}
        #: Why it is not listened to; ``state`` tells a port that refused from one tried in vain.
        self.why, self.state = "", ""

    @property
    def settings(self) -> dict[str, Any]:
        return {**self.place.found.settings, **self.way}

    @property
    def which(self) -> tuple[str, ...]:
        return _which(self.place.found.driver, self.settings)

    def listen(self) -> None:
        """Begin, unless it is listened to already."""
        if self.listener is not None or self.state:
            return
        try:
            self.listener = Listener.to(self.place.driver, self.settings)
        except (ValueError, ScaleError) as error:
            self.state, self.why = "refused", str(error)
            return
        self.listener.start()

    def let_go(self) -> None:
        for one in (self.listener, self.learning):
            if one is not None:
                one.stop()
        self.listener = self.learning = None


class FirstStart:
    """What the page asks at the first start. ``config`` is what the station runs with."""

    def __init__(self, config: Config) -> None:
        self.file = ConfigFile(config.file)
        self._config = config
        self._watched: dict[str, _Watched] = {}
        self._faults: list[str] = []
        self._looked = self._asked = float("-inf")
        self._turn = threading.RLock()
        self._watcher: threading.Thread | None = None
        self._over = threading.Event()
        #: Has the station begin anew with what was written; set by whoever runs it.
        self.begin_anew: Callable[[], None] = lambda: None

    # --- looking ------------------------------------------------------------------------------

    def picture(self, *, again: bool = False) -> dict[str, Any]:
        """What is plugged in and what it says by now. Listens on until nobody asks any more."""
        with self._turn:
            now = time.monotonic()
            self._asked = now
            if again or (not self._watched and now - self._looked >= LOOK_AGAIN_S):
                self._look()
            used = self._used()
            for one in self._watched.values():
                if one.which not in used and one.learning is None:
                    one.listen()
            self._watch()
            return {
                "folder": str(self.file.folder),
                "file": self.file.path.name,
                "scales": list(self._config.scales),
                "places": [
                    _drawn(key, one, used.get(one.which, "")) for key, one in self._watched.items()
                ],
                "faults": self._faults,
            }

    def learn(self, key: str) -> dict[str, Any]:
        """Try how the scale at a serial port is talked to; it is told by :meth:`picture`.

        Raises :class:`OperatorError`, ``unknown-place``.
        """
        with self._turn:
            one = self._place(key)
            if one.place.found.driver != "serial":
                raise OperatorError("not-now", "Only a serial port can be tried out.")
            self._asked = time.monotonic()
            if one.learning is None or one.learning.over:
                one.let_go()
                one.way, one.state, one.why = {}, "", ""
                one.learning = Learning(str(one.settings["port"]))
                one.learning.start()
            self._watch()
            return self.picture()

    def close(self) -> None:
        """Let every device go."""
        self._over.set()
        with self._turn:
            self._let_go()

    # --- choosing -----------------------------------------------------------------------------

    def add(self, asked: Mapping[str, str], *, more: bool) -> dict[str, Any]:
        """Write a scale into the configuration and begin anew with it; its name.

        ``asked``  ``place`` (a key of :meth:`picture`, or ``simulated``), ``name``, ``max_g`` and
                   ``interval_g``, the latter three empty where they are not known.
        ``more``   somebody wants one more; else only the first is taken.
        A scale that is there already is answered for as if it had just been written. Raises
        :class:`OperatorError` and :class:`ConfigError`; nothing is written then.
        """
        with self._turn:
            held = self.file.scales()
            if asked["place"] == SIMULATED:
                table: dict[str, Any] = dict(_SIMULATED)
                same = [key for key, one in held.items() if one.get("driver") == SIMULATED]
            else:
                one = self._place(asked["place"])
                table = {"driver": one.place.found.driver, **one.settings}
                for key in ("max_g", "interval_g"):
                    table |= {key: asked[key]} if asked[key] else {}
                same = [key for key, it in held.items() if _is_same(it, table)]
            if same:
                return {"scale": same[0], "anew": False}
            real = [key for key, one in held.items() if one.get("driver") != SIMULATED]
            if held and (not more or (asked["place"] == SIMULATED and real)):
                raise OperatorError(
                    "set-up-already",
                    f"A scale is set up here already: {', '.join(held)}.",
                    remedy="Go on with it; another one is added under Settings.",
                )
            instead = asked["place"] != SIMULATED
            try:
                name = self.file.add_scale(asked["name"], table, instead=instead)
            except ConfigError as error:
                raise OperatorError("no-such-scale", error.message, where=error.where) from error
            self._let_go()
            with contextlib.suppress(OSError):  # it is made with the first formula, else
                self._config.place(self._config.station.formulas).mkdir(parents=True)
        self.begin_anew()
        return {"scale": name, "anew": True}

    def name(self, name: str) -> None:
        """Have whoever weighs offered by name from now on. Raises as :meth:`add`."""
        with self._turn:
            self.file.add_operator(name)

    # --- inside -------------------------------------------------------------------------------

    def _look(self) -> None:
        self._let_go()
        places, self._faults = plugged_in()
        self._watched = {f"{one.found.driver}:{one.found.where}": _Watched(one) for one in places}
        self._looked = time.monotonic()

    def _place(self, key: str) -> _Watched:
        found = self._watched.get(key)
        if found is None:
            raise OperatorError(
                "unknown-place", "That is not plugged in any more.", remedy="Look again."
            )
        return found

    def _used(self) -> dict[tuple[str, ...], str]:
        """What the station itself listens to, by which it is."""
        scales = self._config.scales.items()
        return {_which(one.driver, one.settings): name for name, one in scales}

    def _let_go(self) -> None:
        for one in self._watched.values():
            one.let_go()

    def _watch(self) -> None:
        """Let go once nobody asks any more."""
        if self._watcher is None or not self._watcher.is_alive():
            self._watcher = threading.Thread(target=self._wait, name="first start", daemon=True)
            self._watcher.start()

    def _wait(self) -> None:
        while not self._over.wait(0.5):
            with self._turn:
                if time.monotonic() - self._asked > LET_GO_S:
                    self._let_go()
                    return


def _which(driver: str, settings: Mapping[str, object]) -> tuple[str, ...]:
    """What tells one device from another in its settings."""
    return (driver, *(str(settings.get(key) or "") for key in _WHICH))


def _is_same(held: Mapping[str, Any], table: Mapping[str, Any]) -> bool:
    return _which(str(held.get("driver", "serial")), held) == _which(table["driver"], table)


def _drawn(key: str, one: _Watched, used: str) -> dict[str, Any]:
    """A place as JSON values: ``state`` says what is to be done about it.

    ``used``, ``listening``, ``reading``, ``refused``, ``unreadable``, ``silent``, ``trying`` or
    ``in vain``.
    """
    found = one.place.found
    out: dict[str, Any] = {
        "id": key,
        "driver": found.driver,
        "where": found.where,
        "what": found.what if found.what != "n/a" else "",
        "used": used,
        "state": "used" if used else "listening",
        "why": one.why,
        "rule": False,
        "way": dict(one.way),
    }
    if used:
        return out
    if (learning := one.learning) is not None:
        if not learning.over:
            return out | {"state": "trying", "why": learning.said}
        # Found: listened to from now on as it was found.
        one.learning, one.way, one.why = None, learning.way, learning.why
        one.state = "" if learning.way else "in vain"
        out |= {"way": dict(one.way), "why": one.why}
    if one.state or one.listener is None:
        return out | {"state": one.state or "listening"}
    heard = one.listener.heard()
    out |= {"state": _state(heard, one.listener.since_s()), **_told(heard)}
    out["rule"] = ASKS_FOR_RULE in out["why"]
    return out


def _state(heard: Heard, since_s: float) -> str:
    if heard.whys and not heard.there:
        return "unreadable" if heard.opened else "refused"
    if heard.last is not None:
        return "reading"
    if since_s < LISTEN_S:
        return "listening"
    return "unreadable" if heard.count else "silent"


def _told(heard: Heard) -> dict[str, Any]:
    last = heard.last
    step = None if last is None else last.step_g
    return {
        "why": heard.whys[-1] if heard.whys else "",
        "readings": heard.readings,
        "reading": None if last is None else draw_reading(last),
        "max_g": heard.facts.get("max_g", ""),
        "interval_g": heard.facts.get("interval_g", ""),
        "step_g": "" if step is None else mass.text(step),
        "shape": heard.shape,
    }
