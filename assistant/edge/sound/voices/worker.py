"""The process in which pyttsx3 renders speech: its hanging loop and its printing cannot touch the program.

Run by `pyttsx.py` as a script with two arguments, voice and pace in words a minute; imports nothing of the program.
When it is ready it says so, then takes one request a line on standard input, JSON with the keys text and path, and
gives one answer a line on the original standard output: {} or {"error": text}. Ends when standard input ends, even
if the driver hangs.

Facts of pyttsx3 2.99 with espeak-ng, by trial under load: `runAndWait` returns while espeak-ng is still at work in a
thread of its own, so the end is taken from the event "finished-utterance"; a late end of one text can end the next
before it has sounded, so a file without sound is tried again; setting the voice races with setting the pace, so both
are set once and the pace is read back; of several queued texts only the last is written.
"""

from __future__ import annotations

import json
import os
import queue
import sys
import threading
import time
import wave
from typing import Any

ATTEMPTS = 5
SETTLE_SECONDS = 0.3


class Driver:
    """pyttsx3 held to one voice and one pace."""

    def __init__(self, voice: str, words_a_minute: int) -> None:
        import pyttsx3

        self._finished = threading.Event()
        self._words_a_minute = words_a_minute
        self._engine: Any = pyttsx3.init("espeak")
        self._engine.connect("finished-utterance", lambda **_: self._finished.set())
        self._engine.connect("error", self._failed)
        self._error: BaseException | None = None
        self._engine.setProperty("voice", voice)
        self._engine.runAndWait()  # carries out what is queued; once more with nothing to say, it would hang
        if self._error is not None:
            raise self._error
        self._hold_pace()

    def write(self, text: str, path: str) -> None:
        """Renders the text to the path."""
        for _ in range(ATTEMPTS):
            self._finished.clear()
            self._error = None
            self._engine.save_to_file(text, path)
            self._engine.runAndWait()
            self._finished.wait()  # for ever, if need be: the other side has the clock
            if self._error is not None:
                raise self._error
            if self._engine.getProperty("rate") == self._words_a_minute and _sounds(path):
                return
            time.sleep(SETTLE_SECONDS)  # what is still under way must not run into the next attempt
            self._hold_pace()
        raise RuntimeError(f"no sound at the pace that was set in {ATTEMPTS} attempts")

    def _hold_pace(self) -> None:
        for _ in range(ATTEMPTS):
            self._engine.setProperty("rate", self._words_a_minute)
            for _ in range(100):
                if self._engine.getProperty("rate") == self._words_a_minute:
                    return
                time.sleep(0.005)
        raise RuntimeError("the pace cannot be set")

    def _failed(self, exception: BaseException, **_: object) -> None:
        self._error = exception
        self._finished.set()


def _sounds(path: str) -> bool:
    """Whether a WAV with anything but silence lies there."""
    try:
        with wave.open(path, "rb") as file:
            return any(file.readframes(file.getnframes()))
    except (OSError, EOFError, wave.Error):
        return False


def main() -> None:
    """Serves requests until standard input ends."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)  # pyttsx3 prints "Audio saved to"; espeak-ng may print too
    os.dup2(nowhere, 2)

    def answer(error: BaseException | None = None) -> None:
        answers.write(json.dumps({} if error is None else {"error": f"{type(error).__name__}: {error}"}) + "\n")
        answers.flush()

    requests: queue.Queue[str] = queue.Queue()

    def read() -> None:
        for line in sys.stdin:
            requests.put(line)
        os._exit(0)  # whoever asked is gone; a hanging driver must not outlive it

    threading.Thread(target=read, daemon=True).start()
    try:
        driver = Driver(sys.argv[1], int(sys.argv[2]))
    except Exception as error:  # whatever the driver raises, the other side is told
        answer(error)
        return
    answer()
    while True:
        request = json.loads(requests.get())
        try:
            driver.write(request["text"], request["path"])
        except Exception as error:  # as above
            answer(error)
        else:
            answer()


if __name__ == "__main__":
    main()
