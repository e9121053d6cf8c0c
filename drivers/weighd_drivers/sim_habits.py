"""How a simulated cook works, and what a simulated cook can do. All numbers are our own guesses.

The reaction time's median of a quarter of a second is the usual order of a simple reaction to
something seen (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Habits:
    """Times in seconds, masses in grams, flows in grams a second."""

    reaction_s: float = 0.25
    #: Spread of the reaction time: standard deviation of its logarithm.
    reaction_spread: float = 0.25
    #: How long a cook looks before pressing a key or going on.
    think_s: float = 0.7
    #: How far behind the display is, as a cook believes at first and learns.
    lag_s: float = 0.45
    learns: float = 0.4
    #: Less than this is tapped off a spoon, at most so much a tap.
    spoon_below_g: float = 8.0
    spoonful_g: float = 2.5
    #: Standard deviation of the logarithm of what leaves the spoon or is taken out.
    spoon_error: float = 0.2
    #: How steady the hand is when it stops: error of the landing, seconds of flow.
    stop_error_s: float = 0.08
    #: A pour takes about so long at its fast flow, which lies between these.
    pour_s: float = 8.0
    slowest_g_s: float = 1.5
    fastest_g_s: float = 120.0
    slow_most_g_s: float = 20.0
    #: Looks between taps.
    tap_gap_s: float = 0.9
    #: Corrections of one addition before a cook lets it be, if it may.
    patience: int = 10
    #: Corrections of one that is too close to call.
    fuss: int = 2
    #: With nothing moving for so long, a cook says so and begins again.
    stuck_s: float = 20.0
    vessel_least_g: float = 180.0
    vessel_most_g: float = 420.0
    names_lots: bool = True


@dataclass(frozen=True, slots=True)
class Pour:
    """Pour at about this flow; ``Pour(0)`` stops."""

    g_per_s: float


@dataclass(frozen=True, slots=True)
class Tap:
    """Tap about so much off a spoon."""

    grams: float


@dataclass(frozen=True, slots=True)
class Take:
    """Take about so much out with a spoon."""

    grams: float


@dataclass(frozen=True, slots=True)
class SetDown:
    """Set a vessel down, empty or with ``contents_g`` in it."""

    mass_g: float
    contents_g: float = 0.0


@dataclass(frozen=True, slots=True)
class PourOut:
    """Pour about so much out of the vessel in the hand."""

    grams: float


@dataclass(frozen=True, slots=True)
class Lift:
    """Lift the vessel; with none on the pan, wipe the pan."""


@dataclass(frozen=True, slots=True)
class PutBack:
    """Put the lifted vessel back."""


@dataclass(frozen=True, slots=True)
class ZeroKey:
    """Press the scale's own zero key."""


@dataclass(frozen=True, slots=True)
class Press:
    """Press a key of the station: a command as it takes them."""

    do: str
    batch: str
    addition: int
    reason: str = ""
    lot: str = ""

    def command(self, by: str = "") -> dict[str, object]:
        """The command as a station takes it; ``by`` only where a name is given."""
        given = {"reason": self.reason, "lot": self.lot, "by": by}
        named = {key: value for key, value in given.items() if value}
        return {"do": self.do, "batch": self.batch, "addition": self.addition, **named}


@dataclass(frozen=True, slots=True)
class Say:
    """Say something to whoever listens."""

    text: str


Action = Pour | Tap | Take | PourOut | SetDown | Lift | PutBack | ZeroKey | Press | Say
STOP = Pour(0.0)
