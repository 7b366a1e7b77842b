"""The check module: a record computed again, and what a foreman should know about it.

Pure functions over the record. Rooms by meaning: `levels` and `level_checks` (rods to elevations), `geometry`
(lengths), `falls` and `slopes` (drop, length and slope against each other), `hydraulics` (least slope), `network` (what
runs to what), `flow` (what each run carries) and `design` (what a storm brings it), which work with `manning`,
`circle`, `pipes`, `runoff`, `inlets` and `plumbing`; `fit` (what joins what), `cleanouts` (whether it can be rodded),
`cover` (what it must bear), `depths` (the cover that its ends allow), `evidence` (what must be in the book before the
ground closes), `accepted` (failed checks that a person answered); `places` (how far apart its photos were taken) with
`traverse` (legs, bends and closure), `safety` (what can hurt somebody); `saying` (names and numbers in words); limits
in `policy.toml`.
Nothing here raises on a bad record: a value that is missing or no measurement makes a finding `unknown`, one that
cannot be makes it `fail`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from extract.check.whole import check, check_figures

__all__ = ["check", "check_figures"]


def __getattr__(name: str) -> Any:
    """Loaded when they are asked for: whoever needs one room of this package alone does not wait for all of them."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from extract.check import whole

    return getattr(whole, name)
