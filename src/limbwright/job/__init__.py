"""The whole job on a whole survey: open, assess, plan, write out, tree by tree."""

from limbwright.job.open import open_trees
from limbwright.job.opened import Opened
from limbwright.job.order import Order, parse_wishes
from limbwright.job.season import next_season
from limbwright.job.work import Done, assessed_to_dict, work_all, work_one

__all__ = [
    "Done",
    "Opened",
    "Order",
    "assessed_to_dict",
    "next_season",
    "open_trees",
    "parse_wishes",
    "work_all",
    "work_one",
]
