"""The project file: a holding over the years in one GeoPackage."""
