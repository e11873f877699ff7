"""Speech by the program espeak-ng, one process a text.

Knows its command line and the WAV it writes on standard output. Refuses to play.
"""

from __future__ import annotations

import shutil
import subprocess

from assistant.edge.voices import WAV, VoiceSettings, read_wav
from assistant.errors import VoiceError

RENDER_SECONDS = 20.0


class EspeakRenderer:
    """Renders one text at a time with `espeak-ng --stdout`."""

    name = "espeak-ng"

    def __init__(self, settings: VoiceSettings, program: str = "espeak-ng") -> None:
        """program: name or path of espeak-ng. Errors: VoiceError when it is not installed."""
        found = shutil.which(program)
        if found is None:
            raise VoiceError(
                "voice espeak-ng",
                f"the program {program} is not installed",
                "Install it with `sudo apt install espeak-ng`",
            )
        self._program = found
        self._settings = settings

    def render(self, text: str) -> WAV:
        """Errors: VoiceError when the program fails, hangs or writes no sound."""
        command = [self._program, "-v", self._settings.voice, "-s", str(self._settings.words_a_minute)]
        # Two opening brackets would begin phoneme names.
        command += ["--stdout", "--", text.replace("[[", "[ [")]
        try:
            done = subprocess.run(
                command, stdin=subprocess.DEVNULL, capture_output=True, timeout=RENDER_SECONDS, check=True
            )
        except subprocess.TimeoutExpired:
            raise VoiceError("voice espeak-ng", f"it hung on {text[:40]!r}", "Try again") from None
        except subprocess.CalledProcessError as error:
            said = error.stderr.decode("utf-8", "replace").strip().replace("\n", " ")
            raise VoiceError(
                "voice espeak-ng",
                f"it failed ({said or f'status {error.returncode}'})",
                f"See that `espeak-ng --voices` lists {self._settings.voice}",
            ) from None
        except OSError as error:
            raise VoiceError(
                "voice espeak-ng", f"it cannot be run ({error.strerror})", "Install it again with apt"
            ) from None
        return read_wav(done.stdout, "voice espeak-ng")

    def close(self) -> None:
        """Nothing is kept."""
