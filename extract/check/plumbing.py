"""What plumbing codes allow a storm pipe to carry: the printed table, by edition, and leaders that stand upright."""

from __future__ import annotations

import math
import tomllib
from functools import lru_cache
from importlib.resources import files

from extract.record import Model

LEADER_K = 27.8
"""Wyly and Eaton's factor for water that runs down the wall of an upright pipe, gpm and inches; from memory.

It gives the leader capacities of the 2006 National Standard Plumbing Code, Table 13.6.1 (seen), to 1 gpm.
"""
LEADER_SOURCE = (
    "Wyly and Eaton's formula for stacks, from memory, as in 2006 National Standard Plumbing Code, Table 13.6.1"
)


class StormPipes(Model):
    """A code's table of what storm pipe carries, by nominal size; the head of plumbing.toml explains it."""

    source: str
    edition: str
    section: str
    mark: str
    doubtful_in: list[float]
    falls_in_per_ft: list[float]
    gpm: dict[float, list[float]]
    """Nominal size [in] to capacity [gpm] at each fall."""
    vertical_gpm: dict[float, float]

    def citation(self) -> str:
        return f"{self.source}, {self.edition}, {self.section}, {self.mark}"


@lru_cache(maxsize=1)
def storm_pipes() -> StormPipes:
    """The table as plumbing.toml holds it."""
    table = tomllib.loads(files("extract.check").joinpath("plumbing.toml").read_text(encoding="utf-8"))
    return StormPipes.model_validate(table["storm_pipe"])


def listed_gpm(nominal_in: float, slope_pct: float) -> float | None:
    """What the code's table lists [gpm] for a size [in] at the steepest printed fall that the slope [percent] has.

    None for a size that the table does not hold or that is in doubt, and for a slope under the least one printed.
    """
    table = storm_pipes()
    if nominal_in not in table.gpm or nominal_in in table.doubtful_in:
        return None
    listed = zip(table.falls_in_per_ft, table.gpm[nominal_in], strict=True)
    return max((gpm for fall, gpm in listed if fall / 12 * 100 <= slope_pct + 1e-4), default=None)


def leader_gpm(diameter_in: float, full: float) -> float:
    """Flow [gpm] down an upright pipe of that inside diameter [in] with `full` of its area water, as codes allow.

    Q = 27.8 r^(5/3) D^(8/3). Raises ValueError for a negative diameter and a share outside 0 to 1.
    """
    if not diameter_in >= 0 or not 0 <= full <= 1:
        raise ValueError(f"no leader is {diameter_in} inches and {full} full")
    return LEADER_K * math.pow(full, 5 / 3) * math.pow(diameter_in, 8 / 3)
