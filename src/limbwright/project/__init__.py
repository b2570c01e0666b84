"""The project file: a holding over the years in one GeoPackage."""

from limbwright.project.store import Change, Counts, Project

__all__ = ["Change", "Counts", "Project"]
