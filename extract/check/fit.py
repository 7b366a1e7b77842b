"""What joins what: outside diameters of pipes that meet, and the fitting that must stand where they differ.

A basin or box takes each pipe through its own wall, so pipes that meet there need not go into each other. Pipes that
meet at a cleanout, or where a run is said to end at another run, do.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from extract.check.pipes import PipeSize, pipe_size
from extract.check.policy import Policy
from extract.check.saying import evidence, finding, in_place, known, listed, name
from extract.record import Finding, Fitting, Outcome, Pipe, Record, Run

CORRUGATED = frozenset({"corrugated", "dual-wall"})
"""Made to an inside diameter, with no smooth outside: no socket for smooth pipe goes over them."""
CHANGES = frozenset({"adapter", "reducer", "increaser"})
BODY = frozenset({"elbow", "long_sweep", "coupling", "wye", "tee"})
"""Fittings whose size is that of the pipe on both sides. Caps, sleeves and valves may have their own."""


MOST = 100
"""Fittings of one kind in one run; more are a slip, and one is enough for a joint."""


class Mating(NamedTuple):
    """Whether one pipe goes where the other does."""

    mates: bool
    why: str
    """`both are 4.215 inches outside`."""
    source: str


def mating(first: Pipe, first_in: float, second: Pipe, second_in: float, policy: Policy) -> Mating | None:
    """Whether two pipes of these families and nominal sizes [in] go into the same fitting by their outside diameters.

    Corrugated pipe never mates with smooth pipe, and only with its own kind and size. None for a size that pipes.toml
    does not list. Source: outside diameters of pipes.toml.
    """
    sizes = pipe_size(first, first_in), pipe_size(second, second_in)
    if {first, second} & CORRUGATED:
        same = (first, first_in) == (second, second_in)
        why = "corrugated pipe goes only into couplers of its own kind and size"
        return Mating(same, why, _source(*sizes) or "common practice")
    one, other = (size.od_in.value if size and size.od_in else None for size in sizes)
    if one is None or other is None:
        return None
    mates = abs(one - other) <= policy["outside_diameter_in"] + 1e-9
    why = f"both are {one:g} inches outside" if one == other else f"{one:g} against {other:g} inches outside"
    return Mating(mates, why, _source(*sizes))


def _source(*sizes: PipeSize | None) -> str:
    return "; ".join(dict.fromkeys(size.od_in.citation() for size in sizes if size and size.od_in))


def check_fit(record: Record, policy: Policy) -> list[Finding]:
    """Each joint of pipe to pipe, each run with fittings of another size, each pop-up on pipe of another size."""
    runs = [run for run in record.runs if in_place(run)]
    spare = {id(run): _changes(run) for run in runs}
    findings = [item for upper, lower in _joints(record, runs) for item in _joint(upper, lower, spare, policy)]
    findings += [item for run in runs for item in _own_fittings(run)]
    return findings + _pop_ups(record, runs)


# -- pipe to pipe


def _joints(record: Record, runs: list[Run]) -> Iterator[tuple[Run, Run]]:
    """Every two runs that meet pipe to pipe, upper first; where many meet, each with the first that goes on."""
    onward = {run.label: run for run in runs}
    cleanouts = {each.label for each in record.structures if each.kind == "cleanout"}
    for run in runs:
        if run.from_ in cleanouts:
            onward.setdefault(run.from_ or "", run)
    for run in runs:
        lower = onward.get(run.to or "")
        if lower is not None and lower is not run:
            yield run, lower


def _changes(run: Run) -> list[Fitting]:
    """The fittings of a run that join it to other pipe, each as often as it was counted."""
    return [each for each in run.fittings if each.kind in CHANGES for _ in range(min(max(each.count, 0), MOST))]


def _joint(upper: Run, lower: Run, spare: dict[int, list[Fitting]], policy: Policy) -> list[Finding]:
    sizes = known(upper.nominal_in), known(lower.nominal_in)
    if upper.pipe is None or lower.pipe is None or sizes[0] is None or sizes[1] is None:
        return []
    found = mating(upper.pipe, sizes[0], lower.pipe, sizes[1], policy)
    if found is None:
        return []
    meet = f"{_pipe(upper)} meets {_pipe(lower).removesuffix(',')}: {found.why}"
    used = None if found.mates else _use(upper, lower, spare)
    outcome, end = _verdict(found.mates, used, [*upper.fittings, *lower.fittings])
    if found.mates and upper.pipe != lower.pipe:
        end = f"they go together{_stiffness(upper, lower)}"
    words = evidence(upper, "pipe", "nominal_in", "fittings") + evidence(lower, "pipe", "nominal_in", "fittings")
    return [finding("fit", lower.label, outcome, f"{meet}; {end}.", source=found.source, evidence=words)]


def _use(upper: Run, lower: Run, spare: dict[int, list[Fitting]]) -> str | None:
    """Take a fitting that joins the two from those counted in them, so that none is counted for two joints."""
    first, then = upper.nominal_in or 0.0, lower.nominal_in or 0.0
    kinds = ["adapter"] if first == then else ["reducer" if first > then else "increaser", "adapter"]
    for kind in kinds:
        for run in (upper, lower):  # the upper run has no joint further down that could need it
            for each in spare[id(run)]:
                if each.kind == kind and {each.nominal_in, each.to_nominal_in} <= {first, then, None}:
                    spare[id(run)].remove(each)
                    return kind
    return None


def _verdict(mates: bool, used: str | None, fittings: list[Fitting]) -> tuple[Outcome, str]:
    if mates:
        return "ok", "they go together"
    if used is not None:
        return "ok", f"{_a(used)} was counted for it"
    if any(fitting.kind == "coupling" for fitting in fittings):
        return "attention", "a coupling was counted, and nobody said that it is one made for the two"
    return "attention", "no adapter or transition coupling between them was said"


def _stiffness(upper: Run, lower: Run) -> str:
    """Two pipes of one outside diameter are not two of one strength."""
    psi = [_psi(run) for run in (upper, lower)]
    if None in psi or psi[0] == psi[1]:
        return ""
    return f", but they are not of one strength: {upper.pipe} holds {psi[0]:g} psi and {lower.pipe} {psi[1]:g}"


def _psi(run: Run) -> float | None:
    size = pipe_size(run.pipe, run.nominal_in) if run.pipe and run.nominal_in else None
    return size.stiffness_psi.value if size and size.stiffness_psi else None


def _pipe(run: Run) -> str:
    return f"{name(run.label)}, {run.nominal_in:g} inch {run.pipe},"


def _a(kind: str) -> str:
    return f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


# -- sizes along one run


def _own_fittings(run: Run) -> list[Finding]:
    """Fittings of another size than the run's own pipe, where none among them changes the size."""
    size = known(run.nominal_in)
    if size is None or any(_changes_size(fitting) for fitting in run.fittings):
        return []
    others = [each for each in run.fittings if each.kind in BODY and known(each.nominal_in) not in (None, size)]
    if not others:
        return []
    odd = listed(dict.fromkeys(f"a {each.nominal_in:g} inch {each.kind.replace('_', ' ')}" for each in others))
    message = f"{name(run.label)} is {size:g} inch pipe with {odd} in it, and no reducer or increaser was said."
    return [finding("fit", run.label, "attention", message, evidence=evidence(run, "fittings", "nominal_in"))]


def _changes_size(fitting: Fitting) -> bool:
    return fitting.kind in CHANGES or fitting.to_nominal_in is not None


def _pop_ups(record: Record, runs: list[Run]) -> list[Finding]:
    """Pop-ups, which sit on the pipe itself, against the size of the pipe into them."""
    sizes = {each.label: each for each in record.structures if each.kind == "popup_outlet" and in_place(each)}
    findings = []
    for run in runs:
        pop_up, pipe = sizes.get(run.to or ""), known(run.nominal_in)
        size = known(pop_up.size_in[0]) if pop_up and pop_up.size_in else None
        if pop_up is None or pipe is None or size in (None, pipe) or any(map(_changes_size, run.fittings)):
            continue
        start = f"{name(run.label)} is {pipe:g} inch and {name(pop_up.label)} is {size:g} inch"
        words = evidence(run, "nominal_in") + evidence(pop_up, "size_in")
        message = f"{start}; no reducer or increaser between them was said."
        findings.append(finding("fit", run.label, "attention", message, evidence=words))
    return findings
