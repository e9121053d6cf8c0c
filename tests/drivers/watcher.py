"""Runs a source in its thread, as the station does, and waits for what it delivers."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Sequence
from types import TracebackType
from typing import Self

from weighd.domain.reading import Reading
from weighd.station.ports import Bytes, Decoder, Found, Lost, Signal, Source

LONGEST_S = 10.0


class Watcher:
    """``with Watcher(source) as watcher``: stopped, joined and timed at the end."""

    def __init__(self, source: Source) -> None:
        self.signals: list[Signal] = []
        self.error: Exception | None = None
        self.stop = threading.Event()
        self.stopped_in_s = 0.0
        self._changed = threading.Condition()
        self._source = source
        self._began = time.monotonic()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(
        self,
        _kind: type[BaseException] | None,
        error: BaseException | None,
        _traceback: TracebackType | None,
    ) -> None:
        began = time.monotonic()
        self.stop.set()
        self._thread.join(LONGEST_S)
        self.stopped_in_s = time.monotonic() - began
        if error is None:
            assert not self._thread.is_alive(), "the source did not stop"
            assert self.stopped_in_s < 0.6, f"stopping took {self.stopped_in_s:.2f} s"

    def now(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self._began

    def wait(self, until: Callable[[Sequence[Signal]], bool]) -> list[Signal]:
        """All signals once ``until`` holds of them; fails after ten seconds."""
        with self._changed:
            held = self._changed.wait_for(lambda: until(self.signals) or self.error, LONGEST_S)
            if self.error:
                raise self.error
            assert held, f"waited in vain; came {self.signals}"
            return list(self.signals)

    def lost(self, count: int = 1) -> list[str]:
        """Why it was lost, once it was ``count`` times."""
        signals = self.wait(lambda all_: sum(isinstance(one, Lost) for one in all_) >= count)
        return [one.why for one in signals if isinstance(one, Lost)]

    def found(self, count: int = 1) -> list[Found]:
        """What was found, once it was ``count`` times."""
        signals = self.wait(lambda all_: sum(isinstance(one, Found) for one in all_) >= count)
        return [one for one in signals if isinstance(one, Found)]

    def readings(self, decoder: Decoder, count: int) -> list[Reading]:
        """The readings of all signals, once there are ``count``."""
        out: list[Reading] = []
        done = 0

        def enough(signals: Sequence[Signal]) -> bool:
            nonlocal done
            for one in signals[done:]:
                if isinstance(one, Bytes):
                    out.extend(decoder.feed(one.t, one.data))
                elif isinstance(one, Lost):
                    decoder.reset()
            done = len(signals)
            return len(out) >= count

        self.wait(enough)
        return out

    def _run(self) -> None:
        try:
            self._source.run(self._deliver, self.stop, self.now)
        except Exception as error:  # noqa: BLE001 - whatever it is, the test must see it
            self.error = error
            with self._changed:
                self._changed.notify_all()

    def _deliver(self, signal: Signal) -> None:
        with self._changed:
            self.signals.append(signal)
            self._changed.notify_all()
