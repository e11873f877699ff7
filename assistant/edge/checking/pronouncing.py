"""How words are pronounced: the table of a language, and espeak-ng for words that it lacks, where that is installed.

Knows the file `pronunciations.yaml` and the command line of espeak-ng. Refuses to compare phrases
(`procedure/likeness.py`).
"""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterable
from functools import cache
from pathlib import Path

from assistant.edge import places
from assistant.edge.files.access import write_whole
from assistant.edge.files.grammars import read_table
from assistant.edge.sound.voices import VoiceSettings
from assistant.errors import GrammarError, VoiceError
from assistant.procedure.likeness import Pronunciations, pronunciations, words_of
from assistant.quantities import counted

BY_HAND, BY_PROGRAM = "by hand", "by espeak-ng"
_SECONDS = 30.0
_HEAD = """\
# How the words sound that may be said: signs of the IPA, a space between sounds, without stress. `enginebay check` and
# `enginebay words` tell phrases apart by it. A word by hand counts before the same word by espeak-ng.
# `enginebay words --pronounce` writes the second part anew; this one is by {version}, voice {voice}.
"""


def table_path(language: str) -> Path:
    """The file of a language."""
    return places.grammars() / language / "pronunciations.yaml"


@cache
def shipped(language: str = "en") -> Pronunciations:
    """The table of a language. Errors: GrammarError when it is damaged, EngineBayError when it cannot be read."""
    parts = _parts(language)
    return {word: said for name in (BY_PROGRAM, BY_HAND) for word, said in parts[name].items()}


def pronounced(language: str, phrases: Iterable[str], table: Pronunciations | None = None) -> Pronunciations:
    """The table, and by espeak-ng the words of these phrases that it lacks; without espeak-ng they stay unknown.

    table: None: that of the language. Errors: those of `shipped`, and VoiceError when espeak-ng fails.
    """
    table = shipped(language) if table is None else table
    lacking = dict.fromkeys(word for phrase in phrases for word in words_of(phrase) if word not in table)
    if not lacking or shutil.which("espeak-ng") is None:
        return table
    return {**_spoken(tuple(lacking)), **table}


def write_table(language: str, phrases: Iterable[str]) -> Path:
    """Writes the words of these phrases as espeak-ng pronounces them; what is by hand stays. Gives the file.

    Errors: VoiceError when espeak-ng is not installed or fails.
    """
    words = sorted({word for phrase in phrases for word in words_of(phrase)})
    parts = {BY_HAND: _parts(language)[BY_HAND], BY_PROGRAM: _spoken(tuple(words))}
    version = " ".join(_run("--version").split()[:4]).replace("text-to-speech: ", "")
    lines = [_HEAD.format(version=version, voice=VoiceSettings().voice)]
    for name, rows in parts.items():
        lines.append(f"{name}:\n" if rows else f"{name}: {{}}\n")
        lines += [f'  "{word}": {" ".join(said)}\n' for word, said in rows.items()]  # quoted, for `no` and `on`
    path = table_path(language)
    write_whole(path, "".join(lines).encode("utf-8"))
    shipped.cache_clear()
    return path


def _parts(language: str) -> dict[str, Pronunciations]:
    path = table_path(language)
    data = read_table(path)
    if not isinstance(data, dict) or set(data) != {BY_HAND, BY_PROGRAM}:
        raise GrammarError(str(path), f"it has not the two parts {BY_HAND!r} and {BY_PROGRAM!r}", "Add what lacks")
    return {name: pronunciations(rows, f"{path}, {name}") for name, rows in data.items()}


@cache
def _spoken(words: tuple[str, ...]) -> Pronunciations:
    """What espeak-ng makes of each word by itself."""
    said = _run("-q", "--ipa=1", "-v", VoiceSettings().voice, text="".join(f"{word}.\n" for word in words)).splitlines()
    if len(said) != len(words):
        cause = f"it gave {counted(len(said), 'pronunciation')} of {counted(len(words), 'word')}"
        raise VoiceError("espeak-ng", cause, "Add the words to pronunciations.yaml by hand")
    # a syllable's own l or n is two sounds; the letter g is another sign than that of the sound
    signs = (re.sub("[ˈˌ_]+", " ", line).replace("əl", "ə l").replace("ən", "ə n").replace("g", "ɡ") for line in said)
    return pronunciations(dict(zip(words, signs, strict=True)), "espeak-ng")


def _run(*arguments: str, text: str = "") -> str:
    program = shutil.which("espeak-ng")
    if program is None:
        raise VoiceError("espeak-ng", "it is not installed", "Install it with `sudo apt install espeak-ng`")
    try:
        done = subprocess.run(
            [program, *arguments], input=text, capture_output=True, text=True, timeout=_SECONDS, check=True
        )
    except (OSError, subprocess.SubprocessError) as error:
        raise VoiceError("espeak-ng", f"it failed ({error})", "Install it again with apt") from None
    return done.stdout
