"""A stand-in for the library sounddevice in a process of its own: one headset, there while a file exists.

The file's path is in the environment (STAND_IN). The microphone hears a tone, the loudspeaker keeps real time. When
the file is gone the streams end, as PortAudio's do; when it says `stuck`, they stay in a loop that nothing ends and
that floods standard error, as those of an old PortAudio on ALSA do, and so does whoever looks for devices.
"""

import os
import sys
import threading
import time
import types
from pathlib import Path

import numpy as np

HEADSET = Path(os.environ["STAND_IN"])
RATE = 48000


class PortAudioError(Exception):
    """As sounddevice names it."""


def _stay_while_stuck():
    while HEADSET.exists() and HEADSET.read_text() == "stuck":
        print("Expression 'ready' failed", file=sys.stderr, flush=True)


def query_devices(wanted=None, kind=None):
    _stay_while_stuck()
    there = [{"name": "USB headset", "index": 0, "max_input_channels": 1, "max_output_channels": 1}]
    there = there if HEADSET.exists() else []
    if kind is None:
        return there
    if not there or wanted not in (None, 0, "headset"):
        raise ValueError("no device")
    return there[0] | {"default_samplerate": float(RATE)}


class _Stream:
    latency = 0.0

    def __init__(self, **settings):
        self._settings = settings
        self._size = settings["blocksize"]
        self._running = False

    def start(self):
        self._running = True
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def abort(self):
        self._running = False
        self._thread.join()  # for ever, if it is stuck

    close = abort

    def _run(self):
        while self._running and HEADSET.exists():
            _stay_while_stuck()
            time.sleep(self._size / RATE)
            self._block()
        self._settings["finished_callback"]()


class InputStream(_Stream):
    def _block(self):
        tone = 0.5 * np.sin(2 * np.pi * 440 * np.arange(self._size) / RATE)
        self._settings["callback"](
            tone[:, None].astype(np.float32), self._size, None, types.SimpleNamespace(input_overflow=False)
        )


class OutputStream(_Stream):
    def _block(self):
        self._settings["callback"](np.ones((self._size, 1), np.float32), self._size, None, None)
