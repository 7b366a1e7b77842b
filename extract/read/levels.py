"""Rod readings and the elevations said with them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from extract.read.amounts import Amounts
from extract.read.draft import rounded
from extract.read.labels import NO_FACT
from extract.read.readings import Reading
from extract.read.things import Sighted
from extract.record import BENCHMARK, Evidence, Level, Note, Question, Record, Structure


class Levels(Amounts):
    """Puts levels."""

    def _level(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        assert one.quantity is not None
        if NO_FACT & one.standing or not (one.thing or one.side == "benchmark"):
            return
        level, value = self._sighted(one), rounded(self._worth(note, one))
        told_now = any(each.note == one.note for each in level.evidence)
        closes = level.kind == "foresight" and told_now and "corrects" not in one.standing
        if one.what == "elevation_ft" and level.about == "benchmark" and not closes:
            self._stands(note, one, one.what, value, self.benchmark, level.about)
            return
        rods = [each for each in readings if each.what == "rod_ft" and not NO_FACT & each.standing]
        shot = level in self.levels or any((each.thing, each.side) == (one.thing, one.side) for each in rods)
        if one.what == "elevation_ft" and not shot:
            if level.turning:
                return  # it has no field of its own, and is asked about
            self._put(note, one, f"{one.side}_ft", value)
            return
        put = self._stands(note, one, one.what, value, level.fields, level.about)
        if put:
            level.evidence.append(put.witness.model_copy(update={"field": None}))  # rod and elevation: one witness
            if level not in self.levels:
                self.levels.append(level)
            if level.name and not level.turning:
                self._thing(level.name).built = True

    def _sighted(self, one: Reading) -> Sighted:
        """The reading that is meant: of the same point and sight, or the point's last where it is put right."""
        name = "" if one.side == "benchmark" else one.thing
        kind = one.sight or ("foresight" if name else "backsight")
        same = [each for each in self.levels if (each.name, each.side) == (name, one.side)]
        anyhow = {"corrects", "again"} & one.standing or one.what == "elevation_ft"
        same = [each for each in same if anyhow or each.kind == kind]
        return same[-1] if same else Sighted(name, one.side, kind)

    def _enter_levels(self, record: Record, names: dict[str, str]) -> None:
        """Each level; the benchmark's elevation alone comes first, until a backsight on it is read."""
        held = self.benchmark.get("elevation_ft")
        if held and not any(not each.name and each.kind == "backsight" for each in self.levels):
            witness = held.witness.model_copy(update={"field": None})
            record.levels.append(Level(point=BENCHMARK, kind="backsight", elevation_ft=held.value, evidence=[witness]))
            self._ask_for_rod(record, witness)
        for level in self.levels:
            if not level.name or level.turning or level.name in names:
                self._enter_level(record, level, names)

    def _ask_for_rod(self, record: Record, witness: Evidence) -> None:
        if (BENCHMARK, "rod_ft") not in {(about, name) for about, name, _ in self.questions}:
            heard = self.taken[witness.note][0].text
            question = Question(about=BENCHMARK, field="rod_ft", heard=heard, why="missing", evidence=[witness])
            record.questions.append(question)

    def _enter_level(self, record: Record, level: Sighted, names: dict[str, str]) -> None:
        """With no rod an elevation is its structure's alone."""
        point = f"{names.get(level.name, level.name)} {level.side}".strip() if level.name else BENCHMARK
        said = {name: held.value for name, held in level.fields.items()}
        evidence = list(level.evidence)
        mark = self.benchmark.get("elevation_ft")
        if not level.name and level.kind == "backsight" and mark:
            said["elevation_ft"] = mark.value
            evidence += [] if mark.witness in evidence else [mark.witness]
            evidence.sort(key=lambda each: each.note)
        shape: Any = {"point": point, "kind": level.kind, "evidence": evidence} | said
        if "rod_ft" in said:
            record.levels.append(Level(**shape))
        structure, field_ = record.subject(names.get(level.name, "")), f"{level.side}_ft"
        free = isinstance(structure, Structure) and getattr(structure, field_) is None
        if free and "elevation_ft" in said:
            setattr(structure, field_, said["elevation_ft"])
            if "rod_ft" not in said:
                self.numbers.move(level.about, "elevation_ft", (level.name, field_))
