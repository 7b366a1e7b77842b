"""Damaged files of every kind: read, or refused in one line; never a traceback, a hang or all of the memory."""

import random
from collections import Counter

import nasty
import pytest

from logger import sniff

COUNT, SEED = 150, 20_260_514


@pytest.fixture(scope="module")
def good(tmp_path_factory):
    return nasty.seeds(tmp_path_factory.mktemp("seeds"))


def test_every_seed_is_read(good):
    assert {path.name: nasty.ending(path) for path in good} == {path.name: ("ok", "") for path in good}
    assert {sniff.kind_of(path, path.name) for path in good} == {"sound", "photo", "text"}


def test_the_same_seed_damages_the_same_way(good):
    first, again = (list(nasty.damaged(good, random.Random(1), 40)) for _ in range(2))
    assert first == again
    assert first != list(nasty.damaged(good, random.Random(2), 40))


def test_damaged_files_are_read_or_refused_in_one_line(good, tmp_path, record_property):
    """A crash inside a decoder is not ours to mend: the worker catches it. It is counted, and must stay rare."""
    ends: Counter[str] = Counter()
    ill = []
    for name, raw in nasty.damaged(good, random.Random(SEED), COUNT):
        path = tmp_path / name
        path.write_bytes(raw)
        how, words = nasty.ending(path)
        ends[how] += 1
        if how in ("bad", "memory", "timeout"):
            ill.append((name, how, words))
    record_property("ends", dict(ends))
    assert not ill
    assert ends["crash"] <= COUNT // 50, ends
    assert ends["ok"] > COUNT // 10, ends
    assert ends["refused"] > COUNT // 10, ends


@pytest.mark.parametrize(
    ("reader", "how"),
    [
        ("raise ValueError('x')", "bad"),
        ("raise MemoryError", "memory"),
        ("bytearray(2 << 30)", "memory"),
        ("os.kill(os.getpid(), signal.SIGSEGV)", "crash"),
        ("os._exit(0)", "crash"),
        ("exec('while True: pass')", "timeout"),
    ],
)
def test_an_ill_end_is_told_by_its_kind(tmp_path, monkeypatch, reader, how):
    monkeypatch.setattr(nasty, "SECONDS", 1)
    monkeypatch.setattr(nasty, "_read", lambda path: exec(reader, vars(nasty)))
    assert nasty.ending(tmp_path)[0] == how
