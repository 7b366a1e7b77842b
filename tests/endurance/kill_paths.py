"""The commands that write: what each begins with, how it is typed, and what must hold however it was killed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from kill_begin import (
    ANSWERS,
    JOB,
    NEW,
    NOTE,
    VERSIONS,
    Place,
    lay_backup,
    lay_migrate,
    lay_new,
    lay_repair,
    lay_report,
    lay_restore,
    lay_settle,
    lay_undo,
    lay_unpack,
)
from kill_checks import (
    all_heard,
    all_taken,
    as_before,
    asks,
    backed_up,
    backup_wrong,
    bag_is_there,
    bag_wrong,
    entries,
    half_unpacked,
    job_is_there,
    report_there,
    report_wrong,
    restored,
    settled,
    taken,
    unpacked,
)

from logger.store import Store


@dataclass(frozen=True)
class WritePath:
    """One command that writes: how it is typed, and what must hold of it."""

    args: Callable[[Place], list[str]]
    variants: tuple[str, ...] = ("",)
    typed: Callable[[Place], str] = lambda at: ""
    """What is typed when it asks."""
    lay: Callable[[Place], None] = lambda at: None
    """Makes what the trial begins with out of the base library; done once for each variant."""
    count: Callable[[Store], int] | None = None
    """How often what the command makes is in the log, where a second run would make a second one."""
    says: str = ""
    """What it prints once that is done; where it is empty, anything it prints tells that."""
    killed: Callable[[Place, str], Iterator[str]] = lambda at, said: iter(())
    """What is wrong right after the kill, seen on a copy, with what the command had printed."""
    after: Callable[[Place], Iterator[str]] = lambda at: iter(())
    """What is wrong after the next command."""


def take(kind: str) -> Callable[[Place], list[str]]:
    return lambda at: ["take", JOB, str(at / "phone" / kind)]


def say(*words: str) -> Callable[[Place], list[str]]:
    return lambda at: list(words)


def either(*counts: Callable[[Store], int]) -> Callable[[Store], int]:
    return lambda store: sum(count(store) for count in counts)


PATHS = {
    "take-text": WritePath(take("text"), killed=taken, after=all_taken("text")),
    "take-photos": WritePath(take("photos"), killed=taken, after=all_taken("photos")),
    "take-sound": WritePath(take("sound"), killed=taken, after=all_heard),
    "say": WritePath(say("say", JOB, NOTE), count=entries("said", text=NOTE)),
    "settle": WritePath(say("settle"), lay=lay_settle, after=settled),
    "amend": WritePath(say("amend", JOB, "R-1", "length_ft", "23"), count=entries("amendment", value=23.0)),
    "ask": WritePath(
        say("ask", JOB),
        variants=tuple(ANSWERS),
        typed=lambda at: ANSWERS[at.variant],
        count=either(entries("amendment", value=31.0), entries("answer", what="dismissed")),
        says=" left",
        after=asks(0),
    ),
    "undo": WritePath(
        say("ask", JOB, "--undo"),
        variants=(*ANSWERS, "a removal"),
        lay=lay_undo,
        count=either(entries("answer", what="undone"), entries("removal", undone=True)),
        after=asks(1),
    ),
    "new": WritePath(
        lambda at: [*NEW, "back-walk", "--company", str(at / "company.toml")],
        variants=("the first", "one more"),
        lay=lay_new,
        count=job_is_there,
    ),
    "report": WritePath(
        lambda at: ["report", JOB, "--for", "record", "-o", str(at / "reports" / "walk.docx")],
        variants=("first", "over another"),
        lay=lay_report,
        killed=report_wrong,
        after=report_there,
    ),
    "remove": WritePath(lambda at: ["remove", JOB, at.variant], ("R-1", "photo:1"), count=entries("removal")),
    "backup": WritePath(
        lambda at: ["backup", str(at / "backup")],
        variants=("first", "over an earlier one", "over one cut off"),
        lay=lay_backup,
        killed=backup_wrong,
        after=backed_up,
    ),
    "restore": WritePath(
        lambda at: ["restore", str(at / "backup")],
        variants=("gone", "gone but for a journal", "damaged", "killed", "whole"),
        lay=lay_restore,
        after=restored,
    ),
    "pack": WritePath(
        lambda at: ["pack", JOB, "-o", str(at / "bag")],
        count=bag_is_there,
        says=" packed: ",
        killed=bag_wrong,
        after=bag_wrong,
    ),
    "unpack": WritePath(
        lambda at: ["unpack", str(at / "bag")],
        variants=("the first", "two crews'"),
        lay=lay_unpack,
        killed=half_unpacked,
        after=unpacked,
    ),
    "migrate": WritePath(say("show"), variants=VERSIONS, lay=lay_migrate, after=as_before),
    "repair": WritePath(say("verify", "--repair"), ("a page gone", "a reading flipped"), lay=lay_repair),
}
