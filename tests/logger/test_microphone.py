"""Which microphone is opened and how; and a line for each way in which that can fail."""

import inspect
import json
import os
import queue
import subprocess
import sys
from ctypes.util import find_library
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path

import numpy as np
import pytest

from extract.errors import FallbookError, UsageError
from logger.microphone import Block, Lost, recording

HERE = Path(__file__).parent


@pytest.fixture
def stand_in(monkeypatch, tmp_path):
    """Call it with settings of the stand-in (see microphones/sounddevice.py)."""
    raw = np.arange(4000, dtype=np.int16)
    raw.tofile(tmp_path / "sound.raw")

    def settle(folder="microphones", **settings):
        told = {"sound": str(tmp_path / "sound.raw"), "then": "finished"} | settings
        monkeypatch.setenv("STAND_IN", json.dumps(told))
        monkeypatch.syspath_prepend(str(HERE / folder))
        monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
        return raw

    yield settle
    sys.modules.pop("sounddevice", None)


def recorded(wanted=None):
    """The microphone, and what came from it until it was lost."""
    events = queue.SimpleQueue()
    with recording(wanted, events.put) as microphone:
        blocks = []
        while not isinstance(event := events.get(timeout=10), Lost):
            blocks.append(event)
        microphone.lost = True
    return microphone, blocks


def test_the_machine_s_default_records_at_the_rate_of_the_model(stand_in):
    raw = stand_in(overrun=[1])
    microphone, blocks = recorded()
    assert (microphone.name, microphone.rate) == ("Lid microphone", 16_000)
    assert all(isinstance(each, Block) for each in blocks)
    assert np.array_equal(np.concatenate([each.samples for each in blocks]), raw)
    assert [each.overrun for each in blocks] == [False, True, False]


def test_a_part_of_the_name_chooses_another(stand_in):
    stand_in()
    assert recorded("HEADSET")[0].name == "Tarn headset"


def test_one_that_cannot_do_that_records_as_it_can(stand_in):
    raw = stand_in(refused=[16_000], least_channels=2)
    microphone, blocks = recorded()
    assert microphone.rate == 48_000
    means = raw.reshape(-1, 2).mean(axis=1).astype(np.int16)
    assert np.array_equal(np.concatenate([each.samples for each in blocks]), means)


def test_one_that_opens_and_does_not_start_is_closed_and_tried_otherwise(stand_in):
    stand_in(fails_to_start=[16_000])
    assert recorded()[0].rate == 48_000
    assert sys.modules["sounddevice"].CALLS == ["start", "close", "start", "close", "start", "abort", "close"]


def test_one_that_never_starts_says_why_in_one_line(stand_in):
    stand_in(fails_to_start=[16_000, 48_000])
    with pytest.raises(FallbookError, match=r"cannot be opened \(Device unavailable\); close what else"):
        recorded()
    assert sys.modules["sounddevice"].CALLS == ["start", "close"] * 4


def test_one_that_is_well_gives_all_it_holds(stand_in):
    stand_in(then="silence")
    with recording(None, lambda event: None):
        pass
    assert sys.modules["sounddevice"].CALLS == ["start", "stop", "close"]


def test_a_lost_one_is_not_waited_for(stand_in):
    stand_in()
    recorded()
    assert sys.modules["sounddevice"].CALLS == ["start", "abort", "close"]


def test_a_name_that_none_has_lists_those_there_are(stand_in):
    stand_in()
    with pytest.raises(UsageError) as caught:
        recorded("loudspeaker")
    assert str(caught.value) == ("no microphone has 'loudspeaker' in its name; there are: Lid microphone; Tarn headset")


def test_a_machine_without_one_says_so(stand_in):
    stand_in(devices=[("Loudspeaker", 0)])
    with pytest.raises(
        FallbookError, match=r"^no microphone was found; plug one in, or switch it on, and run it again$"
    ):
        recorded()


def test_one_that_cannot_be_opened_says_why_in_one_line(stand_in):
    stand_in(refused=[16_000, 48_000])
    with pytest.raises(FallbookError) as caught:
        recorded()
    assert str(caught.value) == (
        "the microphone 'Lid microphone' cannot be opened (Invalid sample rate); close what else "
        "records from it, or choose another with --microphone"
    )


def test_without_portaudio_the_package_is_named(stand_in):
    stand_in("no_portaudio")
    with pytest.raises(FallbookError, match="PortAudio, .* is missing; on Debian: apt install libportaudio2"):
        recorded()


def test_without_sounddevice_it_says_what_to_do(monkeypatch):
    monkeypatch.setitem(sys.modules, "sounddevice", None)
    with pytest.raises(FallbookError, match="sounddevice is missing; run make again"):
        recorded()


@pytest.mark.outside
def test_the_real_library_takes_what_the_stand_in_takes(monkeypatch):
    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)  # another test may have put the stand-in there
    try:
        import sounddevice as real
    except OSError:
        pytest.skip("Debian package libportaudio2 is not installed")
    spec = spec_from_file_location("stand_in", HERE / "microphones" / "sounddevice.py")
    ours = module_from_spec(spec)
    spec.loader.exec_module(ours)
    assert ours.__file__ != real.__file__
    asked = set(inspect.signature(ours.RawInputStream).parameters)
    assert asked <= set(inspect.signature(real.RawInputStream).parameters)
    assert all(callable(getattr(real.RawInputStream, name)) for name in ("start", "stop", "abort", "close"))
    assert not real.CallbackFlags().input_overflow
    assert issubclass(real.PortAudioError, Exception)


@pytest.mark.outside
def test_the_real_library_lists_what_the_stand_in_lists(tmp_path):
    if find_library("portaudio") is None:
        pytest.skip("Debian package libportaudio2 is not installed")
    (tmp_path / ".asoundrc").write_text("pcm.!default { type null }")  # a machine without one has none to list
    listed = subprocess.run(
        [sys.executable, "-c", "import json, sounddevice; print(json.dumps(list(sounddevice.query_devices())))"],
        capture_output=True, text=True, env=os.environ | {"HOME": str(tmp_path), "JACK_NO_START_SERVER": "1"},
    )  # fmt: skip
    devices = json.loads(listed.stdout)
    assert devices
    for each in devices:
        assert {"index", "name", "max_input_channels", "default_samplerate"} <= set(each)
