"""``weighd scales``: what is plugged in, and what each says."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import typer

from weighd.domain import mass
from weighd.domain.errors import ScaleError
from weighd.domain.reading import Reading
from weighd.station.ports import Discovered, Driver

#: What a refusal says that the shipped rule would mend.
ASKS_FOR_RULE = "weighd scales --rule"
#: A flag that says stable in no more of the readings of a moving load is to be trusted.
TRUSTED = 0.1


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def scales(
        listen: float = typer.Option(
            2.0, "--listen", min=0, max=60, help="Seconds to listen to each; 0 to only list."
        ),
        baud: int = typer.Option(9600, "--baud", help="Baud rate to listen to serial ports at."),
        learned: bool = typer.Option(
            False, "--learned", help="Show what was learned of the configured scales."
        ),
        forget: str = typer.Option(
            "", "--forget", metavar="NAME", help="Forget what was learned of a scale."
        ),
        rule: bool = typer.Option(
            False, "--rule", help="Print the udev rule that lets a user read USB scales (Linux)."
        ),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
        learn: str = typer.Option(
            "", "--learn", metavar="PORT", help="Work out how the scale at a serial port writes."
        ),
        out: Path = typer.Option(
            Path("found.toml"), "--out", "-o", help="With --learn: the file for the wire shape."
        ),
        load: str = typer.Option(
            "", "--load", metavar="GRAMS", help="With --learn: what is put on, where it is known."
        ),
        unit: mass.Unit | None = typer.Option(
            None, "--unit", help="With --learn: the unit of a display that prints none."
        ),
        weight: str = typer.Option(
            "gross", "--weight", help="With --learn: gross or net, where both are printed."
        ),
        request: str = typer.Option(
            "", "--request", help="With --learn: what makes it answer, where that is known."
        ),
        unguided: bool = typer.Option(
            False, "--unguided", help="With --learn: only listen, ask for nothing to be put on."
        ),
    ) -> None:
        """List serial ports and USB scales, show what each one says, and how to configure it.

        With --learned or --forget: what a station learned of its scales. With --learn: baud rate,
        parity, request and wire shape of a scale, tried out while something is put on and taken
        off; --listen is then the time for each.
        """
        if learn:
            _learn(learn, out, listen, load, unit, weight, request, guided=not unguided)
        elif rule:
            _rule()
        elif forget:
            _forget(config, forget)
        elif learned:
            _learned(config)
        else:
            _discover(listen, baud)


def _learn(
    port: str,
    out: Path,
    seconds: float,
    load: str,
    unit: mass.Unit | None,
    weight: str,
    request: str,
    *,
    guided: bool,
) -> None:
    from weighd.cli.learn import Asked, learn

    if weight not in {"gross", "net"}:
        raise typer.BadParameter("give gross or net", param_hint="--weight")
    learn(port, out, Asked(seconds, load, unit, weight, request, guided=guided))


def _discover(listen: float, baud: int) -> None:
    from weighd.main.looking import plugged_in

    places, faults = plugged_in()
    for fault in faults:
        print(fault)
    refused = False
    for number, one in enumerate(places, start=1):
        for line in _about(one.driver, one.found, number, listen, baud):
            print(line, flush=True)
            refused = refused or ASKS_FOR_RULE in line
    if not places:
        print("No serial port and no USB scale is plugged in.")
    if refused:
        print("The rule, as weighd scales --rule prints it:\n")
        _rule()


def _rule() -> None:
    from weighd.main.drivers import udev_rule

    print(udev_rule(), end="")


def _learned(config: Path | None) -> None:
    from weighd.main.files import learned_of

    known = learned_of(config)
    for name, one in known.items():
        print(f"{name}: learned since {one['since'] or 'this start'}")
        print(f"    unsteady by {one['noise_g']} g at rest; looked at {one['looks']} times")
        print(f"    follows a step in {one['response_s']} s")
        print(f"    {one['readings_per_s']} readings a second")
        print(f"    its own flag: {_flag(one['flag_wrong'])}")
    if not known:
        print("Nothing was learned of any scale yet.")


def _flag(wrong: str | None) -> str:
    if wrong is None:
        return "none seen"
    share = f"said stable in {100 * float(wrong):.0f} % of readings of a moving load"
    return f"{share}; {'to be trusted' if float(wrong) <= TRUSTED else 'not to be trusted'}"


def _forget(config: Path | None, name: str) -> None:
    from weighd.main.files import forget_scale

    forget_scale(config, name)
    print(f"Forgotten what was learned of {name}.")


def _about(driver: Driver, one: Discovered, number: int, listen: float, baud: int) -> Iterator[str]:
    yield f"{one.where}: {one.what}"
    settings = dict(one.settings)
    if one.driver == "serial":
        settings["baud"] = baud
    if listen > 0:
        yield from (f"    {line}" for line in _listen(driver, settings, listen))
    yield "    to use it:"
    yield f"        [scales.bench{number if number > 1 else ''}]"
    yield f'        driver = "{one.driver}"'
    for key, value in settings.items():
        yield f"        {key} = {_toml(value)}"
    yield ""


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return str(value)
    text = str(value).replace("\\", "\\\\").replace('"', '\\"')
    return f'"{text}"'


def _listen(driver: Driver, settings: dict[str, object], seconds: float) -> list[str]:
    """What a device says in a few seconds, in words."""
    from weighd.main.looking import Listener

    try:
        one = Listener.to(driver, settings)
    except (ValueError, ScaleError) as error:
        return [f"cannot be opened: {error}"]
    one.start()
    one.wait(seconds)
    one.stop()
    heard = one.heard()
    out = []
    if heard.opened:
        told = ", ".join(f"{key} {value}" for key, value in heard.facts.items())
        out.append(f"open: {heard.opened}" + (f" ({told})" if told else ""))
    out += heard.whys
    if heard.last is not None:
        out.append(f"{heard.readings} readings in {seconds:g} s; the last: {_in_words(heard.last)}")
        if heard.shape:
            out.append(f"wire shape: {heard.shape}")
    elif heard.count:
        out.append(
            f"{heard.count} bytes that fit no known shape, like {heard.last_raw!r}: "
            "weighd scales --learn PORT works such a one out"
        )
    elif not heard.whys:
        out.append(
            "said nothing; it may be asleep, or answer only when asked: for a serial port,"
            " weighd scales --learn PORT tries that"
        )
    return out


def _in_words(reading: Reading) -> str:
    if reading.grams is None:
        return "over capacity" if reading.over else reading.fault or "no number"
    stable = {True: ", stable", False: ", moving", None: ""}[reading.stable]
    return f"{mass.text(reading.shown or reading.grams)} {reading.unit or 'g'}{stable}"
