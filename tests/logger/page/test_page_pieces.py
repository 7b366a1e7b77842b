"""Sound, photos and notes as a page sends them: each is in the log once, whatever the connection does."""

import hashlib
import json
import os
import random
import socket
import sys
import threading
import zipfile
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlencode

import pytest
from browser import Served
from conftest import FakeHearing
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pages import Client

from extract.record import Note, Word
from logger import jobs
from logger.book import Book
from logger.changes import remove
from logger.page import pieces
from logger.page.guard import COOKIE
from logger.page.hearing_worker import serve
from logger.store import open_store

sys.path.insert(0, str(Path(__file__).parent.parent.parent / "endurance"))

import crew  # noqa: E402
from faults import disk, fill  # noqa: E402

BEGAN = "2026-05-14T15:00:00Z"
WHOLE = "FALLBOOK_WHOLE" in os.environ
"""Set by `make endure`: the whole day that the page must stand, in place of a tenth of it."""
SENDERS, SOUNDS, PHOTOS = (5, 200, 50) if WHOLE else (5, 20, 5)


@pytest.fixture
def client(store):
    return Client(store.folder)


def sha(raw):
    return hashlib.sha256(raw).hexdigest()


def send(client, raw, kind="sound", job="j", sha256=None, **query):
    address = f"/jobs/{job}/pieces/{sha256 or sha(raw)}?{urlencode({'kind': kind, 'name': f'a {kind}', **query})}"
    return client.put(address, content=raw)


def left(store):
    return [path.name for path in store.folder.glob("arriving/*")]


def kept(store):
    return [entry.name for entry in store.entries("j") if entry.sha256]


def piece(start, text, at):
    """What the stand-in hears in a piece: one note, a word each half second."""
    words = [
        Word(text=word, start_s=start + each / 2, end_s=start + each / 2 + 0.4, confidence=0.9)
        for each, word in enumerate(text.split())
    ]
    return Note(text=text, heard=text, words=words, start_s=start, end_s=words[-1].end_s, confidence=at)


# -- each once


def test_a_piece_is_confirmed_by_its_hash_and_stands_in_the_log(client, store, make_sound):
    raw = make_sound(seconds=2).read_bytes()
    answer = send(client, raw, name="talk.wav", at=BEGAN, recording_id="ab", **{"from": 10, "to": 12})
    assert answer.status_code == 200
    assert answer.json() == {
        "sha256": sha(raw), "bytes": len(raw), "outcome": "taken", "line": "talk.wav: sound taken"
    }  # fmt: skip
    (entry,) = store.entries("j")
    assert (entry.kind, entry.name, entry.sha256) == ("sound", "talk.wav", sha(raw))
    assert store.originals.path(entry.sha256).read_bytes() == raw
    assert left(store) == []


def test_its_own_start_counts_where_the_file_has_none(client, store, make_sound):
    send(client, make_sound(seconds=2).read_bytes(), at=BEGAN, recording_id="ab", **{"from": 10, "to": 12})
    (line,) = Book(store, "j").files
    assert line.when.at == datetime(2026, 5, 14, 15, 0, tzinfo=UTC)
    assert line.when.source == "the clock of the page or program that made it"


def test_a_piece_that_comes_twice_is_there_once(client, store, make_sound):
    raw = make_sound().read_bytes()
    first, again = send(client, raw), send(client, raw, name="another name")
    assert (first.json()["outcome"], again.json()["outcome"]) == ("taken", "already")
    assert again.json()["sha256"] == sha(raw)
    assert kept(store) == ["a sound"]
    assert left(store) == []


def test_the_same_piece_from_two_at_once_is_there_once(client, store, make_sound):
    raw, outcomes = make_sound().read_bytes(), []
    threads = [threading.Thread(target=lambda: outcomes.append(send(client, raw).json())) for _ in range(6)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert {each["sha256"] for each in outcomes} == {sha(raw)}
    assert [each["outcome"] for each in outcomes].count("taken") == 1
    assert kept(store) == ["a sound"]


def test_bytes_that_are_not_what_was_sent_are_not_taken(client, store, make_sound):
    raw = make_sound().read_bytes()
    for damaged in (raw[:-1], raw + b"x", raw[:50] + b"x" + raw[51:], b""):
        answer = send(client, damaged, sha256=sha(raw))
        assert answer.status_code == 409
        assert "they are not what was sent; send it again" in answer.json()["error"]
    assert (kept(store), left(store)) == ([], [])
    assert send(client, raw).status_code == 200


# -- what is not taken


@pytest.mark.parametrize("stated", [True, False])
def test_what_is_too_large_is_refused_and_nothing_of_it_is_left(client, store, monkeypatch, stated):
    monkeypatch.setitem(pieces.MOST, "photo", 1000)
    raw = b"\xff\xd8\xff" + bytes(2000)
    body = raw if stated else iter([raw[:900], raw[900:]])
    answer = client.put(f"/jobs/j/pieces/{sha(raw)}?kind=photo&name=big.jpg", content=body)
    assert answer.status_code == 413
    assert answer.json()["error"].startswith("big.jpg: more than 0.001 MB; put it on the laptop by cable")
    assert (kept(store), left(store)) == ([], [])


def test_two_gigabytes_are_refused_before_they_come(client, store):
    """The length that is stated is enough to know."""
    answer = client.put(
        f"/jobs/j/pieces/{'0' * 64}?kind=sound", content=iter([b"x"]), headers={"content-length": str(2 << 30)}
    )
    assert answer.status_code == 413
    assert left(store) == []


def test_a_photo_that_is_a_zip_is_refused_with_a_line(client, store, tmp_path):
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("photo.jpg", b"x" * 100)
    answer = send(client, (tmp_path / "a.zip").read_bytes(), "photo", name="front.jpg")
    assert answer.status_code == 415
    assert answer.json()["error"] == (
        "front.jpg: a zip archive or an office document, which is not taken; save its words as plain text (.txt) and "
        "take that"
    )
    assert (kept(store), left(store)) == ([], [])


def test_a_kind_that_is_another_is_refused(client, store, make_sound):
    answer = send(client, make_sound().read_bytes(), "photo", name="front.jpg")
    assert answer.status_code == 415
    assert answer.json()["error"] == "front.jpg: sound, where photo was to come; choose another file"
    assert send(client, b"[08:10:00] Basin one is set.\n", name="talk").status_code == 415
    assert kept(store) == []


def test_a_damaged_photo_is_kept_and_marked(client, store, make_photo):
    raw = make_photo("front.jpg").read_bytes()[:400]
    answer = send(client, raw, "photo", name="front.jpg")
    assert answer.status_code == 200
    assert answer.json()["outcome"] == "failed"
    assert answer.json()["line"].startswith("front.jpg: kept, but it cannot be used: ")
    assert kept(store) == ["front.jpg"]
    assert send(client, raw, "photo", name="front.jpg").json()["sha256"] == sha(raw)


@pytest.mark.parametrize(
    "query",
    [
        {"kind": "text"}, {"kind": ""}, {"at": "noon"}, {"lat": "1"},
        {"recording_id": "x y"}, {"spoken": "x"}, {"from": "nan"},
    ],
)  # fmt: skip
def test_a_request_that_makes_no_sense_is_one_line(client, store, make_sound, query):
    answer = send(client, make_sound().read_bytes(), **query)
    assert answer.status_code == 400
    assert answer.json()["error"].count("\n") == 0
    assert (kept(store), left(store)) == ([], [])


@pytest.mark.parametrize("sha256", ["x", "0" * 63, "0" * 65, "G" * 64, "..%2f..%2flibrary.db"])
def test_what_is_no_hash_is_no_path(client, store, sha256):
    assert client.put(f"/jobs/j/pieces/{sha256}?kind=sound", content=b"x").status_code in (400, 404)
    assert left(store) == []


@pytest.mark.parametrize(
    ("name", "kept_as"),
    [
        ("../../etc/passwd", "passwd"),
        ("C:\\photos\\front.jpg", "front.jpg"),
        ("a\nb\x1b[2J\u202ec", "a b [2J c"),
        ("", "photo of the page"),
        ("/", "photo of the page"),
        ("x" * 500, "x" * 100),
    ],
)
def test_a_name_is_never_a_path(client, store, make_photo, name, kept_as):
    send(client, make_photo().read_bytes(), "photo", name=name)
    assert kept(store) == [kept_as]


def test_nothing_is_taken_of_who_was_not_let_in_or_from_another_page(store, client, make_sound):
    raw = make_sound().read_bytes()
    assert send(Client(store.folder, let_in=False), raw).status_code == 401
    client.headers["origin"] = "http://evil.example"
    assert send(client, raw).status_code == 403
    assert kept(store) == []


# -- a job that is gone, a disk that is full


def test_a_job_removed_meanwhile_says_so_and_takes_it_once_it_is_back(client, store, make_sound):
    raw = make_sound().read_bytes()
    remove(store, "j")
    answer = send(client, raw)
    assert answer.status_code == 409
    assert "this job was removed; bring it back with" in answer.json()["error"]
    assert client.get("/jobs/j/since").status_code == 409
    remove(store, "j", undo=True)
    assert send(client, raw).json()["outcome"] == "taken"
    assert send(client, raw, job="never").status_code == 409
    assert left(store) == []


def test_a_full_disk_is_one_line_and_with_room_it_goes_in(tmp_path, store, make_photo, make_sound):
    sound, photo = make_sound(seconds=20).read_bytes(), make_photo(image=None).read_bytes()
    with disk(tally := crew.Tally(), tmp_path / "disk", 4 << 20) as small:
        if small is None:
            pytest.skip(tally.skipped)
        library = crew.copied(store.folder, small / "library")
        client = Client(library)
        for room in (0, 8_000, 100_000, 330_000):
            fill(small, room)
            answers = [
                send(client, sound),
                send(client, photo, "photo"),
                send(client, b"Basin one is set.", "note", at=BEGAN),
            ]
            for answer in answers:
                assert answer.status_code in (200, 409)
                assert answer.status_code == 200 or "full" in answer.json()["error"]
            if not room:
                assert [answer.status_code for answer in answers] == [409] * 3
            (small / "ballast").unlink()
        for answer in (
            send(client, sound),
            send(client, photo, "photo"),
            send(client, b"Basin one is set.", "note", at=BEGAN),
        ):
            assert answer.status_code == 200
        with open_store(library) as opened:
            assert [entry.kind for entry in opened.entries("j")].count("said") == 1
            assert len(kept(opened)) == 2
            assert left(opened) == []


def test_a_library_that_is_gone_is_one_line(client, store, make_sound):
    (store.folder / "library.db").rename(store.folder / "elsewhere.db")
    answer = send(client, make_sound().read_bytes())
    assert answer.status_code == 409
    assert "the library is gone" in answer.json()["error"]


# -- photos, notes


def test_a_photo_has_its_page_s_time_and_place_where_it_has_none_itself(client, store, make_photo):
    raw = make_photo(taken=None, offset=None, gps=None).read_bytes()
    send(client, raw, "photo", at=BEGAN, lat=41.5, lon=-93.25, error=6)
    (photo,) = Book(store, "j").photos
    assert photo.taken_at == datetime(2026, 5, 14, 15, 0, tzinfo=UTC)
    assert photo.time_source == "the clock of the page or program that made it"
    assert (photo.lat, photo.lon, photo.gps_error_m) == (41.5, -93.25, 6)


def test_a_photo_s_own_time_and_place_are_believed_first(client, store, make_photo):
    send(client, make_photo(gps=(40.0, -90.0)).read_bytes(), "photo", at=BEGAN, lat=41.5, lon=-93.25)
    (photo,) = Book(store, "j").photos
    assert (photo.lat, photo.lon, photo.time_source) == (40.0, -90.0, "EXIF time and offset")


def test_a_typed_note_is_there_once_and_is_read_back(client, store):
    raw = b"Run two is thirty four feet long."
    for outcome in ("taken", "already"):
        answer = send(client, raw, "note", at="2026-05-14T15:00:00.123Z").json()
        assert (answer["outcome"], answer["sha256"]) == (outcome, sha(raw))
    send(client, raw, "note", at="2026-05-14T15:10:00Z")
    said = [entry.body["text"] for entry in store.entries("j")]
    assert said == [raw.decode()] * 2
    assert "R-2: length 34 ft" in send(client, raw, "note", at="2026-05-14T15:20:00Z").json()["line"]


def test_a_typed_question_is_answered(client, store):
    jobs.say(store, "j", "Run two is in, thirty four feet long.")
    answer = send(client, b"how long is run two?", "note", at=BEGAN).json()
    assert answer["line"] == "Run 2: length 34 ft."


@pytest.mark.parametrize("raw", [b"", b"   \n", b"\xff\xfe"])
def test_a_note_that_is_none_is_one_line(client, store, raw):
    assert send(client, raw, "note", at=BEGAN).status_code == 400
    assert store.entries("j") == []


def test_a_note_is_taken_without_scripts(client, store):
    page = client.post("/jobs/j/talk", data={"words": "Run two is thirty four feet long."})
    assert "R-2: length 34 ft" in page.text
    assert [entry.body["text"] for entry in store.entries("j")] == ["Run two is thirty four feet long."]


# -- in order, and the overlap


def heard(store, hearing, job="j"):
    """Hear all that waits, with what the stand-in says."""
    answers = []
    serve(store.folder, hearing, [job], answers.append)
    return answers


def spans(first):
    return {"recording_id": "ab", "from": first, "to": first + 20, "at": f"2026-05-14T15:00:{first:02d}Z"}


@pytest.mark.parametrize("order", [(0, 1, 2), (2, 0, 1)])
def test_pieces_in_any_order_make_one_talk_without_the_overlap(client, store, make_sound, order):
    raws = [make_sound(f"{each}.wav", seconds=20).read_bytes() for each in range(3)]
    said = [
        [piece(1, "Basin one is set.", 0.9), piece(17.2, "Run one from basin", 0.9)],
        [piece(0.2, "one from basin one to basin two is in.", 0.9), piece(17.5, "It is", 0.8)],
        [piece(0.5, "It is thirty feet long.", 0.9)],
    ]
    for each in order:
        assert send(client, raws[each], **spans(each * 17)).status_code == 200
    answers = heard(store, FakeHearing([said[each] for each in order]))
    assert not [each for each in answers if "trouble" in each]
    assert [note.text for note in Book(store, "j").notes] == [
        "Basin one is set.",
        "Run one from basin one to basin two is in.",
        "It is thirty feet long.",
    ]


def test_what_the_phone_read_back_itself_is_no_note(client, store, make_sound):
    raw = make_sound(seconds=20).read_bytes()
    send(client, raw, spoken="3.0-6.0 run 2: length 34 feet", **spans(0))
    heard(store, FakeHearing([[piece(3.5, "run two length 34 feet", 0.9), piece(9, "No, thirteen.", 0.9)]]))
    assert [note.text for note in Book(store, "j").notes] == ["No, thirteen."]


# -- anything at all

QUERY = st.dictionaries(
    st.sampled_from("name at modified recording_id from to lat lon error spoken".split()),
    st.one_of(
        st.sampled_from(["a", "1", "2.5", "-1", "2026-05-14T15:00:00Z", "1-2 words", "nan", "../x"]),
        st.text(max_size=9),
    ),
    max_size=4,
)
CONTENT = st.one_of(
    st.binary(max_size=200),
    st.sampled_from(
        [b"\xff\xd8\xff", b"OggS", b"RIFF0000WAVE", b"\0\0\0 ftypheic", b"ID3", b"Basin one is set."]
    ).flatmap(lambda head: st.binary(max_size=200).map(lambda rest: head + rest)),
)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(CONTENT, st.sampled_from(["sound", "photo", "note", "text"]), QUERY)
def test_whatever_is_sent_is_taken_whole_or_refused_in_one_line(client, store, raw, kind, query):
    answer = send(client, raw, kind, **query)
    assert answer.status_code in (200, 400, 409, 415), answer.text
    if answer.status_code == 200:
        assert answer.json()["sha256"] == sha(raw)
        assert kind == "note" or store.holds("j", sha(raw))
    else:
        assert answer.json()["error"].isprintable()
        assert not store.holds("j", sha(raw))
    assert left(store) == []


# -- five phones, connections cut at random


@pytest.fixture
def served(store):
    """The page on a socket of its own: its host, and a cookie that lets a sender in."""
    made = Served(store.folder)
    access = made.server.access
    yield made.server.host, lambda: f"{COOKIE}={access.enter(access.token(), 'a phone')}"
    made.stop()


def request_of(host, cookie, raw, kind, number):
    query = urlencode({"kind": kind, "name": f"{kind} {number}"})
    head = (
        f"PUT /jobs/j/pieces/{sha(raw)}?{query} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\n"
        f"Cookie: {cookie}\r\nContent-Length: {len(raw)}\r\nConnection: close\r\n\r\n"
    )
    return head.encode() + raw


def sent(host, request, cut):
    """The answer's status and shape; None where the connection was cut after so many bytes, or before the answer."""
    address, port = host.split(":")
    with socket.create_connection((address, int(port)), timeout=20) as line:
        line.sendall(request[:cut])
        if cut is not None:
            return None
        answer = b"".join(iter(lambda: line.recv(65536), b""))
    head, _, body = answer.partition(b"\r\n\r\n")
    return int(head.split()[1]), json.loads(body)


def phone(host, cookie, files, dice, confirmed):
    """Sends each file until it is confirmed; of three tries one is cut somewhere, and one after its last byte."""
    for number, (kind, raw) in enumerate(files):
        request = request_of(host, cookie, raw, kind, number)
        while raw not in confirmed:
            cut = dice.choice([None, len(request), dice.randrange(len(request))])
            got = sent(host, request, cut)
            if got and got[0] == 200 and (got[1]["sha256"], got[1]["bytes"]) == (sha(raw), len(raw)):
                confirmed[raw] = got[1]["outcome"]


def test_five_phones_whose_connections_are_cut_at_random_lose_nothing(store, served, make_sound, make_photo):
    host, let_in = served
    sound, photo = make_sound(seconds=0.5).read_bytes(), make_photo().read_bytes()
    confirmed = {}
    threads = []
    for each in range(SENDERS):
        files = [("sound", sound + f"{each} {n}".encode()) for n in range(SOUNDS)]
        files += [("photo", photo + f"{each} {n}".encode()) for n in range(PHOTOS)]
        dice = random.Random(each)
        dice.shuffle(files)
        threads.append(threading.Thread(target=phone, args=(host, let_in(), files, dice, confirmed)))
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(1200)
    assert len(confirmed) == SENDERS * (SOUNDS + PHOTOS)
    entries = store.entries("j")
    assert sorted(entry.sha256 for entry in entries) == sorted(map(sha, confirmed))
    assert all(store.originals.path(sha(raw)).read_bytes() == raw for raw in confirmed)
    assert {"taken", "already"} == set(confirmed.values())


def test_a_piece_cut_short_leaves_nothing_behind(store, served, make_sound):
    host, let_in = served
    raw = make_sound(seconds=20).read_bytes()
    request = request_of(host, let_in(), raw, "sound", 0)
    for cut in (len(request) - 1, len(request) - len(raw), len(request) // 2):
        assert sent(host, request, cut) is None
    assert sent(host, request, None)[1]["outcome"] == "taken"
    with open_store(store.folder) as opened:  # which sweeps
        assert (len(opened.entries("j")), left(opened)) == (1, [])
