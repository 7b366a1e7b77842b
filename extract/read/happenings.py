"""Issues, tests, tasks, decisions and changes of plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from extract.read.labels import NO_FACT
from extract.read.levels import Levels
from extract.read.readings import Reading
from extract.read.words import SENTENCE, sentence_around
from extract.record import Decision, Departure, Issue, Note, Task, Test

FEWEST = 5
"""Words of a change of plan: fewer only announce it."""
MOST = 40
"""Words of a sentence that an issue is told by: talk without a stop runs on into other things."""
OF_TEST = ("duration_s", "flow_gpm", "result")
HAPPENINGS = ("issue", "test", "task", "decision", "change")


class Happenings(Levels):
    """Puts what happened."""

    def _entry(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        witness = self._witness(note, one)
        words = _words(note, one, readings)
        name: Any = one.name
        if not one.name:
            return
        if one.what == "task":
            inside = [each for each in readings if one.start <= each.start and each.end <= one.end]
            item = next((note.text[each.start : each.end] for each in inside if each.what == "item"), None)
            count = next((each.quantity.value for each in inside if each.what == "count" and each.quantity), None)
            self.tasks.append(Task(kind=name, text=words, item=item, count=count, evidence=[witness]))
            return
        if (
            one.what not in ("issue", "test", "decision")
            or not one.thing
            or {"denied", "asked", "hypothetical"} & one.standing
        ):
            return
        begun, start = _begun(note, one, readings), one.start
        if begun and begun.thing in self.entries:
            self.same[one.thing] = self.same.get(begun.thing, begun.thing)
            start, words = begun.start, note.text[begun.start : one.end]
        elif one.what == "test" and one.thing not in self.entries:
            self.same[one.thing] = self._known_test(one, readings)
        entry = self.entries.get(self.same.get(one.thing, one.thing))
        if entry is None:
            if one.what == "issue":
                entry = Issue(kind=name, text=_uncut(note.text, start, words))
            elif one.what == "test":
                entry = Test(kind=name)
            else:
                entry = Decision(text=words, state=name)
            self.entries[one.thing] = entry
        elif begun and isinstance(entry, Issue):
            entry.text = _uncut(note.text, start, words)
        elif isinstance(entry, Decision):
            entry.state, entry.text = one.name, words  # type: ignore[assignment]
        if isinstance(entry, Issue | Test) and one.at and not entry.at:
            entry.at = one.at
        entry.evidence.append(witness)

    def _known_test(self, one: Reading, readings: Sequence[Reading]) -> str:
        """The test of that kind and place that was only named so far, or of which a figure was heard badly: told again,
        it is the same. Else itself."""
        for name, entry in self.entries.items():
            if not isinstance(entry, Test) or (entry.kind, entry.at) != (one.name, one.at or entry.at):
                continue
            told = entry.result is not None or bool(self.tested.get(name))
            told = told or any(each.thing == name and each.what in OF_TEST for each in readings)
            if not told or any(self._misheard(one, name, what) for what in ("duration_s", "flow_gpm")):
                return name
        return one.thing

    def _measured(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        """How long a test took, and how much water it was."""
        name = self.same.get(one.thing, one.thing)
        entry = self.entries.get(name)
        if "planned" in one.standing and not isinstance(entry, Test):
            self.numbers.went(one, "not_fact", "", one.what)
            return
        if NO_FACT & one.standing or self._less_cautious(note, one, readings):
            return
        if not isinstance(entry, Test):  # nobody said of which
            self._may_stand(note, one, "", one.what, self._worth(note, one))
            return
        put = self._stands(note, one, one.what, self._worth(note, one), self.tested.setdefault(name, {}), name)
        if put:
            setattr(entry, one.what, put.value)
            entry.evidence.append(put.witness)

    def _told(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        entry = self.entries.get(self.same.get(one.thing, one.thing))
        if NO_FACT & one.standing:
            return
        if one.what == "action" and isinstance(entry, Issue):
            entry.action = one.name  # type: ignore[assignment]
            entry.evidence.append(self._witness(note, one, "action"))
        elif one.what == "result" and isinstance(entry, Test):
            entry.result = one.name  # type: ignore[assignment]
            entry.evidence.append(self._witness(note, one, "result"))

    def _change(self, note: Note, one: Reading, readings: Sequence[Reading]) -> None:
        if not NO_FACT & one.standing:
            text = _whole(note.text, one.start, _words(note, one, readings))
            self.changes.append((one.at, Departure(text=text, evidence=[self._witness(note, one)])))


def _words(note: Note, one: Reading, readings: Sequence[Reading]) -> str:
    """The words of what happened, with the whole name of a thing that they end in or of the place right behind."""
    names = [each for each in readings if each.what == "mention" and one.start <= each.start]
    here = [each for each in names if each.start < one.end]
    here += [each for each in names if each.thing and each.thing == one.at and each.start <= one.end + 1]
    return note.text[one.start : max([one.end, *(each.end for each in here)])]


def _whole(text: str, start: int, words: str) -> str:
    """Words that begin at `start`, to the end of their sentence; and of the next one, where they only announce it:
    "Change of plan."."""
    end = start + len(words.rstrip(" .!?;"))
    for _ in range(2):
        stop = SENTENCE.search(text, end)
        end = stop.start() + 1 if stop else len(text)
        if len(text[start:end].split()) >= FEWEST:
            break
    return text[start:end].strip()


def _uncut(text: str, start: int, words: str) -> str:
    """Words that begin at `start`, with the rest of the sentences that they stand in, without the last stop. Where
    those run on and on it is the words alone, and `…` says where they were taken out."""
    end = start + len(words.rstrip(" .!?;"))
    first, _ = sentence_around(text, start)
    stop = SENTENCE.search(text, end)
    last = stop.start() if stop else len(text)
    if len(text[first:last].split()) <= MOST:
        return text[first:last].strip()
    before, behind = (bool(cut.strip()) for cut in (text[first:start], text[end:last]))
    return f"{'… ' * before}{text[start:end]}{' …' * behind}"


def _begun(note: Note, one: Reading, readings: Sequence[Reading]) -> Reading | None:
    """The reading that one goes on from: one issue or test read as two spans, with no word between."""
    alike = [each for each in readings if (each.what, each.name) == (one.what, one.name) and each.end <= one.start]
    last = alike[-1] if alike and one.what in ("issue", "test") else None
    return last if last and not note.text[last.end : one.start].strip() else None
