"""An invented holding of old trees, to try everything on."""

from limbwright.demo.holding import Holding, make_holding, write_holding
from limbwright.demo.weather import make_weather, write_weather

__all__ = ["Holding", "make_holding", "make_weather", "write_holding", "write_weather"]
