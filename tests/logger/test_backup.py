"""A library copied, and brought back from each kind of loss; what it holds beyond the backup is kept."""

import sqlite3
from datetime import date
from pathlib import Path

import pytest

from extract.errors import FallbookError, UsageError
from logger import changes, jobs
from logger.backup import backup, restore
from logger.book import Book
from logger.integrity import faults
from logger.store import open_store
from logger.verify import prunable, prune, repair, verify


def quiet(*_: object) -> None:
    """Nobody looks at the progress."""


@pytest.fixture
def library(tmp_path, company, hearing, make_photo):
    folder = tmp_path / "library"
    log = tmp_path / "notes.txt"
    log.write_text("[09:00] Basin one is set.\n[09:05] Run one is in, 34 feet.\n")
    with open_store(folder, create=True) as store:
        for name in ("front-walk", "back-yard"):
            jobs.new(
                store, name, client="A. Client", address="2 Tarn Lane", company=str(company), day=date(2026, 5, 14)
            )
        files = [log, make_photo()]
        list(jobs.take(store, "front-walk", files, listening=lambda name: quiet, hearing=hearing))
        jobs.say(store, "front-walk", "Cover on run one is 14 inches.", "09:10")
        jobs.settle(store, "front-walk")
        jobs.settle(store, "back-yard")
    return folder


@pytest.fixture
def held(library, tmp_path):
    assert copied(library, tmp_path / "backup") == []
    return tmp_path / "backup"


def copied(library: Path, folder: Path) -> list[str]:
    with open_store(library) as store:
        return list(backup(store, folder, quiet))


def brought_back(folder: Path, library: Path) -> list[str]:
    return list(restore(folder, library, quiet))


def wrong_with(library: Path) -> list[str]:
    with open_store(library) as store:
        return [fault.words for fault in verify(store, None, quiet)]


def notes(library: Path) -> list[str]:
    with open_store(library) as store:
        return [note.text for note in Book(store, "front-walk").notes]


def say(library: Path, words: str) -> None:
    with open_store(library) as store:
        jobs.say(store, "front-walk", words, "10:00")


def original(library: Path, ending: bytes) -> Path:
    return next(each for each in (library / "originals").iterdir() if each.read_bytes().startswith(ending))


def flip(path: Path, at: int = 20) -> None:
    raw = bytearray(path.read_bytes())
    raw[at] ^= 4
    path.chmod(0o600)
    path.write_bytes(raw)


WORDS = ["Basin one is set.", "Run one is in, 34 feet.", "Cover on run one is 14 inches."]


def test_a_backup_is_a_library(library, held):
    assert notes(held) == WORDS
    assert wrong_with(held) == []


def test_the_second_backup_copies_what_is_new(library, held, monkeypatch):
    say(library, "Basin two is set.")
    monkeypatch.setattr("logger.backup.copy_original", lambda *_: pytest.fail("an original was copied again"))
    assert copied(library, held) == []
    assert notes(held) == [*WORDS, "Basin two is set."]


def test_a_backup_is_not_laid_over_one_that_holds_more(library, held):
    before = (library / "library.db").read_bytes()
    say(library, "Basin two is set.")
    copied(library, held)
    (library / "library.db").write_bytes(before)
    with pytest.raises(FallbookError, match="holds what this library has lost .entries: 1.; nothing was copied"):
        copied(library, held)
    assert brought_back(held, library) == ["library.db: entries brought back: 1"]
    assert notes(library) == [*WORDS, "Basin two is set."]


def test_a_backup_goes_into_a_folder_of_its_own(library, tmp_path, company):
    with pytest.raises(UsageError, match="a backup inside the library is lost with it"):
        copied(library, library / "backup")
    with pytest.raises(UsageError, match="holds other files; give an empty folder"):
        copied(library, tmp_path)
    with open_store(tmp_path / "other", create=True):
        pass
    with pytest.raises(FallbookError, match="holds the backup of another library"):
        copied(library, tmp_path / "other")


def test_a_damaged_original_is_told_and_the_good_copy_stays(library, held):
    path = original(library, b"[09:00]")
    good = (held / "originals" / path.name).read_bytes()
    flip(path)
    assert copied(library, held) == [
        "notes.txt: its original was altered or damaged in the library; "
        "take the true file again, or run: fallbook restore DIR; the backup holds a copy"
    ]
    assert (held / "originals" / path.name).read_bytes() == good
    (held / "originals" / path.name).unlink()
    assert copied(library, held) == [
        "not copied: notes.txt: its original was altered or damaged in the library; "
        "take the true file again, or run: fallbook restore DIR"
    ]


def test_what_rotted_in_the_backup_is_mended_where_all_of_it_is_read(library, held):
    path = original(held, b"[09:00]")
    flip(path)
    assert copied(library, held) == []
    assert wrong_with(held)
    with open_store(library) as store:
        assert list(backup(store, held, quiet, every=True)) == []
    assert path.read_bytes().startswith(b"[09:00]")
    copied(library, held)
    assert wrong_with(held) == []


def test_a_damaged_library_is_not_backed_up(library, held):
    damage_log(library)
    before = (held / "library.db").read_bytes()
    with pytest.raises(FallbookError, match="not copied, for it is damaged: job front-walk: entry"):
        copied(library, held)
    assert (held / "library.db").read_bytes() == before


def damage_log(library: Path) -> None:
    with sqlite3.connect(library / "library.db") as conn:
        conn.execute("DROP TRIGGER log_not_updated")
        conn.execute("UPDATE log SET body = replace(body, '14 inches', '74 inches')")
    conn.close()


# -- back


def test_a_lost_database_comes_back(library, held):
    (library / "library.db").unlink()
    assert brought_back(held, library) == ["library.db: brought back"]
    assert notes(library) == WORDS


@pytest.mark.parametrize("ending", ["-journal", "-wal"])
def test_what_lay_beside_a_lost_database_is_not_laid_over_the_new_one(library, held, ending):
    (library / "library.db").unlink()
    (library / f"library.db{ending}").write_bytes(b"\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + bytes(2000))
    brought_back(held, library)
    assert wrong_with(library) == []


def test_entries_newer_than_the_backup_are_kept(library, held):
    say(library, "Basin two is set.")
    damage_log(library)
    with open_store(library) as store, pytest.raises(FallbookError, match="entry .* of its log is damaged"):
        Book(store, "front-walk")
    first, second = brought_back(held, library)
    assert first.startswith("library.db: was damaged; brought back, and the damaged one kept as library-damaged-")
    assert second == "entries newer than the backup that could still be read and were kept: 1"
    assert notes(library) == [*WORDS, "Basin two is set."]
    assert wrong_with(library) == []


def test_altered_and_lost_originals_come_back(library, held):
    flip(original(library, b"[09:00]"))
    original(library, b"\xff\xd8").unlink()
    assert len(wrong_with(library)) == 2
    lines = brought_back(held, library)
    assert lines[0].startswith("library.db: is whole and holds all that the backup holds")
    assert sorted(lines[1:]) == ["a.jpg: its original was brought back", "notes.txt: its original was brought back"]
    assert wrong_with(library) == []


def test_a_library_comes_back_where_there_is_none(library, held, tmp_path):
    brought_back(held, tmp_path / "new")
    assert notes(tmp_path / "new") == WORDS
    assert (tmp_path / "new").stat().st_mode & 0o777 == 0o700


def test_two_that_each_hold_what_the_other_lacks_are_left_alone(library, held):
    say(library, "Basin two is set.")
    say(held, "Basin three is set.")
    before = (library / "library.db").read_bytes()
    with pytest.raises(FallbookError, match="this backup and this library each hold what the other lacks; nothing was"):
        brought_back(held, library)
    assert (library / "library.db").read_bytes() == before


def test_another_librarys_backup_is_refused(library, tmp_path):
    with open_store(tmp_path / "other", create=True):
        pass
    with pytest.raises(FallbookError, match="this backup is another library's; nothing was changed"):
        brought_back(tmp_path / "other", library)


def test_no_backup_is_wrong_usage(library, tmp_path):
    with pytest.raises(UsageError, match="no backup here; give the folder that fallbook backup wrote"):
        brought_back(tmp_path / "gone", library)


# -- whole or not


def test_what_is_computed_is_made_anew(library):
    with sqlite3.connect(library / "library.db") as conn:
        conn.execute("UPDATE found SET words = replace(words, '34', '74')")
        conn.execute("UPDATE derived SET value = CAST(value || 'x' AS BLOB) WHERE what = 'photo'")
        conn.execute("UPDATE heads SET digest = x'00' WHERE job = 'front-walk'")
        conn.execute("DROP TRIGGER log_not_deleted")
    conn.close()
    found = wrong_with(library)
    assert "1 readings of originals were changed on the disk" in found
    assert "the guards of the log are gone from the database" in found
    assert any(line.startswith("job front-walk: its log may lack its last entries; bring them back") for line in found)
    assert any("rows of the index that find looks in were changed" in line for line in found)
    assert list(repair(library, quiet))[-1] == "2 of 2 jobs were read again into the index"
    assert wrong_with(library) == []
    with open_store(library) as store:
        assert [hit.words for hit in jobs.find(store, "34").hits]


def test_a_damaged_log_is_nothing_to_repair(library):
    damage_log(library)
    with pytest.raises(FallbookError, match="this needs a backup: fallbook restore DIR"):
        list(repair(library, quiet))


def test_one_job_is_looked_at_alone(library):
    damage_log(library)
    with open_store(library) as store:
        assert [fault.words for fault in verify(store, "back-yard", quiet)] == []


def test_the_originals_of_what_was_removed_go_for_good_and_their_hash_stays(library):
    with open_store(library) as store:
        assert prunable(store) == {}
        changes.remove(store, "front-walk", "photo:1")
        chosen = prunable(store)
        assert list(chosen.values()) == ["a.jpg"]
        assert prune(store, chosen) > 0
        assert prunable(store) == {}
        assert [entry.name for entry in store.entries("front-walk") if entry.sha256 in chosen] == ["a.jpg"]
        assert [row["what"] for row in store.rows("SELECT what FROM derived WHERE sha256 = ?", [*chosen])] == ["photo"]
        assert faults(store.connection) == []
    assert wrong_with(library) == []
