"""Options that several commands share, each written once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "Columns",
    "Density",
    "Dose",
    "Engine",
    "Forbid",
    "Force",
    "Ice",
    "Json",
    "LoadNames",
    "Out",
    "Page",
    "Protect",
    "SettingsFile",
    "Snow",
    "Southern",
    "SpeciesName",
    "Stations",
    "Survey",
    "Terrain",
    "Today",
    "Wind",
    "Workers",
    "YearsStood",
]

Survey = Annotated[
    Path, typer.Argument(help="Table of limbs or of segments (CSV or XLSX).", show_default=False)
]
Stations = Annotated[Path | None, typer.Option(help="Stations table that goes with the limbs.")]
Columns = Annotated[Path | None, typer.Option(help="Column-mapping file (TOML) for other tables.")]
SpeciesName = Annotated[
    str | None, typer.Option("--species", help="Species where the tables name none.")
]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
Out = Annotated[
    Path, typer.Option("--out", "-o", help="Folder for the results.", show_default=True)
]
Wind = Annotated[
    float, typer.Option("--wind", min=10.0, max=60.0, help="Basic wind speed, m/s (EN 1991-1-4).")
]
Terrain = Annotated[str, typer.Option(help="Terrain category 0, I, II, III or IV.")]
Snow = Annotated[
    float | None,
    typer.Option(
        "--snow", min=0.0, max=200.0, help="Wet snowfall once in 20 years, kg/m2 (0 for none)."
    ),
]
Ice = Annotated[
    float | None,
    typer.Option("--ice", min=0.0, max=60.0, help="Glaze ice once in 50 years, mm (0 for none)."),
]
Southern = Annotated[bool, typer.Option("--southern", help="Southern hemisphere.")]
YearsStood = Annotated[
    float,
    typer.Option(min=0.0, max=200.0, help="Years the trees have stood in their present form."),
]
LoadNames = Annotated[
    str, typer.Option("--loads", help="Load cases, comma separated, such as own-weight.")
]
Density = Annotated[
    float | None,
    typer.Option("--green-density", min=200.0, max=1500.0, help="Density of all wood, kg/m3."),
]
Protect = Annotated[
    list[str] | None, typer.Option("--protect", help="TREE:LIMB that must stay whole.")
]
Force = Annotated[
    list[str] | None, typer.Option("--force", help="TREE:LIMB that must come off at its collar.")
]
Forbid = Annotated[
    list[str] | None,
    typer.Option("--forbid", help="TREE:LIMB on which no cut is to be made."),
]
Dose = Annotated[
    float | None,
    typer.Option(help="Share of the live crown that may come off, up to one third."),
]
SettingsFile = Annotated[
    Path | None,
    typer.Option("--settings", help="Weights, limits and tools of your own (TOML, name = value)."),
]
Engine = Annotated[str, typer.Option(help="proof: to the best plan; fast: at once, with a bound.")]
Page = Annotated[str, typer.Option(help="a4: all on one page; a5: front and back of a leaf.")]
Today = Annotated[
    str, typer.Option("--on", help="Date of planning, YYYY-MM-DD; today if left out.")
]
Workers = Annotated[int | None, typer.Option(min=1, max=64, help="Processes to share the work.")]
