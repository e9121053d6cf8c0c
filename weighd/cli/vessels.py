"""``weighd vessels``: the vessels whose empty mass is known, weighing one, forgetting one."""

from __future__ import annotations

from pathlib import Path

import typer

from weighd.domain import mass


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command()
    def vessels(
        weigh: str = typer.Option(
            "", "--weigh", metavar="NAME", help="Weigh an empty vessel and know it by this name."
        ),
        scale: str = typer.Option(
            "", "--scale", metavar="NAME", help="The scale to weigh it on; the first configured."
        ),
        given: str = typer.Option(
            "", "--mass", metavar="GRAMS", help="With --weigh: its mass, where that is known."
        ),
        u: str = typer.Option(
            "", "--u", metavar="GRAMS", help="With --mass: the standard uncertainty of that."
        ),
        allow: str = typer.Option(
            "", "--allow", metavar="GRAMS", help="With --weigh: what it may differ by besides, wet."
        ),
        by: str = typer.Option("", "--by", metavar="WHO", help="With --weigh: who says so."),
        forget: str = typer.Option("", "--forget", metavar="NAME", help="Forget a vessel."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """List the vessels whose empty mass is known; weigh one and give it a name; forget one.

        Where such a vessel is named at the tare, another one set down instead is told by its
        weight. While a station runs, weigh and forget them on its page, under Vessels.
        """
        from weighd.main.vessel_files import forget_vessel, keep_vessel, vessels_of
        from weighd.station.inputs import Command

        extra = {"--scale": scale, "--mass": given, "--u": u, "--allow": allow, "--by": by}
        if not weigh and (idle := [name for name, value in extra.items() if value]):
            raise typer.BadParameter("belongs to --weigh NAME", param_hint=idle[0])

        if forget:
            forget_vessel(config, forget)
            print(f"Forgotten: {forget}.")
            return
        if weigh:
            command = Command(
                0.0,
                "keep vessel",
                by=by,
                scale=scale,
                vessel=weigh,
                mass_g=given,
                u_g=u,
                allow_g=allow,
            )
            kept = keep_vessel(config, command, lambda text: print(text, flush=True))
            print(f"{kept.vessel.name}: {_mass(kept.vessel.mass_g, kept.vessel.u_g)}.")
            return
        known = vessels_of(config)
        for one in known:
            vessel = one.vessel
            where = "configured" if one.configured else one.scale or "typed in"
            told = [_mass(vessel.mass_g, vessel.u_g)]
            if vessel.allow_g:
                told.append(f"allow {mass.text(vessel.allow_g)} g")
            told.append(where + (f", {one.at[:10]}" if one.at else ""))
            print(f"{vessel.name}: {'; '.join(told)}")
        if not known:
            print("No vessel is known yet. Weigh one with --weigh NAME.")


def _mass(grams: object, u_g: object) -> str:
    return f"{grams} g" + (f", u {u_g} g" if u_g else "")
