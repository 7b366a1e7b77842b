"""All checks on a record, in order."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from extract.check.accepted import with_acceptances
from extract.check.cleanouts import check_cleanouts
from extract.check.cover import check_cover
from extract.check.depths import check_depths
from extract.check.design import check_design
from extract.check.evidence import Photo, check_evidence
from extract.check.falls import accounts_of
from extract.check.fit import check_fit
from extract.check.flow import capacities_of, check_flow
from extract.check.geometry import check_geometry
from extract.check.hydraulics import check_hydraulics
from extract.check.level_checks import check_levels
from extract.check.levels import heights, reduce_levels
from extract.check.network import check_network, network_of
from extract.check.places import check_places
from extract.check.policy import load_policy
from extract.check.runoff import Storm, areas_of
from extract.check.safety import check_safety
from extract.check.saying import in_place
from extract.check.slopes import check_slopes
from extract.check.ties import check_ties
from extract.record import Area, Finding, Note, Record

__all__ = ["check", "check_figures"]


def check(
    record: Record,
    overrides: Mapping[str, float] | None = None,
    *,
    storm: Storm | None = None,
    areas: Mapping[str, Sequence[Area]] | None = None,
    photos: Sequence[Photo] | None = None,
    notes: Sequence[Note] | None = None,
) -> list[Finding]:
    """All findings on a record, `ok` ones too, room by room.

    `overrides` replaces limits of policy.toml by name, in their own units; a name that is not there, or a value that
    cannot be a limit, raises UsageError. `storm` is what the drains are to carry. `areas` are those given
    for the job by structure label; they stand in place of the ones said of the same structure. Where `photos` are
    given, what the book lacks of each thing built is told too; with None nobody knows which photos there are, and
    nothing is said of them. `notes` are what the record was made from: words that call for a caution are looked for in
    them, else in what the record quotes.
    """
    policy = load_policy(overrides)
    readings = reduce_levels(record, policy)
    points = heights(record, readings, policy)
    runs = [accounts_of(run, points, policy) for run in record.runs if in_place(run)]
    network, capacities = network_of(record), capacities_of(runs)
    found = [
        *check_levels(record, policy, readings, points),
        *check_geometry(record, policy),
        *check_slopes(runs, record.issues),
        *check_hydraulics(runs),
        *check_flow(record, runs, network, capacities),
        *check_design(areas_of(record, areas), storm, runs, network, capacities, policy),
        *check_network(record, network, policy, points),
        *check_fit(record, policy),
        *check_cleanouts(record, policy),
        *check_cover(record, points, policy),
        *check_depths(record, points, policy),
        *check_ties(record, policy, photos or ()),
        *check_safety(record, points, policy, notes),
        *(check_evidence(record, points, photos) if photos is not None else []),
        *(check_places(record, photos, policy) if photos else []),
    ]
    return with_acceptances(record, found) if record.acceptances else found


def check_figures(record: Record) -> list[Finding]:
    """The findings in which two of the crew's own figures meet: levels, drops and slopes, by the shipped limits."""
    policy = load_policy()
    readings = reduce_levels(record, policy)
    points = heights(record, readings, policy)
    runs = [accounts_of(run, points, policy) for run in record.runs if in_place(run)]
    return [*check_levels(record, policy, readings, points), *check_slopes(runs)]
