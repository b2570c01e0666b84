"""An invented holding of old trees, to try everything on."""

from limbwright.demo.holding import Holding, make_holding, write_holding

__all__ = ["Holding", "make_holding", "write_holding"]
