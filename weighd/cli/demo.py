"""``weighd demo``: a simulated scale and cook, in an invented kitchen."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
import tempfile
import webbrowser
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from weighd.cli.serve import url

if TYPE_CHECKING:
    from weighd.main.daemon import Daemon
    from weighd.main.simulation import Kitchen

FIRST_FORMULA = "blackcurrant-buttermilk-sherbet"
#: A cook who has not finished in so many seconds of station time never will.
LONGEST_BATCH_S = 3600.0


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def demo(
        once: bool = typer.Option(
            False, "--once", help="Weigh one batch without a page, print its record, and leave."
        ),
        speed: float = typer.Option(1.0, "--speed", min=0.1, max=100, help="Times real time."),
        formula: str = typer.Option(FIRST_FORMULA, "--formula", help="The formula of --once."),
        batch: str = typer.Option("", "--batch-g", help="Batch size in grams, for --once."),
        by_difference: bool = typer.Option(
            False, "--by-difference", help="For --once: the bowl cannot be weighed."
        ),
        two: bool = typer.Option(
            False, "--two-scales", help="A coarse scale and a fine one; weigh by the plan."
        ),
        seed: int = typer.Option(1, "--seed", help="Another seed, another cook's hand."),
        port: int = typer.Option(8451, "--port", help="Listen on this port; 0 for any."),
        data: Path | None = typer.Option(
            None, "--data", help="Keep the record here; forgotten at the end otherwise."
        ),
        record: Path | None = typer.Option(
            None, "--record", help="Record the session to a file, up to 500 MB."
        ),
        open_page: bool = typer.Option(True, "--open/--no-open", help="Open the page."),
    ) -> None:
        """Try weighd out: a simulated scale, a simulated cook, and formulas of an invented kitchen.

        With --once the record goes to standard output as JSON when that is not a terminal:
        `weighd demo --once --speed 20 > record.json && weighd verify record.json`.
        """
        from weighd.clock import SystemClock
        from weighd.main import logs
        from weighd.main.listening_at import listen
        from weighd.main.recording import Recording
        from weighd.main.simulation import demo_daemon

        logs.set_up("warning")

        def made(folder: Path) -> tuple[Daemon, Kitchen]:
            clock = SystemClock(speed)
            recording = None if record is None else Recording(record)
            return demo_daemon(folder, port, speed, seed, clock, recording, two=two)

        with _folder(data) as folder:
            if once:
                daemon, kitchen = made(folder)
                method = "by difference" if by_difference else ""
                asyncio.run(_one_batch(daemon, kitchen, formula, batch, method))
                return
            sock = listen("127.0.0.1", port)
            try:
                daemon, kitchen = made(folder)
                address = url("127.0.0.1", sock.getsockname()[1])

                def ready() -> None:
                    kitchen.begin()
                    print(f"weighd is at {address}", flush=True)
                    print(
                        "A simulated scale in an invented kitchen: start a batch and watch the "
                        "cook, or take the jug yourself. Ctrl-C ends it.",
                        flush=True,
                    )
                    if open_page:
                        with contextlib.suppress(webbrowser.Error):
                            webbrowser.open(address)

                asyncio.run(daemon.serve(sock, kitchen, ready))
            finally:
                kitchen_stop = locals().get("kitchen")
                if kitchen_stop is not None:
                    kitchen_stop.shift.stop()
                sock.close()


@contextlib.contextmanager
def _folder(data: Path | None) -> Iterator[Path]:
    if data is not None:
        yield data
        return
    with tempfile.TemporaryDirectory(prefix="weighd-demo-") as made:
        yield Path(made)


async def _one_batch(
    daemon: Daemon, kitchen: Kitchen, formula: str, batch_g: str, method: str
) -> None:
    """Weigh one batch, telling how it goes; then show its record, and verify it."""
    from weighd.domain.errors import OperatorError
    from weighd.main.simulated_steps import do_steps
    from weighd.main.simulation import OPERATOR
    from weighd.station.inputs import Command

    content = daemon.shelf.get(formula).content()
    until, finished = asyncio.Event(), asyncio.Event()
    teller = _Teller(daemon, finished)
    daemon.live.also.append(teller.look)

    # With several scales there is something to plan.
    planned: dict[str, Any] = {}
    if len(daemon.config.scales) > 1:
        planned = {"plan": True, **daemon.config.plan.as_text()}

    async def weigh() -> str:
        kitchen.begin()
        start = Command(
            0,
            "start",
            key="demo-start",
            by=OPERATOR,
            formula=content,
            batch_g=batch_g,
            method=method,
            **planned,
        )
        answer = await daemon.runner.command(start)
        wait = LONGEST_BATCH_S / daemon.clock.speed
        try:
            await asyncio.wait_for(finished.wait(), wait)
        except TimeoutError:
            raise OperatorError("not-finished", "The simulated cook did not finish.") from None
        await do_steps(daemon, answer.batch, OPERATOR, teller.tell_step)
        return answer.batch

    running = asyncio.create_task(daemon.run(until))
    weighing = asyncio.create_task(weigh())
    try:
        await asyncio.wait({running, weighing}, return_when=asyncio.FIRST_COMPLETED)
        if running.done():
            running.result()
        identity = await weighing
        document = _verified(daemon, identity)
    finally:
        await asyncio.to_thread(kitchen.shift.stop)
        weighing.cancel()
        until.set()
        await asyncio.gather(running, weighing, return_exceptions=True)
    show(document, sys.stdout.isatty())


def _verified(daemon: Daemon, batch: str) -> dict[str, Any]:
    """The batch's record, read back from the journal and verified as anybody would."""
    from weighd.cli.verify import in_words
    from weighd.domain.verify import export, verify_export
    from weighd.main.drivers import reread
    from weighd.station.check_history import of_batch

    entries = daemon.journal.batch(batch)
    document: dict[str, Any] = json.loads(
        json.dumps(export(daemon.station.name, batch, entries, of_batch(daemon.journal, entries)))
    )
    print(in_words(verify_export(document, reread)), file=sys.stderr)
    return document


class _Teller:
    """Tells a batch's progress on standard error, a line when something happened."""

    def __init__(self, daemon: Daemon, finished: asyncio.Event) -> None:
        self._daemon = daemon
        self._finished = finished
        self._told = ""

    def look(self) -> None:
        state = self._daemon.picture.state()
        batch, live = state["batch"], state["live"]
        if batch and batch["status"] != "open":
            if batch["status"] == "in process" and self._finished.is_set():
                return  # the steps are told by whoever does them
            self._tell(f"{batch['id']} {batch['status']}", "")
            self._finished.set()
        elif batch and live:
            one = batch["additions"][live["addition"] - 1]
            what = f"{one['n']}/{len(batch['additions'])} {one['name']}: "
            held = f" ({live['held']['cause']})" if live["held"] else ""
            net = live["net_g"] if live["settled"] else None
            shown = f" {live['verdict']}, {net} g of {one['target_g']} g" if live["verdict"] else ""
            self._tell(f"{what}{live['phase']}{held}", shown)

    def tell_step(self, what: str) -> None:
        """Tell of a step after weighing."""
        self._tell(what, "")

    def _tell(self, what: str, shown: str) -> None:
        if what != self._told:
            self._told = what
            print(f"{self._daemon.clock.now():7.1f} s  {what}{shown}", file=sys.stderr)


def show(document: Mapping[str, Any], to_a_person: bool) -> None:
    """The as-weighed record: a table for a person, JSON for a program."""
    if not to_a_person:
        sys.stdout.write(json.dumps(document, ensure_ascii=False, indent=1) + "\n")
        return
    opened = document["entries"][0]["body"]
    print(f"\n{opened['formula']['name']}, batch {document['batch']}, by {opened['operator']}")
    print(f"{'':3} {'ingredient':<30} {'target g':>9} {'net g':>9} {'±':>7}  verdict")
    for entry in document["entries"]:
        body = entry["body"]
        if entry["kind"] == "addition accepted":
            print(
                f"{body['addition']:3} {body['name']:<30} {body['target_g']:>9} "
                f"{body['net_g']:>9} {body['u_g']:>7}  {body['verdict']}"
                + (f" ({body['reason']})" if body["reason"] else "")
            )
    from weighd.cli.step_lines import step_lines
    from weighd.domain.verify import read_export

    for line in step_lines(read_export(document)):
        print(line)
