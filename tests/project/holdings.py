"""An invented holding, and what is compared between two projects."""

import tempfile
from collections.abc import Iterable
from datetime import date
from functools import cache
from pathlib import Path

from limbwright.model import Holding
from limbwright.project.add import add_to_project
from limbwright.project.changes_shown import Added
from limbwright.project.store import Project
from limbwright.project.tables import table_spec

STATIONS = """orchard,station,species,cultivar,x,y,status,planted,height_m,spread_m,note,owl
Kiln Piece,1,apple,Old Invented,365770.5,233624.25,,1921,7.5,8,hollow,box 3
Kiln Piece,2,perry pear,,365780.5,233624.25,,,12,9,=SUM(1),
Kiln Piece,3,,,365790.5,233624.25,gap,,,,,
Long Bit,1,plum,,365900,233700,new,2024,2.1,,,
"""
LIMBS = """orchard,station,limb,parent,at_m,diameter_mm,length_m,bearing_deg,rise_deg,taken_at_m
Kiln Piece,1,stem,,,420,1.9,,88,
Kiln Piece,1,1,stem,1.9,180,4.5,20,40,0.2
Kiln Piece,1,2,stem,1.8,170,4.25,200,35,
Kiln Piece,1,3,1,2,80,2,60,50,
"""
SHOOTS = """station,shoot,parent,at_m,length_m,grown_cm,diameter_mm,bearing_deg,rise_deg,keep,tie
Long Bit/1,L,,,2.1,55,30,,88,,
Long Bit/1,1,L,1.7,0.5,50,10,40,40,,soft
"""
SEGMENTS = """tree,segment,parent,x0_m,y0_m,z0_m,x1_m,y1_m,z1_m,d0_mm,d1_mm,leaf_area_m2,species
Kiln Piece/2,0,-1,0,0,0,0,0,2.5,600,500,0,perry pear
Kiln Piece/2,1,0,0,0,2.5,1.5,0,5,300,100,20.25,perry pear
Kiln Piece/2,2,0,0,0,2.5,-1.5,0.125,5,250,90,18,perry pear
"""
RECORDS = {
    "visits": "tree,season,done_on,who,hours,brash_hours,found\n"
    "Kiln Piece/1,winter 2025-26,2025-12-03,Ada,2.5,1,a nest box\n",
    "cuts": "tree,season,done_on,order,limb,cut,done,at_m,diameter_mm,note\n"
    "Kiln Piece/1,winter 2025-26,2025-12-03,1,3,remove,yes,,,\n"
    "Kiln Piece/1,winter 2025-26,2025-12-03,0,2,shorten,other,2.5,60,split\n",
    "responses": "tree,seen_on,shoots,shoot_length_cm,condition,limbs_lost\n"
    'Kiln Piece/1,2026-08-01,14,45.5,good,"2, 5"\n',
    "photos": "tree,file,taken_on,shows,bearing_deg\nKiln Piece/1,a.jpg,2025-12-03,after,45\n",
}
TABLES = (
    *("stations", "orchards", "limbs", "shoots", "segments"),
    *("visits", "cuts_done", "responses", "photos"),
)


@cache
def _empty(crs: str) -> bytes:
    """Return an empty project file, made once: that is most of what a small test would do."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "empty.gpkg"
        Project.create(path, Holding("Invented holding", crs=crs)).close()
        return path.read_bytes()


def new(folder: Path, name: str = "holding", crs: str = "EPSG:27700") -> Project:
    path = folder / f"{name}.gpkg"
    path.write_bytes(_empty(crs))
    return Project.open(path)


def add_text(project: Project, name: str, text: str, **more: object) -> Added:
    path = project.path.parent / name
    path.write_text(text, "utf-8")
    return add_to_project(project, path, **more)  # type: ignore[arg-type]


def full(folder: Path, name: str = "full", crs: str = "EPSG:27700") -> Project:
    """Return a project with something in every table."""
    project = new(folder, name, crs)
    add_text(project, "stations.csv", STATIONS, taken_on=date(2024, 9, 1), who="Ada")
    add_text(project, "limbs.csv", LIMBS, taken_on=date(2024, 9, 2))
    later = LIMBS.replace("180,4.5", "186,4.75").replace("Kiln Piece,1,3,1,2,80,2,60,50,\n", "")
    add_text(project, "limbs.csv", later, taken_on=date(2026, 9, 2), who="Wyn")
    add_text(project, "shoots.csv", SHOOTS, taken_on=date(2026, 1, 9))
    add_text(project, "segments.csv", SEGMENTS, taken_on=date(2025, 2, 1))
    for kind, text in RECORDS.items():
        add_text(project, f"{kind}.csv", text)
    ring = ((365760.0, 233610.0), (365800.0, 233610.0), (365800.0, 233640.0), (365760.0, 233640.0))
    hole = ((365770.0, 233630.0), (365774.0, 233630.0), (365774.0, 233634.0))
    rings = [[*ring, ring[0]], [*hole, hole[0]]]
    told: dict[str, object] = {"orchard": "Kiln Piece", "grazed_by": "sheep", "rings": rings}
    project.put("orchards", [told | {"people_below": True, "access": "by the ford"}])
    return project


def cleared(project: Project) -> Project:
    """Return a project with its stations and all that hangs on them taken out."""
    for table in (*TABLES, "surveys", "walks"):
        key = table_spec(table).key
        project.remove(table, [tuple(row[k] for k in key) for row in project.rows(table)])
    return project


def told(project: Project, tables: Iterable[str] = TABLES) -> dict[str, list[dict[str, object]]]:
    """Return what a project says, numbers of surveys and the files they came from aside."""
    days = {s["survey"]: (s["taken_on"], s["who"]) for s in project.rows("surveys")}
    found = {}
    for table in tables:
        rows = []
        for row in project.rows(table):
            kept = {k: v for k, v in row.items() if k not in ("survey", "file", "row", "number")}
            kept = {k: v for k, v in kept.items() if v not in (None, "", {}, False)}
            kept |= {"file": row["file"]} if table == "photos" else {}
            if "survey" in row:
                kept["day"] = days[row["survey"]]
            rows.append(kept)
        found[table] = sorted(rows, key=repr)
    return found
