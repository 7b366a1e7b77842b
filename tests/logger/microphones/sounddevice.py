"""Stands in for the library sounddevice: microphones of which one plays a file, as the environment says in STAND_IN.

STAND_IN is JSON: `sound`, a file of 16-bit samples; `then`, what happens after it: "interrupt", "finished" (the system
tells that it was unplugged), "nothing" (no more comes) or "silence" (it goes on); `overrun`, the number of a block
before which sound was lost; `devices`; `refused`, rates that it cannot do; `least_channels`.
"""

import json
import os
import signal
import threading
import time

SETTINGS = json.loads(os.environ.get("STAND_IN", "{}"))
DEVICES = [("Loudspeaker", 0), ("Lid microphone", 2), ("Tarn headset", 1)]


class PortAudioError(Exception):
    pass


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
            raise PortAudioError("Invalid sample rate\n[PaErrorCode -9997]")
        assert dtype == "int16"
        self.callback, self.finished, self.bytes = callback, finished_callback, blocksize * channels * 2
        self.stopped = threading.Event()
        self.thread = threading.Thread(target=self._play, daemon=True)

    def start(self):
        self.thread.start()

    def stop(self):
        self.stopped.set()
        self.thread.join()
        self.finished()

    abort = stop

    def close(self):
        pass

    def _play(self):
        with open(SETTINGS["sound"], "rb") as file:
            number = 0
            while block := file.read(self.bytes):
                self._give(block, number == SETTINGS.get("overrun"))
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
