"""A bit that flips in a library, files that go, entries nobody knows: told of, and brought back from a backup.

And words and files that are meant to harm.
"""

from __future__ import annotations

import os
import random
import shutil
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from crew import COMPANY, JOBS, READ, FakeEar, Tally, begin, copied, done, entries, make_files, make_library, plain, run

from logger.store import open_store

COMPUTED = ("derived", "cached", "found", "free", "rest")


def flips(tally: Tally, base: Path, dice: random.Random, count: int = 70) -> None:
    """One bit in every kind of page, then every command; then repaired, and restored from an older backup."""
    files, made = begin(base)
    done(tally, run(made, "backup", base / "copy"), "flips")
    old = [run(made, *words).out for words in READ]
    done(tally, run(made, "say", JOBS[2], "A newer remark.", "--at", "09:00"), "flips")
    new_ = [run(made, *words).out for words in READ]
    pages = pages_of(made / "library.db")
    for number in range(count):
        group = sorted(pages)[number % len(pages)]
        hit = base / "hit"
        where = f"{group} {flip(copied(made, hit) / 'library.db', dice, pages[group], group)}"
        tally.counts[group] += 1
        one_flip(tally, hit, base, files, (old, new_), group, where)


def pages_of(database: Path) -> dict[str, list[int]]:
    """Which pages each group of tables takes."""
    found: dict[str, list[int]] = {"header": [1]}
    groups = ("jobs", "log", "derived", "cached", "found", "schema")
    with closing(sqlite3.connect(database)) as conn:
        for name, page in conn.execute("SELECT name, pageno FROM dbstat").fetchall():
            core = name.removeprefix("sqlite_autoindex_").removeprefix("sqlite_")
            group = next((each for each in groups if core.startswith(each)), "rest")
            found.setdefault(group, []).append(page)
        known = {page for pages in found.values() for page in pages}
        found["free"] = sorted(set(range(1, conn.execute("PRAGMA page_count").fetchone()[0] + 1)) - known)
    return {group: pages for group, pages in found.items() if pages}


def flip(database: Path, dice: random.Random, pages: list[int], group: str) -> str:
    """Flip one bit in one of the pages, mostly where something is written: free space is all zeros."""
    raw = bytearray(database.read_bytes())
    size = int.from_bytes(raw[16:18], "big")
    start = (dice.choice(pages) - 1) * size
    places = range(start + (100 if group == "schema" else 0), start + (100 if group == "header" else size))
    written = [each for each in places if raw[each]]
    at = dice.choice(written if written and dice.random() > 0.1 else places)
    bit = dice.randrange(8)
    raw[at] ^= 1 << bit
    database.write_bytes(raw)
    return f"byte {at} bit {bit}"


def one_flip(
    tally: Tally, hit: Path, base: Path, files: Path, truth: tuple[list[str], list[str]], group: str, where: str
) -> None:
    harmless = True
    for words, right in zip(READ, truth[1], strict=True):
        said = run(copied(hit, base / "look"), *words)
        plain(tally, said, where)
        if said.out != right:
            harmless = False
            tally.expect(bool(said.err or said.code), f"{where}: another answer, and not a word: {said}")
    held = copied(base / "copy", base / "held")
    report, backup = ("report", JOBS[0], "--for", "record", "-o", base / "r.docx"), ("backup", held)
    for words in (("say", JOBS[0], "One more."), ("amend", JOBS[0], "R-2", "length_ft", "35"), report, backup):
        plain(tally, run(copied(hit, base / "look"), *words), where)
    found = plain(tally, verified := run(hit, "verify"), where) and verified.code
    if not found:
        tally.counts["unused bits"] += tally.expect(harmless, f"{where}: verify finds nothing")
        return
    if group in COMPUTED:
        mended(tally, copied(hit, base / "mended"), files, truth[1], f"{where}, repaired", [])
    older = truth[0] if group not in COMPUTED else []
    mended(tally, hit, files, truth[1], f"{where}, restored", [("restore", held)], older)


def mended(
    tally: Tally, hit: Path, files: Path, right: list[str], where: str, first: list[Any], older: list[str] | None = None
) -> None:
    """After `first`, a repair where there is still need, and hearing again, all is as it was."""
    for words in first:
        said = run(hit, *words)
        if "newer fallbook" in said.err:  # a bit of its version, and only a person can tell
            (hit / "library.db").unlink()
            said = run(hit, *words)
        done(tally, said, where)
    if run(hit, "verify").code:
        tally.counts["repaired"] += 1
        done(tally, run(hit, "verify", "--repair"), where)
    done(tally, run(hit, "take", JOBS[0], files / "talk1.wav"), where)
    shown = [run(hit, *words).out for words in READ]
    tally.counts["newer lost"] += shown != right and shown == older
    wrong = [" ".join(words) for words, one, other in zip(READ, shown, right, strict=True) if one != other]
    tally.expect(not wrong or shown == older, f"{where}: not as it was: {wrong}")
    done(tally, run(hit, "verify"), where)


# -- other damage


def damage(tally: Tally, base: Path, dice: random.Random, count: int = 3) -> None:
    """`count` originals of three altered and deleted; no database; the folder gone; entries that nobody knows."""
    files, made = begin(base)
    done(tally, run(made, "backup", base / "copy"), "damage")
    done(tally, run(made, "say", JOBS[2], "A newer remark.", "--at", "09:00"), "damage")
    right = [run(made, *words).out for words in READ]
    for _, kind, _, _, sha256 in [each for each in entries(made) if each[4]][:count]:
        for harm in (rot, alter, Path.unlink):
            for heal in (("take", JOBS[0], files), ("restore", base / "copy")):
                harm_original(tally, copied(made, base / "hit"), sha256, harm, heal, f"{kind} {harm.__name__}")
    no_database(tally, copied(made, base / "hit"), base / "copy")
    said = run(hit := copied(made, base / "hit"), "take", JOBS[0], files / "talk2.wav",
               ear=FakeEar(lambda: shutil.rmtree(hit)))  # fmt: skip
    plain(tally, said, "folder removed", must="no library here|is gone|cannot be opened")
    tally.expect(said.code == 1 and not hit.exists(), f"folder removed: {said}")
    for poison in (path_for_hash, bad_company, unknown_kind, unknown_file)[: count + 1]:
        poison(copied(made, base / "hit"))
        one_bad_job(tally, base / "hit", base, files, right, poison.__name__)


def rot(path: Path) -> None:
    """A bit flips on the disk: the file's time and size stay."""
    facts = path.stat()
    alter(path)
    os.utime(path, ns=(facts.st_atime_ns, facts.st_mtime_ns))


def alter(path: Path) -> None:
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 4
    path.chmod(0o600)
    path.write_bytes(raw)


def harm_original(tally: Tally, hit: Path, sha256: str, harm: Callable[[Path], None], heal: Any, where: str) -> None:
    harm(hit / "originals" / sha256)
    shown = run(hit, "show", JOBS[0])
    done(tally, shown, where)
    tally.expect(harm is rot or "its original" in shown.err, f"{where}: show says nothing: {shown}")
    held = hit.parent / "held"
    shutil.rmtree(held, ignore_errors=True)
    plain(tally, run(hit, "backup", held), where, must="not copied: .*its original")
    tally.expect(run(held, "show", JOBS[1]).code == 0, f"{where}: one original costs the backup")
    if heal[0] == "take":
        said = run(hit, "verify")
        plain(tally, said, where, must="its original (is gone|was altered)")
        tally.expect(said.code == 1, f"{where}: verify: {said}")
    plain(tally, run(hit, *heal), where)
    done(tally, run(hit, "verify"), f"{where}, after {heal[0]}")


def no_database(tally: Tally, hit: Path, copy: Path) -> None:
    (hit / "library.db").unlink()
    for words in [*READ, ("say", JOBS[0], "A word."), ("verify",), ("backup", hit.parent / "other")]:
        said = run(hit, *words)
        plain(tally, said, "database deleted", must="library.db is gone.*fallbook restore")
        tally.expect(said.code == 1, f"database deleted: {said}")
    done(tally, run(hit, "restore", copy), "database deleted")
    done(tally, run(hit, "verify"), "database deleted")


def bad_company(hit: Path) -> None:
    """A company file that an earlier version took, and this one cannot read."""
    with open_store(hit) as store:
        job = store.job(JOBS[2])
        store.add_job(job.model_copy(update={"name": "odd-job"}), "name = 3")


def unknown_kind(hit: Path) -> None:
    _append(hit, kind="video")


def unknown_file(hit: Path) -> None:
    _append(hit, kind="video", sha256="ab" * 32, name="a.mov")


def path_for_hash(hit: Path) -> None:
    _append(hit, kind="photo", sha256="../../company.toml", name="a.jpg")


def _append(hit: Path, kind: Any, **of_file: str) -> None:
    with open_store(hit) as store:
        body = {"modified": "2026-05-14T12:00:00+00:00"}
        store.append(JOBS[2], kind, body, datetime(2026, 5, 14, 12, tzinfo=UTC), **of_file)


def one_bad_job(tally: Tally, hit: Path, base: Path, files: Path, right: list[str], where: str) -> None:
    """It costs itself alone."""
    others = [(words, out) for words, out in zip(READ, right, strict=True) if words[-1] not in (JOBS[2], "show")]
    done(tally, run(hit, "show"), where)
    for words in (("show", "odd-job"), ("show", JOBS[2]), ("ready", JOBS[2]), ("say", JOBS[2], "A word.")):
        plain(tally, run(hit, *words), where)
    shutil.rmtree(base / "held", ignore_errors=True)
    plain(tally, run(hit, "backup", base / "held"), where)
    shutil.rmtree(base / "empty", ignore_errors=True)
    plain(tally, run(base / "empty", "restore", base / "held"), where)
    for words in (("verify",), ("verify", "--repair"), ("verify", "--prune", "--yes")):
        plain(tally, run(hit, *words), where)
    tally.expect(run(hit, "verify").code == 1 or where == "unknown_kind", f"{where}: verify finds nothing")
    for folder in (hit, base / "held", base / "empty"):
        for words, out in others:
            said = run(folder, *words)
            tally.expect(said.out == out, f"{where}: costs another job, in {folder.name}: {said}")
    done(tally, run(hit, "take", JOBS[1], files / "notes2.txt"), where)


# -- old sins


EVIL = "Ev\x1b[31mil\x9b2J\u202eeman\u2066\x07"


def old_sins(tally: Tally, base: Path, dice: random.Random, count: int = 0) -> None:
    make_files(files := base / "files")
    mask = os.umask(0)
    try:
        make_library(tally, library := base / "made", files)
        evil_words(tally, library, base, files)
    finally:
        os.umask(mask)
    for folder in (library, base / "copy"):
        for path in [folder, *folder.rglob("*")]:
            open_to = path.stat().st_mode & 0o077
            tally.expect(not open_to, f"rights: {path.name if path.parent == folder else 'an original'} {open_to:o}")
    (files / "link.txt").symlink_to(files / "company.toml")
    said = run(library, "take", JOBS[0], files)
    plain(tally, said, "a link", must="link to another file, which is not followed")
    (files / "long.txt").write_text("pipe " * (1 << 20))
    began = time.monotonic()
    said = run(library, "take", JOBS[0], files / "long.txt")
    plain(tally, said, "5 MB of text", must="more than 1 MB of text")
    tally.expect(said.code == 1 and time.monotonic() - began < 5, f"5 MB of text: {time.monotonic() - began:.1f} s")


def evil_words(tally: Tally, library: Path, base: Path, files: Path) -> None:
    job, evil = "evil", files / EVIL
    evil.mkdir()
    for name in ("notes1.txt", "photo1.jpg", "talk1.wav"):
        shutil.copy(files / name, evil / f"{EVIL}.{name}")
    (evil / f"{EVIL}.mov").write_bytes(b"no such thing")
    firm = files / "evil.toml"
    firm.write_text(COMPANY)
    start = ("new", job, "--client", EVIL, "--address", EVIL, "--day", "2026-05-14", "--company", firm)
    sound, text = (evil / f"{EVIL}.{name}" for name in ("talk1.wav", "notes1.txt"))
    writes = [start, start, ("take", job, evil), ("say", job, EVIL), ("amend", job, "note:0", "text", EVIL)]
    wrong = [("amend", job, EVIL, EVIL, EVIL), ("remove", job, EVIL), ("remove", job, f"file:{EVIL}"), ("show", EVIL)]
    wrong += [("new", EVIL, *start[2:]), (EVIL,), ("find", EVIL), ("ready", job, EVIL), ("take", job, evil / "none")]
    looks = [("show",), ("show", job), ("show", job, "note:0"), ("show", job, "R-1"), ("ready", job), ("find", "Ev")]
    alone = [("ready", job, "--json"), ("hear", sound), ("hear", sound, "--json"), ("hear", sound, "--extract")]
    alone += [("extract", text), ("extract", text, "--json"), ("check", text), ("hear", text), ("extract", evil / "no")]
    report = ("report", job, "--for", "record", "-o", evil / f"{EVIL}.docx")
    whole = [("verify",), ("backup", base / "copy"), ("backup", evil), ("restore", evil), ("restore", base / "copy")]
    gone = [("remove", job, "note:0"), ("remove", job, f"file:{EVIL}.talk1.wav"), ("remove", job), ("show",)]
    for words in [*writes, *wrong, *looks, *alone, report, *whole, *gone, ("verify", "--prune", "--yes")]:
        plain(tally, run(library, *words), "control characters")
