"""An invented holding of old and young trees, to try everything on."""

from limbwright.demo.fill import fill_project
from limbwright.demo.holding import InventedHolding, make_holding
from limbwright.demo.tables import write_holding
from limbwright.demo.weather import make_weather, write_weather

__all__ = [
    "InventedHolding",
    "fill_project",
    "make_holding",
    "make_weather",
    "write_holding",
    "write_weather",
]
