"""What pipe measures: outside and inside diameter, wall and stiffness by family and nominal size, from pipes.toml."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Literal, NamedTuple

from pydantic import ConfigDict

from extract.record import Model, Pipe


class Dimension(Model):
    """One dimension with where it was read and whether it was seen there."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    value: float
    source: str
    mark: Literal["seen", "from memory"]

    def citation(self) -> str:
        """The source in one line, saying so where it is from memory."""
        return f"{self.source}, from memory" if self.mark == "from memory" else self.source


class PipeSize(Model):
    """One nominal size of one family; what is not known is None. The head of pipes.toml explains the fields."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    family: Pipe
    nominal_in: float
    od_in: Dimension | None = None
    min_wall_in: Dimension | None = None
    average_id_in: Dimension | None = None
    stiffness_psi: Dimension | None = None

    @property
    def implied_id_in(self) -> float | None:
        """Outside diameter less two least walls, inches: an upper bound of the bore. None where either is unknown."""
        if self.od_in is None or self.min_wall_in is None:
            return None
        return round(self.od_in.value - 2 * self.min_wall_in.value, 6)


class Bore(NamedTuple):
    """The inside diameter that flow is worked out with, inches, what it is, and its source."""

    inside_in: float
    basis: str
    source: str
    upper: bool = False
    """True where the real one is no larger: walls run over the least that the standard allows."""


def pipe_size(family: Pipe, nominal_in: float) -> PipeSize | None:
    """Dimensions of a family's pipe of that nominal size [in]; None for a size that pipes.toml does not list."""
    return _sizes().get((family, nominal_in))


@lru_cache(maxsize=64)
def bore(family: Pipe, nominal_in: float) -> Bore:
    """The inside diameter [in]: printed average where known, else implied by the least wall, else the nominal size."""
    size = pipe_size(family, nominal_in)
    if size is not None and size.average_id_in is not None:
        return Bore(size.average_id_in.value, "average inside diameter", size.average_id_in.citation())
    if size is not None and size.od_in is not None and size.min_wall_in is not None and size.implied_id_in is not None:
        sources = dict.fromkeys((size.od_in.citation(), size.min_wall_in.citation()))
        return Bore(size.implied_id_in, "largest inside diameter the standard allows", "; ".join(sources), upper=True)
    return Bore(nominal_in, "nominal size, as its inside diameter is not listed", "common practice")


@lru_cache(maxsize=1)
def _sizes() -> dict[tuple[Pipe, float], PipeSize]:
    """Every size listed, with the short names of sources written out."""
    table = tomllib.loads(files("extract.check").joinpath("pipes.toml").read_text(encoding="utf-8"))
    sizes = [PipeSize.model_validate(_with_source(entry, table["sources"])) for entry in table["pipe"]]
    return {(size.family, size.nominal_in): size for size in sizes}


def _with_source(entry: dict[str, object], sources: dict[str, str]) -> dict[str, object]:
    return {
        field: value | {"source": sources[value["source"]]} if isinstance(value, dict) else value
        for field, value in entry.items()
    }
