import struct
from io import BytesIO

import numpy as np
import pytest

from extract.errors import FallbookError
from logger import lesson
from logger.lesson import taught, weights
from logger.model import BASE, find_model


def written(weights: dict[str, np.ndarray]) -> bytes:
    """A model.bin as CTranslate2 writes it, with these weights and one name more for the first."""

    def text(value: str) -> bytes:
        return struct.pack("<H", len(value) + 1) + value.encode() + b"\0"

    kinds = {"float32": 0, "int8": 1, "int16": 2, "int32": 3, "float16": 4}
    parts = [struct.pack("<I", 6), text("WhisperSpec"), struct.pack("<II", 3, len(weights))]
    for name, weight in weights.items():
        shape = struct.pack(f"<B{weight.ndim}I", weight.ndim, *weight.shape)
        parts += [text(name), shape, struct.pack("<BI", kinds[str(weight.dtype)], weight.nbytes), weight.tobytes()]
    return b"".join([*parts, struct.pack("<I", 1), text("alias"), text(next(iter(weights)))])


@pytest.fixture
def model() -> dict[str, np.ndarray]:
    return {
        "layer/norm": np.array([1, 2], np.float16),
        "layer/weight": np.array([[1, 0, 0], [0, 1, 0]], np.float16),
        "heads": np.array(8, np.int8),
    }


def lay_over(monkeypatch, **parts):
    file = BytesIO()
    np.savez(file, **{name: np.array(part, np.float16) for name, part in parts.items()})
    monkeypatch.setattr(lesson, "_lesson", file.getvalue)


def test_the_lesson_is_added_to_the_weights_it_names_and_to_no_other(model, monkeypatch):
    lay_over(monkeypatch, **{"layer/weight:up": [[2], [0.5]], "layer/weight:down": [[1, 0, 4]]})
    learned = {name: weight for name, _, weight in weights(taught(written(model)))}
    assert learned["layer/weight"].tolist() == [[3, 0, 8], [0.5, 1, 2]]
    assert learned["layer/norm"].tolist() == [1, 2]
    assert learned["heads"] == 8


def test_all_that_is_not_a_weight_stays_as_it_was(model, monkeypatch):
    lay_over(monkeypatch, **{"layer/weight:up": [[0], [0]], "layer/weight:down": [[1, 1, 1]]})
    assert taught(written(model)) == written(model)


def test_a_weight_is_found_where_it_stands(model):
    whole = written(model)
    for name, start, weight in weights(whole):
        assert whole[start : start + weight.nbytes] == model[name].tobytes()


@pytest.mark.parametrize("damaged", [b"", b"PK\x03\x04 no more", b"not a lesson"])
def test_a_damaged_lesson_is_told_of_in_one_line(model, monkeypatch, damaged):
    monkeypatch.setattr(lesson, "_lesson", lambda: damaged)
    with pytest.raises(FallbookError, match="lesson.npz"):
        taught(written(model))


@pytest.mark.model
def test_every_part_of_the_lesson_fits_the_weight_it_is_for():
    whole = (find_model(BASE) / "model.bin").read_bytes()
    shapes = {name: weight.shape for name, _, weight in weights(whole)}
    parts = np.load(BytesIO(lesson._lesson()), allow_pickle=False)
    names = {part.rpartition(":")[0] for part in parts}
    assert set(parts) == {f"{name}:{part}" for name in names for part in ("up", "down")}
    for name in names:
        up, down = parts[f"{name}:up"], parts[f"{name}:down"]
        assert (up.shape[0], down.shape[1]) == shapes[name]
        assert up.shape[1] == down.shape[0]
    assert taught(whole) != whole
