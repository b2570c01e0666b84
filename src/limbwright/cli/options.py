"""Options that several commands share, each written once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

__all__ = [
    "OUT",
    "Clearness",
    "Columns",
    "Density",
    "Dose",
    "Engine",
    "EveryChange",
    "Forbid",
    "Force",
    "Grazed",
    "Ice",
    "Json",
    "Latitude",
    "LoadNames",
    "NoWays",
    "OrchardName",
    "Out",
    "OutFolder",
    "Page",
    "ProjectFile",
    "Protect",
    "SettingsFile",
    "Snow",
    "Southern",
    "Spacing",
    "SpeciesName",
    "Stations",
    "Survey",
    "Terrain",
    "Today",
    "Wind",
    "Workers",
    "Years",
    "YearsStood",
]

OUT = Path("limbwright-out")
"""Folder for results where none is given."""

Survey = Annotated[
    Path,
    typer.Argument(
        metavar="SURVEY",
        help="Table of limbs or of segments (CSV or XLSX), or a project file (.gpkg); see "
        "docs/formats.md.",
        show_default=False,
    ),
]
ProjectFile = Annotated[
    Path,
    typer.Argument(
        metavar="PROJECT", help="The project file of a holding (.gpkg).", show_default=False
    ),
]
Stations = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="Stations table that goes with the limbs (CSV or XLSX)."),
]
Columns = Annotated[
    Path | None,
    typer.Option(metavar="FILE", help="How to read a table with other headings or units (TOML)."),
]
SpeciesName = Annotated[
    str | None,
    typer.Option(
        "--species", metavar="NAME", help="Species where the tables name none, such as apple."
    ),
]
Json = Annotated[bool, typer.Option("--json", help="Print the result as JSON.")]
Out = Annotated[
    Path,
    typer.Option(
        "--out", "-o", metavar="FOLDER", help="Folder for the results.", show_default=True
    ),
]
OutFolder = Annotated[
    Path | None,
    typer.Option(
        "--out",
        "-o",
        metavar="FOLDER",
        help="Folder for the results of a table; limbwright-out if left out.",
    ),
]
OrchardName = Annotated[
    str | None,
    typer.Option("--orchard", metavar="NAME", help="Only this orchard of a project."),
]
Years = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=6,
        metavar="NUMBER",
        help="Seasons to plan ahead, 1 to 6: one for a table, five for a project if left out.",
    ),
]
NoWays = Annotated[
    bool,
    typer.Option(
        "--no-ways",
        help="Leave out other ways (all at once, equal shares, left alone); the demo tells them of "
        "a dozen trees.",
    ),
]
EveryChange = Annotated[
    bool, typer.Option("--every", help="List every change, not only the first few.")
]
Grazed = Annotated[
    str, typer.Option("--grazed", metavar="STOCK", help="What grazes below, such as sheep.")
]
Wind = Annotated[
    float | None,
    typer.Option(
        "--wind",
        min=10.0,
        max=60.0,
        metavar="M/S",
        help="Basic wind speed of the place, 10 to 60 m/s (EN 1991-1-4: mean of ten minutes, "
        "reached once in 50 years); 24 if left out.",
    ),
]
Terrain = Annotated[
    str | None,
    typer.Option(
        metavar="CLASS",
        help="Terrain (EN 1991-1-4): 0 open coast, I lake or bare flat land, II open grass, "
        "III hedges, woods or a village, IV town; II if left out.",
    ),
]
Snow = Annotated[
    float | None,
    typer.Option(
        "--snow",
        min=0.0,
        max=200.0,
        metavar="KG/M2",
        help="Wet snowfall once in 20 years, kg/m2 (0 for none).",
    ),
]
Ice = Annotated[
    float | None,
    typer.Option(
        "--ice",
        min=0.0,
        max=60.0,
        metavar="MM",
        help="Glaze ice once in 50 years, mm (0 for none).",
    ),
]
Southern = Annotated[
    bool,
    typer.Option(
        "--southern", help="The orchard lies south of the equator: seasons are turned round."
    ),
]
Latitude = Annotated[
    float | None,
    typer.Option(
        min=-65.0,
        max=65.0,
        metavar="DEGREES",
        help="Latitude, south below zero, for the sun's path: -65 to 65; 50 if left out.",
    ),
]
Clearness = Annotated[
    float | None,
    typer.Option(
        min=0.2,
        max=0.8,
        metavar="SHARE",
        help="Share of the light above the air that reaches the ground in summer, 0.2 to 0.8: "
        "0.45 in a cloudy maritime place, 0.6 in a dry one.",
    ),
]
Spacing = Annotated[
    float | None,
    typer.Option(
        min=2.0,
        max=50.0,
        metavar="M",
        help="Distance between trees, m, where neighbours like it stand all round; a tree by "
        "itself if left out.",
    ),
]
YearsStood = Annotated[
    float | None,
    typer.Option(
        min=0.0,
        max=200.0,
        metavar="YEARS",
        help="Years the trees have stood in their present form; 10 if left out.",
    ),
]
LoadNames = Annotated[
    str,
    typer.Option(
        "--loads",
        metavar="NAMES",
        help="Only these load cases, with commas between, such as own-weight; all if left out.",
    ),
]
Density = Annotated[
    float | None,
    typer.Option(
        "--green-density",
        min=200.0,
        max=1500.0,
        metavar="KG/M3",
        help="Density of all wood, 200 to 1500 kg/m3; by species if left out.",
    ),
]
Protect = Annotated[
    list[str] | None,
    typer.Option(
        "--protect", metavar="TREE:LIMB", help="This limb must stay, whole. May be given again."
    ),
]
Force = Annotated[
    list[str] | None,
    typer.Option(
        "--force",
        metavar="TREE:LIMB",
        help="This limb must come off, at its collar. May be given again.",
    ),
]
Forbid = Annotated[
    list[str] | None,
    typer.Option(
        "--forbid", metavar="TREE:LIMB", help="No cut on this limb itself. May be given again."
    ),
]
Dose = Annotated[
    float | None,
    typer.Option(
        metavar="SHARE",
        help="At most this share of the live crown comes off, such as 0.2; never above a third.",
    ),
]
SettingsFile = Annotated[
    Path | None,
    typer.Option(
        "--settings",
        metavar="FILE",
        help="Weights, limits and tools of your own (TOML, a name = value a line).",
    ),
]
Engine = Annotated[
    str,
    typer.Option(
        metavar="NAME",
        help="proof: search until the plan is known to be near the best; fast: at once, with a "
        "rough bound.",
    ),
]
Page = Annotated[
    str, typer.Option(metavar="SIZE", help="a4: all on one page; a5: front and back of a leaf.")
]
Today = Annotated[
    str,
    typer.Option(
        "--on", metavar="DATE", help="Day on which you plan, such as 2027-01-31; today if left out."
    ),
]
Workers = Annotated[
    int | None,
    typer.Option(
        min=1,
        max=64,
        metavar="NUMBER",
        help="Processes that share the work; one a core if left out.",
    ),
]
