"""Sessions: what is recorded replays to the same entries, byte for byte."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.station.scripted import Hand, LineDecoder, formula
from weighd.domain.errors import FormulaError, SessionError
from weighd.domain.record import Entry, canonical
from weighd.domain.settling import Settling
from weighd.domain.settling_learned import Learned
from weighd.station.inputs import ClockSet, Command, Heard, Input, LinkFound, LinkLost, Tick
from weighd.station.known import Known
from weighd.station.replay import Onlooker, differences, replay
from weighd.station.session import Header, header_line, line, read
from weighd.station.station import Station

HEADER = Header(
    {"bench": {"driver": "test", "max_g": "6000", "interval_g": "0.1"}},
    "by hand",
    "test",
    version="0",
)


class RecordingHand(Hand):
    """A hand whose inputs are kept, as a recorder keeps them."""

    def take(self, event: Any) -> Any:
        self.__dict__.setdefault("inputs", []).append(replace(event, t=self.t))
        return super().take(event)

    @property
    def lines(self) -> list[str]:
        kept = [line(one) for one in self.__dict__["inputs"]]
        return [header_line(HEADER), *(one for one in kept if one is not None)]


def weighed() -> RecordingHand:
    hand = RecordingHand()
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    hand.pour("600", settle=0)
    hand.tick(3)  # silent: the tick is not recorded, and the silence is there all the same
    hand.pour("820")
    for key in ("a", "b"):  # refused when it happened, and refused again
        with pytest.raises(Exception, match="allowed"):
            hand.do("accept", key=key)
    hand.do("take out")
    hand.pour("812.4", "2")
    hand.do("accept")
    hand.lost()
    hand.found()
    hand.pour("932.4")
    hand.do("accept")
    hand.pour("934.4", "0.2")
    hand.do("accept")
    return hand


def again(lines: list[str], onlooker: Onlooker | None = None) -> list[Entry]:
    header, inputs = read(lines)
    return replay(
        header,
        inputs,
        lambda _settings: LineDecoder(),
        lambda given: given or formula().content(),
        onlooker=onlooker,
    )


def test_a_recorded_session_replays_to_the_same_entries() -> None:
    hand = weighed()
    replayed = again(hand.lines)
    assert "held" in hand.kinds()
    assert [canonical(one.as_json()) for one in replayed] == [
        canonical(one.as_json()) for one in hand.journal
    ]


def test_a_batch_that_was_refused_for_its_formula_is_refused_again_and_on_it_goes() -> None:
    hand = RecordingHand()
    with pytest.raises(FormulaError) as caught:
        hand.start(batch_g="0.1")
    again_refused: list[str] = []
    hand.start()
    hand.show("312.4")
    hand.do("tare")
    header, inputs = read(hand.lines)
    replayed = replay(
        header,
        inputs,
        lambda _settings: LineDecoder(),
        lambda given: given or formula().content(),
        lambda command, error: again_refused.append(f"{command.do} {error.code}"),
    )
    assert [one.hash for one in replayed] == [one.hash for one in hand.journal]
    assert again_refused == [f"start {caught.value.code}"]


def test_what_was_known_at_the_start_is_part_of_a_recording() -> None:
    """A detector that knows an unsteady display judges it otherwise; so does its replay."""
    unsteady = Known(Decimal("0.1"), replace(Learned(), spread_d=6.0, looks=30))
    hand = RecordingHand(known=unsteady)
    hand.start()
    for n in range(30):
        hand.raw(b"312.%d\n" % (n * 7 % 5))
    hand.do("tare")
    hand.pour("812.4", settle=0.0)
    for n in range(20):
        hand.raw(b"812.%d\n" % (n * 7 % 5))
    hand.do("accept", reason="it trembles")
    hand.do("abandon", reason="seen enough")
    hand.do("forget scale", scale="bench")
    hand.start()
    hand.show("300", 3.0)
    hand.do("tare")
    rows = hand.lines
    rows[0] = header_line(replace(HEADER, learned={"bench": unsteady}))
    seen = Seen()
    assert [one.hash for one in again(rows, seen)] == [one.hash for one in hand.journal]
    assert seen.noises[0] == Settling(Decimal("0.1"), unsteady.learned).noise_g
    assert seen.noises[-1] < seen.noises[0], "forgotten, and steady since"


class Seen:
    """An onlooker that writes down what it is told."""

    def __init__(self) -> None:
        self.readings: list[tuple[float, Any, str]] = []
        self.kinds: list[tuple[float, str]] = []
        self.noises: list[float] = []
        self.inputs: list[Input] = []

    def reading(self, station: Station, scale: Any, reading: Any, finding: Any) -> None:
        assert scale.reading is reading
        assert scale.finding is finding
        self.noises.append(scale.noise_g)
        self.readings.append((reading.t, reading.grams, str(station.now.phase)))

    def entries(self, station: Station, entries: Any) -> None:
        self.kinds += [(station.t, one.kind) for one in entries]

    def taken(self, station: Station, event: Input) -> None:
        assert station.t >= event.t
        self.inputs.append(event)


def test_an_onlooker_is_told_everything_and_changes_nothing() -> None:
    hand, seen = weighed(), Seen()
    replayed = again(hand.lines, seen)
    assert [one.hash for one in replayed] == [one.hash for one in hand.journal]
    assert [kind for _, kind in seen.kinds] == hand.kinds()
    heard = [one for one in seen.inputs if isinstance(one, Heard)]
    assert [t for t, _, _ in seen.readings] == [one.t for one in heard]
    assert len(seen.inputs) == len(hand.lines) - 1
    # The silence is found late, by the next input, and told at its own moment.
    silent = next(t for t, kind in seen.kinds if kind == "held")
    last = max(t for t, _, _ in seen.readings if t < silent)
    assert silent == pytest.approx(last + 2.0)
    # The phase is the one that the reading led to.
    assert (seen.readings[-1][2], seen.readings[0][2]) == ("judged", "awaiting vessel")


@settings(max_examples=30, deadline=None)
@given(st.randoms(use_true_random=False))
def test_chunking_of_bytes_changes_nothing(random: Any) -> None:
    """The same bytes at the same times, cut anywhere: the same readings, the same record."""
    hand = weighed()
    lines = []
    for text in hand.lines:
        row = json.loads(text)
        if "rx" in row and random.random() < 0.5:
            data = bytes.fromhex(row["rx"])
            cut = random.randrange(len(data) + 1)
            for part in (data[:cut], data[cut:]):
                lines.append(json.dumps({**row, "rx": part.hex()}))
        else:
            lines.append(text)
    assert [one.hash for one in again(lines)] == [one.hash for one in hand.journal]


def test_the_journal_a_session_began_on_is_carried_in_its_header() -> None:
    header = Header(HEADER.scales, "", "test", version="0", seq=41, hash="ab" * 32, made=6)
    rows = [header_line(header), *weighed().lines[1:]]
    entries = again(rows)
    assert (entries[0].seq, entries[0].prev) == (42, "ab" * 32)
    assert entries[0].body["batch"] == "test-0007"


@pytest.mark.parametrize(
    "event",
    [
        Heard(1.5, "bench", b"12.5\n\xff"),
        LinkLost(1.5, "bench", "unplugged"),
        LinkFound(1.5, "bench", "a scale", {"max_g": "6000"}),
        ClockSet(1.5, "2026-11-25T09:00:00.000Z"),
        Command(1.5, "tare", "k1", "Ä <b>", "test-0001", 2, confirm=True),
        Command(1.5, "start", "k2", "A", formula=formula().content(), batch_g="500"),
    ],
)
def test_every_input_is_written_and_read_back(event: Input) -> None:
    text = line(event)
    assert text is not None
    assert "\n" not in text
    assert list(read([header_line(HEADER), text])[1]) == [event]


def test_a_tick_is_not_recorded() -> None:
    assert line(Tick(1.0)) is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("{", "not JSON"),
        ("[" * 100_000, "not JSON"),
        ("[]", "not a JSON object"),
        ("{}", "not an input"),
        ('{"t": "1", "scale": "bench", "rx": ""}', "seconds"),
        ('{"t": -1, "scale": "bench", "rx": ""}', "seconds"),
        ('{"t": NaN, "scale": "bench", "rx": ""}', "seconds"),
        ('{"t": true, "scale": "bench", "rx": ""}', "seconds"),
        ('{"t": 1, "scale": "cellar", "rx": ""}', "no scale"),
        ('{"t": 1, "scale": "bench", "rx": "5"}', "not an input"),
        ('{"t": 1, "scale": "bench", "event": "broken"}', "no event"),
        ('{"t": 1, "command": {"do": "tare", "sudo": 1}}', "has no sudo"),
        ('{"t": 1, "command": {}}', "not an input"),
        ('{"t": 1, "down": 5}', "not an input"),
        ('{"t": 1, "down": {"at": "soon"}}', "is not a day"),
    ],
)
def test_a_bad_line_is_named(text: str, said: str) -> None:
    good = '{"t": 0, "clock": "2026-11-25T09:00:00Z"}'
    with pytest.raises(SessionError, match=said) as caught:
        list(read([header_line(HEADER), good, text], "x.jsonl")[1])
    assert caught.value.where == "x.jsonl, line 3"


def test_time_does_not_go_back() -> None:
    rows = ['{"t": 2, "scale": "bench", "rx": ""}', '{"t": 1, "scale": "bench", "rx": ""}']
    with pytest.raises(SessionError, match="time goes back"):
        list(read([header_line(HEADER), *rows])[1])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        '{"session": 2, "scales": {}}',
        '{"session": 1}',
        '{"session": 1, "scales": {"bench": {}}}',
        '{"session": 1, "scales": {"bench": {"driver": "x"}}, "journal": 5}',
    ],
)
def test_a_bad_header_is_refused(text: str) -> None:
    with pytest.raises(SessionError):
        read([text])


@pytest.mark.parametrize("bad", [{"max_g": "much"}, {"silent_after_s": "soon"}])
def test_a_header_with_no_mass_for_a_mass_is_refused(bad: dict[str, str]) -> None:
    header = Header({"bench": {"driver": "test", **bad}})
    with pytest.raises(SessionError, match="bench"):
        replay(header, [], lambda _settings: LineDecoder(), lambda given: given)


def test_differences_are_told_in_words() -> None:
    golden = {"entries": [{"kind": "tared", "body": {"addition": 1, "tare_g": "1.0", "by": "A"}}]}
    found = {"entries": [{"kind": "tared", "body": {"addition": 1, "tare_g": "1.1", "x": 2}}, 5]}
    assert differences(golden, found) == [
        "entries[tared, addition 1].body.by: missing, the golden record has A",
        "entries[tared, addition 1].body.tare_g: 1.1, the golden record has 1.0",
        "entries[tared, addition 1].body.x: new, 2",
        "entries: 2 of them, the golden record has 1",
    ]
    assert differences(golden, golden) == []
