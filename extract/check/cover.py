"""What goes over pipe and grates: cover against the traffic said, pipe too weak for it, the class of grate to look for.

Only where traffic was said; a record that says nothing of it gets no finding. None of it is a design: the maker's own
rating, and a licensed engineer where there is doubt, come first.
"""

from __future__ import annotations

import math
import tomllib
from functools import lru_cache
from importlib.resources import files

from extract.check.depths import least_by_ends
from extract.check.levels import Height
from extract.check.pipes import pipe_size
from extract.check.policy import Policy
from extract.check.saying import evidence, finding, in_place, inches, known, name
from extract.record import Evidence, Finding, Model, Outcome, Record, Run, Structure, Traffic

LBF_PER_KN = 224.8089
"""Pounds-force in a kilonewton: 1 lbf is 4.4482216 N, by the definitions of the pound and of standard gravity."""
GOES_OVER: dict[Traffic, str] = {
    "foot": "only feet go over it",
    "cart": "carts go over it",
    "car": "cars go over it",
    "truck": "trucks go over it",
}
VEHICLES = frozenset({"car", "truck"})
GRATES = frozenset({"channel_drain", "catch_basin", "area_drain", "junction_box", "cleanout"})


class LoadClass(Model):
    """A class of grate or cover: its name, test load [kN], typical place, and the traffic it is looked for under."""

    name: str
    kn: float
    place: str
    traffic: list[Traffic]

    @property
    def lbf(self) -> float:
        """The test load in pounds-force."""
        return self.kn * LBF_PER_KN


class Truck(Model):
    """The H20 truck: axles [lbf], their spacing [ft], and the patch [in] that one rear wheel stands on."""

    front_axle_lbf: float
    rear_axle_lbf: float
    axle_spacing_ft: float
    tire_in: tuple[float, float]

    @property
    def wheel_lbf(self) -> float:
        """Half of the rear axle, pounds-force."""
        return self.rear_axle_lbf / 2

    @property
    def tire_psi(self) -> float:
        """That wheel over its patch, pounds-force a square inch."""
        return self.wheel_lbf / (self.tire_in[0] * self.tire_in[1])


class Loads(Model):
    """All of loads.toml."""

    source: dict[str, str]
    classes: list[LoadClass]
    h20: Truck


@lru_cache(maxsize=1)
def loads() -> Loads:
    """The load classes and the truck, from loads.toml."""
    table = tomllib.loads(files("extract.check").joinpath("loads.toml").read_text(encoding="utf-8"))
    return Loads(source=table["source"], classes=table["class"], h20=table["h20"])


def load_class(traffic: Traffic) -> LoadClass:
    """The class of grate to look for under that traffic. Source: EN 124 and EN 1433, typical places (seen)."""
    return next(each for each in loads().classes if traffic in each.traffic)


def least_cover(run: Run) -> str | None:
    """Name of the policy limit for the cover of a run, by its traffic and family; None where nothing asks for any."""
    if run.traffic in (None, "foot"):
        return None
    if run.traffic == "cart":
        return "cover_cart_in"
    return "cover_dual_wall_vehicles_in" if run.pipe == "dual-wall" else f"cover_{run.traffic}_in"


def check_cover(record: Record, points: dict[str, Height], policy: Policy) -> list[Finding]:
    """Of every run and grate in place whose traffic was said: cover, a pipe too weak for it, the class of grate.

    The cover judged by is the one said, or what the rims and inverts at the run's ends leave where that is less.
    """
    structures = {each.label: each for each in record.structures}
    runs = [run for run in record.runs if in_place(run) and run.traffic is not None]
    grates = [each for each in record.structures if in_place(each) and each.kind in GRATES]
    return [
        *(
            item
            for run in runs
            for item in (*_cover(run, least_by_ends(run, points, structures, policy), policy), *_weak(run))
        ),
        *(item for each in grates for item in _grate(each)),
    ]


def _cover(run: Run, by_ends: tuple[float, list[Evidence]] | None, policy: Policy) -> list[Finding]:
    limit_name = least_cover(run)
    if limit_name is None or run.traffic is None:
        return []
    limit, cover, over = policy[limit_name], known(run.cover_in), GOES_OVER[run.traffic]
    words = evidence(run, "cover_in", "traffic")
    most, seen = by_ends or (math.inf, [])
    told = f"has {inches(cover or 0.0)} of cover at the least"
    if most < min(limit, math.inf if cover is None else cover):
        amount = f"no more than {inches(most)} of cover" if most > 0 else "no cover"
        told = f"has {amount} by the rims and inverts at its ends"
        cover, words = max(0.0, most), [*words, *seen]
    if cover is None:
        message = f"{name(run.label)}: {over}, and no cover was said to hold against the {inches(limit)} asked for."
        return [finding("cover", run.label, "unknown", message, limit=limit, unit="in", evidence=words)]
    outcome, end = _verdict(run, cover, limit, policy)
    return [
        finding(
            "cover",
            run.label,
            outcome,
            f"{name(run.label)} {told} and {over}; {end}.",
            stated=known(run.cover_in),
            computed=None if cover == known(run.cover_in) else cover,
            limit=limit,
            unit="in",
            source=policy.source(*dict.fromkeys((limit_name, "cover_floor_in"))),
            evidence=words,
        )
    ]


def _verdict(run: Run, cover: float, limit: float, policy: Policy) -> tuple[Outcome, str]:
    floor = policy["cover_floor_in"]
    family = ""
    if run.pipe == "dual-wall" and run.traffic in VEHICLES:
        family = " over dual-wall pipe in good embedment, well compacted, if its maker's table has no more"
    asked = f"{inches(limit)} is asked for{family}"
    if cover >= limit - 1e-9:
        return "ok", asked
    if run.traffic in VEHICLES and cover < floor - 1e-9:
        return "fail", f"{asked}, and under vehicles never less than {inches(floor)}"
    by = ", or whoever has a say over the drive" if run.traffic in VEHICLES else ""
    return "attention", f"{asked}, so ask the maker of the pipe{by}"


def _weak(run: Run) -> list[Finding]:
    """D2729 goes into the same fittings as SDR 35 and holds a fraction of it."""
    size = known(run.nominal_in)
    if run.traffic is None or run.traffic not in VEHICLES or run.pipe != "D2729":
        return []
    own, other = (pipe_size(family, size or 0.0) for family in ("D2729", "SDR 35"))
    stiff = [each.stiffness_psi for each in (own, other) if each and each.stiffness_psi]
    message = f"{name(run.label)} is D2729 and {GOES_OVER[run.traffic]}: it goes into the same fittings as SDR 35"
    if len(stiff) == 2:
        message += f" but has a stiffness of {stiff[0].value:g} psi against {stiff[1].value:g}"
    else:
        message += " but is much the weaker pipe"
    source = "; ".join(each.citation() for each in stiff) or "common practice"
    computed, limit = (stiff[0].value, stiff[1].value) if len(stiff) == 2 else (None, None)
    return [
        finding(
            "load",
            run.label,
            "attention",
            f"{message}; it is not the pipe for vehicles.",
            computed=computed,
            limit=limit,
            unit="psi",
            source=source,
            evidence=evidence(run, "pipe", "traffic"),
        )
    ]


def _grate(structure: Structure) -> list[Finding]:
    if structure.traffic is None or structure.traffic == "foot":
        return []
    asked, table = load_class(structure.traffic), loads()
    message = (
        f"{name(structure.label)}: {GOES_OVER[structure.traffic]}; look for class {asked.name} on its grate and frame "
        f"({asked.kn:g} kilonewtons, for {asked.place})"
    )
    sources = [table.source["en"]]
    if structure.traffic == "truck":
        message += f" or an H-20 rating (a wheel of {table.h20.wheel_lbf:,.0f} pounds)"
        sources.append(table.source["h20"])
    words = evidence(structure, "traffic")
    message += "; the book does not hold what was put in."
    return [finding("load", structure.label, "attention", message, source="; ".join(sources), evidence=words)]
