"""What a yard can hold, from plausible.toml, and how surely a number must be heard."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib.resources import files
from typing import Any


@lru_cache(maxsize=1)
def limits() -> dict[str, Any]:
    """The ranges a value must lie in, from plausible.toml."""
    return tomllib.loads(files("extract").joinpath("plausible.toml").read_text(encoding="utf-8"))


def plausible(name: str, value: Any) -> bool:
    """Whether a yard could hold that value of that field; fields with no range always pass."""
    bounds = limits()["range"].get(name)
    if bounds is None or isinstance(value, str):
        return True
    values = value if isinstance(value, list) else [value]
    stock = limits()["stock"].get(name)
    if stock:
        stock = [*stock, *(round(each / 25.4, 4) for each in limits()["stock"]["nominal_mm"])]
    if name == "size_in" and len(values) == 2 and values[0] == values[1]:
        bounds = limits()["range"]["square_in"]
    return all(bounds["low"] <= v <= bounds["high"] and (not stock or round(v, 4) in stock) for v in values)
