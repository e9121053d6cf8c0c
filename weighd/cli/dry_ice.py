"""``weighd dry-ice``: what it takes to freeze a mix with dry ice, and what that does to the air."""

from __future__ import annotations

import json
from pathlib import Path

import typer


def add_to(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("dry-ice")
    def dry_ice(
        file: Path = typer.Argument(help="A formula file (TOML)."),
        yield_g: str = typer.Option("", "--yield-g", help="Batch size in grams."),
        from_c: str = typer.Option("", "--from", help="Temperature of the mix in °C; 5."),
        to_c: str = typer.Option("", "--to", help="Draw temperature in °C; -6."),
        efficiency: str = typer.Option(
            "", "--efficiency", help="Percent of the cold that ends in the mix; 60, a guess."
        ),
        room_m3: str = typer.Option("", "--room-m3", help="Volume of the room; needed."),
        air_changes: str = typer.Option(
            "", "--air-changes", help="Air changes an hour; none where not known."
        ),
        release_min: str = typer.Option(
            "", "--release-min", help="Minutes over which the gas comes; at once."
        ),
        background_ppm: str = typer.Option("", "--background-ppm", help="CO2 beforehand; 420."),
        charge_g: str = typer.Option("", "--charge-g", help="Reckon with this much dry ice."),
        powder_kg_l: str = typer.Option(
            "", "--powder-kg-l", help="Bulk density of the powder; 0.8, a guess."
        ),
        every_s: str = typer.Option("", "--every-s", help="Seconds from portion to portion; 30."),
        over_min: str = typer.Option("", "--over-min", help="Minutes over which it is added; 5."),
        vessel_g: str = typer.Option("", "--vessel-g", help="Mass of the bowl in grams."),
        vessel_of: str = typer.Option("", "--vessel-of", help="Its material; steel."),
        vessel_cp: str = typer.Option("", "--vessel-cp", help="Its heat capacity, kJ/(kg K)."),
        vessel_from: str = typer.Option("", "--vessel-from", help="Its temperature in °C; 20."),
        text: bool = typer.Option(False, "--text", help="For people, instead of JSON."),
        config: Path | None = typer.Option(None, "--config", help="The configuration file."),
    ) -> None:
        """Work out heat, charge and portions of dry ice for a formula, and the air of the room.

        Dry ice burns, bursts closed vessels and takes the air from a room. Read the cautions that
        are printed, and keep to your local codes. Every figure names its source, or says that it
        is a guess. No figure here says that a room is safe.
        """
        from weighd.config import load
        from weighd.domain.dry_ice import amounts_of, read_asked, reckon
        from weighd.main.files import read_formula_file
        from weighd.station.dry_ice_drawn import draw_dry_ice
        from weighd.station.dry_ice_words import tell
        from weighd.station.opening import batch_size

        given = {
            "from_c": from_c,
            "to_c": to_c,
            "efficiency_percent": efficiency,
            "room_m3": room_m3,
            "air_changes": air_changes,
            "release_min": release_min,
            "background_ppm": background_ppm,
            "charge_g": charge_g,
            "powder_kg_l": powder_kg_l,
            "every_s": every_s,
            "over_min": over_min,
            "vessel_g": vessel_g,
            "vessel_of": vessel_of,
            "vessel_cp": vessel_cp,
            "vessel_from_c": vessel_from,
        }
        asked = read_asked(given, load(config).dry_ice.as_text())
        formula = read_formula_file(file)
        scaled = formula.scaled(batch_size(yield_g, formula))
        drawn = draw_dry_ice(scaled, reckon(amounts_of(scaled), asked))
        if text:
            for line in tell(drawn):
                print(line)
        else:
            print(json.dumps(drawn, indent=2, ensure_ascii=False))
