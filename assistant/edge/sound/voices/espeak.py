"""Speech by the program espeak-ng, one process a text.

Knows its command line and the WAV it writes on standard output. Refuses to play.
"""

from __future__ import annotations

import shutil
import subprocess
import time

from assistant.edge.sound.voices import POLL_SECONDS, WAV, VoiceSettings, is_stopped, no_sound_server, read_wav
from assistant.errors import VoiceError

FIRST_SECONDS, FIRST_A_CHARACTER = 2.5, 1 / 200  # many times what it takes; whoever listens waits for it
SECOND_SECONDS = 20.0  # on a board so busy that the first time was too short


class EspeakRenderer:
    """Renders one text at a time with `espeak-ng --stdout`."""

    name = "espeak-ng"

    def __init__(self, settings: VoiceSettings, program: str = "espeak-ng", patience: float = 1.0) -> None:
        """espeak-ng, started for each text.

        program: name or path of espeak-ng.
        patience: factor on the waiting times (for tests).

        Errors: VoiceError when it is not installed.
        """
        found = shutil.which(program)
        if found is None:
            raise VoiceError(
                "voice espeak-ng",
                f"the program {program} is not installed",
                "Install it with `sudo apt install espeak-ng`",
            )
        self._program = found
        self._settings = settings
        self._patience = patience

    def render(self, text: str) -> WAV:
        """One try, and one more if it hung or was stopped. Errors: VoiceError; also if it writes no sound."""
        command = [self._program, "-v", self._settings.voice, "-s", str(self._settings.words_a_minute)]
        # Two opening brackets would begin phoneme names.
        command += ["--stdout", "--", text.replace("[[", "[ [")]
        for seconds in (FIRST_SECONDS + FIRST_A_CHARACTER * len(text), SECOND_SECONDS):
            done = self._run(command, seconds)
            if not isinstance(done, str):
                break
        else:
            raise VoiceError("voice espeak-ng", f"it {done} twice on {text[:40]!r}", "Try again")
        if done.returncode != 0:
            said = done.stderr.decode("utf-8", "replace").strip().replace("\n", " ")
            raise VoiceError(
                "voice espeak-ng",
                f"it failed ({said or f'status {done.returncode}'})",
                f"See that `espeak-ng --voices` lists {self._settings.voice}",
            )
        return read_wav(done.stdout, "voice espeak-ng")

    def _run(self, command: list[str], seconds: float) -> subprocess.CompletedProcess[bytes] | str:
        """What it did; or in words that it hung or was stopped, in which case it is ended. Errors: VoiceError."""
        until = time.monotonic() + seconds * self._patience
        try:
            process = subprocess.Popen(
                command,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                env=no_sound_server(),
            )
        except OSError as error:
            raise VoiceError(
                "voice espeak-ng",
                f"it cannot be run ({error.strerror})",
                "End other programs, or install it again with apt",
            ) from None
        with process:
            try:
                while True:
                    try:
                        out, err = process.communicate(timeout=max(0.0, min(POLL_SECONDS, until - time.monotonic())))
                    except subprocess.TimeoutExpired:
                        if is_stopped(process.pid):
                            return "was stopped"
                        if time.monotonic() >= until:
                            return "hung"
                    else:
                        return subprocess.CompletedProcess(command, process.returncode, out, err)
            finally:
                process.kill()  # does nothing to one that has ended

    def close(self) -> None:
        """Nothing is kept."""
