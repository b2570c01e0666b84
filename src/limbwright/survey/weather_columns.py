"""The columns of a weather table."""

__all__ = ["DAILY_COLUMNS", "HOURLY_COLUMNS", "WEATHER_COLUMNS"]

HOURLY_COLUMNS = ("time", "temperature_c", "wet", "rain_mm", "humidity_pct")
DAILY_COLUMNS = ("date", "temperature_min_c", "temperature_max_c", "wet_hours")
WEATHER_COLUMNS = (*HOURLY_COLUMNS, *DAILY_COLUMNS)
