"""Stands in for the library sounddevice: microphones of which one plays a file, as the environment says in STAND_IN.

STAND_IN is JSON: `sound`, a file of 16-bit samples; `then`, what happens after it: "interrupt", "finished" (the system
tells that it was unplugged), "nothing" (no more comes) or "silence" (it goes on); `overrun`, the numbers of
blocks before which sound was lost; `gap`, the number of a block before which it sleeps for 1.5 s; `devices`; `refused`,
rates that it cannot do; `fails_to_start`, rates at which it can be opened and not started; `least_channels`.
"""

import json
import os
import signal
import threading
import time

SETTINGS = json.loads(os.environ.get("STAND_IN", "{}"))
CALLS = []
"""What was called of streams."""
DEVICES = [("Loudspeaker", 0), ("Lid microphone", 2), ("Tarn headset", 1)]


class PortAudioError(Exception):
    def __str__(self):
        return " ".join([self.args[0], *(f"[PaErrorCode {each}]" for each in self.args[1:])])


class Status:
    def __init__(self, overrun):
        self.input_overflow = overrun


def query_devices(kind=None):
    devices = [
        {"index": index, "name": name, "max_input_channels": channels, "default_samplerate": 48000.0}
        for index, (name, channels) in enumerate(SETTINGS.get("devices", DEVICES))
    ]
    return devices[1] if kind == "input" else devices


class RawInputStream:
    def __init__(self, *, device, samplerate, channels, dtype, blocksize, latency, callback, finished_callback):
        if samplerate in SETTINGS.get("refused", []) or channels < SETTINGS.get("least_channels", 1):
            raise PortAudioError("Invalid sample rate", -9997)
        assert dtype == "int16"
        self.fails_to_start = samplerate in SETTINGS.get("fails_to_start", [])
        self.callback, self.finished, self.bytes = callback, finished_callback, blocksize * channels * 2
        self.stopped = threading.Event()
        self.thread = threading.Thread(target=self._play, daemon=True)

    def start(self):
        CALLS.append("start")
        if self.fails_to_start:
            raise PortAudioError("Device unavailable", -9985)
        self.thread.start()

    def stop(self):
        CALLS.append("stop")
        assert SETTINGS.get("then") not in ("finished", "nothing"), "to wait for what a lost microphone holds may hang"
        self._end()

    def abort(self):
        CALLS.append("abort")
        self._end()

    def close(self):
        CALLS.append("close")

    def _end(self):
        self.stopped.set()
        self.thread.join()
        self.finished()

    def _play(self):
        with open(SETTINGS["sound"], "rb") as file:
            number = 0
            while block := file.read(self.bytes):
                time.sleep(1.5 * (number == SETTINGS.get("gap")))
                self._give(block, number in SETTINGS.get("overrun", []))
                number += 1
        then = SETTINGS.get("then", "interrupt")
        if then == "interrupt":
            os.kill(os.getpid(), signal.SIGINT)
        elif then == "finished":
            self.finished()
        while then == "silence" and not self.stopped.is_set():
            self._give(bytes(self.bytes), False)
            time.sleep(0.1)

    def _give(self, block, overrun):
        self.callback(memoryview(block), len(block) // 2, None, Status(overrun))
