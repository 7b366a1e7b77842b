"""Rod readings and the elevations said with them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from extract.read.amounts import Amounts
from extract.read.draft import rounded
from extract.read.labels import NO_FACT
from extract.read.readings import Reading
from extract.read.things import Sighted
from extract.record import Level, Note, Record, Structure


class Levels(Amounts):
    """Puts levels."""

    def _level(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        assert one.quantity is not None
        if NO_FACT & one.standing or not (one.thing or one.side == "benchmark"):
            return
        level, value = self._sighted(one), rounded(self._worth(note, one))
        if one.what == "elevation_ft" and level.about == "benchmark":
            put = self._stands(note, one, one.what, value, self.benchmark, level.about)
            if put and level not in self.levels:
                self._ask(level.about, "rod_ft", "missing", put.witness, note)
            return
        rods = [each for each in readings if each.what == "rod_ft" and not NO_FACT & each.standing]
        shot = level in self.levels or any((each.thing, each.side) == (one.thing, one.side) for each in rods)
        if one.what == "elevation_ft" and not shot:
            self._put(note, one, f"{one.side}_ft", value)
            return
        put = self._stands(note, one, one.what, value, level.fields, level.about)
        if put:
            level.evidence.append(put.witness)
            if level not in self.levels:
                self.levels.append(level)
            self.questions.pop((level.about, "rod_ft", "missing"), None)
            if level.name:
                self._thing(level.name).built = True

    def _sighted(self, one: Reading) -> Sighted:
        """The reading that is meant: of the same point and sight, or the point's last where it is put right."""
        name = "" if one.side == "benchmark" else one.thing
        kind = one.sight or ("foresight" if name else "backsight")
        same = [each for each in self.levels if (each.name, each.side) == (name, one.side)]
        anyhow = {"corrects", "again"} & one.standing or one.what == "elevation_ft"
        same = [each for each in same if anyhow or each.kind == kind]
        return same[-1] if same else Sighted(name, one.side, kind)

    def _enter_level(self, record: Record, level: Sighted, names: dict[str, str]) -> None:
        point = f"{names[level.name]} {level.side}" if level.name else "benchmark"
        said = {name: held.value for name, held in level.fields.items()}
        if not level.name and level.kind == "backsight" and self.benchmark:
            said["elevation_ft"] = self.benchmark["elevation_ft"].value
        shape: Any = {"point": point, "kind": level.kind, "evidence": level.evidence} | said
        record.levels.append(Level(**shape))
        structure = record.subject(names.get(level.name, ""))
        free = isinstance(structure, Structure) and getattr(structure, f"{level.side}_ft") is None
        if free and "elevation_ft" in said:
            setattr(structure, f"{level.side}_ft", said["elevation_ft"])
