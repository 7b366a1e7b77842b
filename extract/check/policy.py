"""The limits that findings are held against, each with its unit and source, from policy.toml."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from functools import lru_cache
from importlib.resources import files
from typing import Literal, NamedTuple

from pydantic import ConfigDict

from extract.errors import UsageError
from extract.record import Model

LARGEST = 10_000.0
"""No limit of a yard drain is larger, in any unit used here; a bigger override is a slip of the finger."""


class Limit(Model):
    """One entry of policy.toml; its head explains the fields."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    value: float
    unit: str
    source: str
    edition: str | None = None
    section: str | None = None
    mark: Literal["seen", "from memory", "common practice"]
    why: str
    least: float = 0.0
    """A firm's own value may not be smaller."""
    most: float = LARGEST
    """Nor larger."""

    def citation(self) -> str:
        """The source in one line: standard, edition, section, and whether it is from memory."""
        parts = [self.source, self.edition, self.section, "from memory" if self.mark == "from memory" else None]
        return ", ".join(part for part in parts if part)


class Policy:
    """The limits in force: `policy["drop_in"]` is a value, `policy.source("drop_in")` where it comes from."""

    def __init__(self, limits: Mapping[str, Limit]) -> None:
        self.limits = dict(limits)
        self._lines: dict[tuple[str, ...], str] = {}

    def __getitem__(self, name: str) -> float:
        return self.limits[name].value

    def source(self, *names: str) -> str:
        """The sources of those limits in one line, each said once."""
        if names not in self._lines:  # every run asks for the same few
            self._lines[names] = "; ".join(dict.fromkeys(self.limits[name].citation() for name in names))
        return self._lines[names]


class Override(NamedTuple):
    """A limit that a firm set itself: its name in policy.toml, the firm's value, and the limit as shipped."""

    name: str
    value: float
    shipped: Limit


def overridden(overrides: Mapping[str, float]) -> list[Override]:
    """The firm's own limits in the order of policy.toml, each beside what it stands in place of, in the same unit.

    Raises UsageError as `load_policy` does.
    """
    in_force, shipped = load_policy(overrides), _shipped()
    return [Override(name, in_force[name], limit) for name, limit in shipped.items() if name in overrides]


def load_policy(overrides: Mapping[str, float] | None = None) -> Policy:
    """The shipped limits, with a firm's own values (name -> value, in the same unit) in their place.

    Raises UsageError for a name that policy.toml does not have, and for a value that is no number from the limit's
    `least` (0, for most of them) to its `most` (10,000).
    """
    limits = dict(_shipped())
    for name, value in (overrides or {}).items():
        if name not in limits:
            near = difflib.get_close_matches(name, limits) or sorted(limits)
            raise UsageError(f"policy has no limit named {name!r}; there is {', '.join(near)}")
        least, most = limits[name].least, limits[name].most
        if not isinstance(value, int | float) or isinstance(value, bool) or not least <= value <= most:
            raise UsageError(f"policy limit {name} is {value!r}; give a number from {least:g} to {most:,g}")
        own = {"value": float(value), "source": "company policy", "edition": None, "section": None}
        limits[name] = limits[name].model_copy(update=own | {"mark": "common practice"})
    return Policy(limits)


@lru_cache(maxsize=1)
def _shipped() -> dict[str, Limit]:
    table = tomllib.loads(files("extract.check").joinpath("policy.toml").read_text(encoding="utf-8"))
    return {name: Limit.model_validate(entry) for name, entry in table.items()}
