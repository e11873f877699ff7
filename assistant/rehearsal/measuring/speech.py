"""What is spoken when hearing is measured: the split of the voices, the plan of what they say, and the rendered sound.

The split is fixed here. espeak-ng is the tuning side: it was in the encoder's training, with other words, and the
judgement is fitted on it. flite is held out: no part of it was in any training or fit. People are reported and never
tuned on. Every clip is rendered once into a folder, so that a machine without synthesisers can measure.

Knows the synthesisers' voices, what is said in which state, the folder. Refuses to know noise and recognisers.
"""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.edge import places
from assistant.edge.files.language import Language
from assistant.edge.sound.sound_files import read_sound, write_ogg
from assistant.errors import EngineBayError, GrammarError
from assistant.grammar.numbers import cardinal
from assistant.grammar.spoken import spoken
from assistant.rehearsal.adapting.speech_sources import HELD_OUT as NEURAL
from assistant.rehearsal.adapting.speech_sources import Neural, phonemes
from assistant.rehearsal.measuring.states import (
    ListeningState,
    drawn,
    people_states,
    reading,
    sentences,
    shipped_steps,
    truth,
    unit_words,
)
from assistant.rehearsal.noise import ACTIVE_BELOW_LOUDEST, ACTIVE_FRAME_SECONDS
from assistant.rehearsal.technician_voice import said_by

Sound = NDArray[np.float32]
RATE = 16_000

TUNING, HELD_OUT, PEOPLE, YOURS = "tuning", "held out", "people", "yours"
SIDES = {
    TUNING: "espeak-ng: its English accents and mouths (in the encoder's training too, with other words); and with "
    "--neural four neural voices and mixes of them (in no training)",
    HELD_OUT: "flite: slt, rms, awb, kal16 at many speeds, pitches and lengths of the throat (in no training, no fit)",
    PEOPLE: "asterisk-core-sounds-en (one speaker), pocketsphinx-testdata (another), tuxpaint-stamps-default (as "
    "far as is known a third): reported, in no training, no fit; people who speak six other languages, for what is not "
    "to be heard (four of them in the encoder's training, without text); those of four more are on the tuning side",
    YOURS: "the folder given by --speech",
}
"""Which speech is whose. Printed with every report."""

ESPEAK_ACCENTS = (
    "gmw/en-US", "gmw/en-GB-scotland", "gmw/en-GB-x-gbclan", "gmw/en-GB-x-rp", "gmw/en-GB-x-gbcwmd", "gmw/en-029",
    "gmw/en-US-nyc",
)  # fmt: skip
ESPEAK_VARIANTS = (*(f"m{n}" for n in range(1, 9)), *(f"f{n}" for n in range(1, 6)))
FLITE_VOICES = {"slt": 170, "rms": 105, "awb": 125, "kal16": 105}  # with their pitch in hertz
OWN_VOICE = ("-v", "gmw/en", "-s", "165")  # the assistant's, as `VoiceSettings` has it

TALK = {
    TUNING: (
        ("could you pass me", "I have lost", "somebody took", "we should order", "he wants", "look at"),
        ("the spanner", "those gloves", "a bucket", "some rags", "the big hammer", "my lunch", "that old radio"),
        ("from the van", "before lunch", "for Friday", "over by the door", "if you can", "again"),
    ),
    HELD_OUT: (
        ("did you see", "I told him about", "they never brought", "can you move", "she is painting", "who ordered",
         "that must be", "my brother sold", "put away", "I cannot find"),
        ("the blue trailer", "a new pair of boots", "the match on the telly", "his coffee", "these empty boxes",
         "the wrong parcel", "your neighbour's dog", "the long ladder", "a ticket for the ferry", "the paint"),
        ("yesterday", "behind the shed", "on the way home", "when it rained", "with the other keys", "in the office",
         "as soon as you can", "for the weekend", "without asking", "and the radio is too loud"),
    ),
}  # fmt: skip
"""What is said to somebody else: one of each column."""

FOREIGN = {
    "gmw/de": ("Kannst du mir bitte den Schraubenschlüssel geben?", "Das Wetter wird morgen wieder besser.",
               "Wir müssen nächste Woche neue Teile bestellen.", "Nein, das habe ich ihm gestern schon gesagt."),
    "roa/fr": ("Est-ce que tu peux fermer la porte, s'il te plaît ?", "On se retrouve à midi devant le garage.",
               "Il faut encore changer trois pneus avant ce soir.", "Je ne sais pas où il a mis les clés."),
    "roa/es": ("Pásame la llave grande, por favor.", "Mañana vamos a empezar muy temprano.",
               "Creo que el camión llega a las siete.", "No me gusta nada ese ruido."),
    "roa/it": ("Dove hai messo la scatola degli attrezzi?", "Domani arriva il camion con i pezzi nuovi.",
               "Non sento niente con tutto questo rumore.", "Andiamo a prendere un caffè."),
    "roa/pt": ("Onde está a caixa de ferramentas?", "Amanhã vamos acabar este trabalho.", "Ele chegou muito tarde.",
               "Não consigo abrir esta porta."),
    "gmw/nl": ("Kun je even het licht aandoen?", "Morgen komt de nieuwe pomp binnen.", "Ik heb het hem al verteld.",
               "We zijn bijna klaar met dit werk."),
    "gmq/sv": ("Kan du hålla i den här lampan?", "Vi äter lunch klockan tolv.", "Jag hittar inte mina handskar.",
               "Det regnar hela veckan."),
    "zlw/pl": ("Podaj mi proszę duży klucz.", "Jutro przyjedzie nowa część.", "Nie wiem, gdzie on jest.",
               "Musimy skończyć przed obiadem."),
    "zlw/cs": ("Podej mi prosím tu lampu.", "Zítra začneme dřív.", "Kde jsou ty nové šrouby?", "To jsem neříkal."),
    "zle/ru": ("Передай мне, пожалуйста, ключ.", "Завтра будет дождь.", "Я не знаю, где он.",
               "Нам нужно закончить сегодня."),
    "urj/fi": ("Voisitko antaa minulle avaimen?", "Huomenna tulee uusi pumppu.", "En löydä käsineitäni.",
               "Mennään kahville."),
    "trk/tr": ("Bana büyük anahtarı verir misin?", "Yarın erken başlayacağız.", "Bu sesi hiç sevmiyorum.",
               "Yeni parça ne zaman gelecek?"),
    "inc/hi": ("कृपया मुझे चाबी दे दो।", "कल हम जल्दी शुरू करेंगे।", "मुझे नहीं पता वह कहाँ है।", "चलो चाय पीते हैं।"),
}  # fmt: skip

NUMBERS_RECORDED = (*range(21), *range(30, 100, 10))
WORDS_RECORDED = {
    **{f"digits/h-{at}": word for at, word in zip((*range(1, 21), 30), (
        "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh",
        "twelfth", "thirteenth", "fourteenth", "fifteenth", "sixteenth", "seventeenth", "eighteenth", "nineteenth",
        "twentieth", "thirtieth"), strict=True)},
    **{f"phonetic/{word[0]}_p": word for word in (
        "alpha", "bravo", "charlie", "delta", "echo", "foxtrot", "golf", "hotel", "india", "juliet", "kilo", "lima",
        "mike", "november", "oscar", "papa", "quebec", "romeo", "sierra", "tango", "uniform", "victor", "whiskey",
        "x-ray", "yankee", "zulu")},
    **{f"digits/day-{at}": word for at, word in enumerate((
        "sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"))},
    **{f"digits/mon-{at}": word for at, word in enumerate((
        "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
        "december"))},
}  # fmt: skip
CARDS_RECORDED = (
    "ten of clubs", "four queen of clubs", "seven of clubs", "five five",
    "eight of spades four of clubs seven of hearts",
)  # fmt: skip
ANIMALS_RECORDED = (
    "badger", "bear", "beaver", "bee", "bison", "blackbird", "bull", "camel", "cow", "crow", "cuckoo", "deer", "doe",
    "dog", "dolphin", "donkey", "dromedary", "duck", "elephant", "ferret", "fly", "fox", "frog", "giraffe", "goat",
    "gorilla", "grasshopper", "hen", "hippopotamus", "hornet", "horse", "iguana", "kangaroo", "koala", "lark", "lion",
    "marmot", "mouse", "orca", "otter", "owl", "penguin", "pig", "pigeon", "quetzal", "rabbit", "ram", "rat", "seagull",
    "tiger", "turkey", "vulture", "wallaby", "wapiti", "whale", "wombat", "yak", "zebra", "zebu",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class TrialClip:
    """One utterance.

    side: of the split.
    role: command, reading, hold, grammar, person, talk, foreign or own.
    state: where it is heard.
    truth: what it means there, empty when it means nothing.
    file: holds its sound.
    start, length: where it lies in the file, in samples.
    """

    number: int
    side: str
    role: str
    voice: str
    text: str
    state: str = ""
    truth: str = ""
    file: str = ""
    start: int = 0
    length: int = 0


@dataclass(frozen=True, slots=True)
class Size:
    """How many clips of each role on the held-out side and on the tuning side."""

    held_out: dict[str, int]
    tuning: dict[str, int]


LONG = Size(
    {"command": 3060, "reading": 1520, "hold": 400, "grammar": 600, "talk": 360, "foreign": 364, "own": 150},
    {"command": 840, "reading": 640, "hold": 240, "talk": 240},
)
SHORT = Size(
    {"command": 48, "reading": 20, "hold": 8, "grammar": 16, "talk": 10, "foreign": 13, "own": 4},
    {"command": 0, "reading": 0, "hold": 0, "talk": 0},
)


# --- what is said -----------------------------------------------------------------------------------------------------


def plan(
    size: Size, seed: int, every: dict[str, ListeningState], language: Language, neural: bool = False
) -> list[TrialClip]:
    """What the synthetic voices say, the same for the same seed. A voice is a text that `rendered` understands.

    neural: half of the tuning side is said by neural voices.
    """
    clips: list[TrialClip] = []
    for side, counts in ((HELD_OUT, size.held_out), (TUNING, size.tuning)):
        for role, count in counts.items():
            chance = random.Random(f"{seed} {side} {role}")
            texts = _texts(role, side, count, every, language, chance)
            for text, state, means in texts:
                clips.append(
                    TrialClip(len(clips), side, role, _voice(role, side, text, chance, neural), text, state, means)
                )
    return clips


def _texts(
    role: str, side: str, count: int, every: dict[str, ListeningState], language: Language, chance: random.Random
) -> Iterator[tuple[str, str, str]]:
    """(text, state, meaning): finite sets in turn, so that each phrase comes as often as the others."""
    if role == "own":
        said = list(_prompts(language))
        yield from ((said[at % len(said)], "", "") for at in range(count))
    elif role == "foreign":
        lines = [text for of in zip(*FOREIGN.values(), strict=True) for text in of]
        yield from ((lines[at % len(lines)], "", "") for at in range(count))
    elif role == "talk":
        yield from ((" ".join(chance.choice(part) for part in TALK[side]), "", "") for _ in range(count))
    elif role == "reading":
        words, units = unit_words(language), [state.unit for state in every.values() if state.kind == "reading"]
        for at in range(count):
            unit = units[at % len(units)] or ""
            state = every[f"reading {unit}".rstrip()]
            text, means = reading(unit, words.get(unit, ()), chance)
            if truth(state, text, language) != means:
                raise GrammarError(state.name, f"{text!r} does not mean {means}", "Compare say_number with the grammar")
            yield text, state.name, means
    else:
        phrases = [
            (state, text) for state in every.values() if state.kind == role for text in _of(state, chance, count)
        ]
        for at in range(count if phrases else 0):
            state, text = phrases[at % len(phrases)]
            yield text, state.name, truth(state, text, language)


def _of(state: ListeningState, chance: random.Random, count: int) -> Sequence[str]:
    if state.kind == "grammar":
        return [drawn(state.graph, chance) for _ in range(count)]
    if state.kind == "hold":
        return [state.name.removeprefix("hold ")]
    return sentences(state)


def _prompts(language: Language) -> Iterator[str]:
    """What the assistant says: the texts of the shipped steps, and its own messages with the words of its commands."""
    from assistant.dialogue import messages as m
    from assistant.meanings import CommandName

    commands = tuple(CommandName)
    for first in range(0, len(commands), 4):
        yield language.wording.aloud(m.Choices(commands[first : first + 4]))
    for text in dict.fromkeys(text for step in shipped_steps() for text in step.prompts() if len(text) > 20):
        yield spoken(text, language.wording.forms)


# --- voices -----------------------------------------------------------------------------------------------------------


def _flite(chance: random.Random) -> str:
    name = chance.choice(list(FLITE_VOICES))
    pitch, pace, throat = (
        FLITE_VOICES[name] * chance.uniform(0.85, 1.2),
        chance.uniform(0.85, 1.25),
        chance.uniform(0.92, 1.09),
    )
    return f"flite {name} pace {pace:.2f} pitch {pitch:.0f} throat {throat:.2f}"


def _espeak(accent: str, chance: random.Random) -> str:
    variant, pace, pitch = chance.choice(ESPEAK_VARIANTS), chance.randint(130, 195), chance.randint(20, 80)
    return f"espeak-ng {accent}+{variant} pace {pace} pitch {pitch}"


def _neural(chance: random.Random) -> str:
    accent = chance.choice(("a", "b"))  # American, British
    first, second = (name for name in NEURAL if name.startswith(accent))
    return f"neural {first} {second} share {chance.random():.2f} speed {chance.uniform(0.85, 1.2):.2f}"


def _voice(role: str, side: str, text: str, chance: random.Random, neural: bool) -> str:
    if role == "own":
        return "the assistant"
    if role == "foreign":
        return _espeak(next(name for name, lines in FOREIGN.items() if text in lines), chance)
    if side == TUNING and neural and chance.random() < 0.5:
        return _neural(chance)
    return _flite(chance) if side == HELD_OUT else _espeak(chance.choice(ESPEAK_ACCENTS), chance)


def rendered(voice: str, text: str, neural: Neural | None = None) -> Sound:
    """The text in a voice of the plan, without its silent ends. Errors: VoiceError."""
    parts = voice.split()
    text = " ".join(_LETTERS.get(word, word) for word in text.split(" "))
    if parts[0] == "flite":
        stretch, pitch, throat = (float(parts[at]) for at in (3, 5, 7))
        arguments = ("-voice", parts[1], "--setf", f"duration_stretch={stretch * throat}")
        sound = said_by("flite", (*arguments, "--setf", f"int_f0_target_mean={pitch / throat}"), text, voice)
        import soxr

        sound = soxr.resample(sound, RATE * throat, RATE).astype(np.float32)  # a longer or shorter throat
    elif parts[0] == "neural":
        assert neural is not None
        signs = phonemes(text, american=parts[1].startswith("a"))
        sound = neural.say(signs, parts[1:3], float(parts[4]), float(parts[6]))
    elif parts[0] == "espeak-ng":
        sound = said_by("espeak-ng", ("-v", parts[1], "-s", parts[3], "-p", parts[5]), text, voice)
    else:
        sound = said_by("espeak-ng", OWN_VOICE, text, voice)
    return trimmed(sound)


_LETTERS = {"psi": "P S I", "rpm": "R P M"}  # which the voices would read as words


def trimmed(sound: Sound) -> Sound:
    """Without what is silent before and after the speech, by the frames of `speech_level`, 20 ms kept at each end."""
    size = round(ACTIVE_FRAME_SECONDS * RATE)
    level = np.sqrt(np.mean(np.pad(sound, (0, -len(sound) % size)).reshape(-1, size) ** 2, axis=1))
    heard = np.flatnonzero(level >= level.max() * ACTIVE_BELOW_LOUDEST)
    return sound[max(0, heard[0] - 1) * size : (heard[-1] + 2) * size]


# --- people -----------------------------------------------------------------------------------------------------------


def recordings(packages: Path, language: Language) -> Iterator[tuple[TrialClip, Sound]]:
    """People out of Debian packages, which are fetched when they are missing. The sound is theirs, untrimmed."""
    from assistant.rehearsal.adapting.speech import decoded, package_files

    every = person_states()
    asterisk = [(f"digits/{n}", " ".join(cardinal(n)), "person numbers") for n in NUMBERS_RECORDED]
    asterisk += [(name, word, "person words") for name, word in WORDS_RECORDED.items()]
    for package, suffix in (("asterisk-core-sounds-en-wav", "wav"), ("asterisk-core-sounds-en-g722", "g722")):
        folder = package_files(package, packages)[0] / "usr/share/asterisk/sounds/en_US_f_Allison"
        width = "8 kHz" if suffix == "wav" else "16 kHz"
        for name, text, state in asterisk:
            path = folder / f"{name}.{suffix}"
            sound = read_sound(path) if suffix == "wav" else decoded([path], "g722")
            means = truth(every[state], text, language)
            yield TrialClip(0, PEOPLE, "person", f"a person, {width}", text, state, means), sound
    folder = package_files("pocketsphinx-testdata", packages)[0] / "usr/share/pocketsphinx/test/data/cards"
    for number, text in enumerate(CARDS_RECORDED, 1):
        means = truth(every["person cards"], text, language)
        sound = read_sound(folder / f"{number:03d}.wav")
        yield TrialClip(0, PEOPLE, "person", "another person, 16 kHz", text, "person cards", means), sound
    found = {path.stem.partition("_")[0]: path for path in _stamps(packages, "")}
    for animal in ANIMALS_RECORDED:
        means = truth(every["person animals"], animal, language)
        yield (
            TrialClip(0, PEOPLE, "person", "a third person", animal, "person animals", means),
            read_sound(found[animal]),
        )


def _stamps(packages: Path, ending: str) -> list[Path]:
    """What people say about pictures.

    ending: of a language, empty for English.
    """
    from assistant.rehearsal.adapting.speech import package_files

    return sorted(package_files("tuxpaint-stamps-default", packages)[0].rglob(f"*_desc{ending}.ogg"))


FOREIGN_RECORDED = {"es": "Spanish", "fr": "French", "it": "Italian", "ru": "Russian"}
FOREIGN_ON_STAMPS = {
    PEOPLE: {"be": "Belarusian", "el": "Greek", "es": "Spanish", "fr": "French", "ru": "Russian"},
    TUNING: {"bg": "Bulgarian", "ca": "Catalan", "da": "Danish", "ro": "Romanian"},
}
"""Other people than those of FOREIGN_RECORDED, one or more a language: a word or a sentence about a picture."""
_OF_EACH = {PEOPLE: 90, TUNING: 150}


def foreign_speech(packages: Path) -> Iterator[tuple[TrialClip, Sound]]:
    """People who speak other languages, out of Debian packages: what nobody says to the assistant.

    The encoder has heard those of FOREIGN_RECORDED in its training, without text.
    """
    from assistant.rehearsal.adapting.speech import decoded, package_files

    for language, name in FOREIGN_RECORDED.items():
        folder = package_files(f"asterisk-core-sounds-{language}-g722", packages)[0]
        paths = [path for path in sorted(folder.rglob("*.g722")) if path.is_file() and "silence" not in str(path)]
        yield from _some(PEOPLE, f"a person, {name}", language, paths, lambda path: decoded([path], "g722"))
    for side, languages in FOREIGN_ON_STAMPS.items():
        for language, name in languages.items():
            yield from _some(side, f"another person, {name}", language, _stamps(packages, f"_{language}"), read_sound)


def _some(
    side: str, voice: str, language: str, paths: Sequence[Path], read: Callable[[Path], Sound]
) -> Iterator[tuple[TrialClip, Sound]]:
    """Of one language's recordings as many as the side has of each, drawn; neither very short nor very long ones."""
    for path in random.Random(language).sample(paths, _OF_EACH[side]):
        sound = read(path)
        if 0.3 * RATE < len(sound) < 12 * RATE:
            yield TrialClip(0, side, "foreign", voice, path.stem), trimmed(sound)


def person_states() -> dict[str, ListeningState]:
    """The states that recordings of people are heard in."""
    lists = {"words": tuple(WORDS_RECORDED.values()), "animals": ANIMALS_RECORDED}
    return people_states(lists, places.grammars() / "en" / "numbers.jsgf")


def own_recordings(
    folder: Path, every: dict[str, ListeningState], language: Language
) -> Iterator[tuple[TrialClip, Sound]]:
    """A folder of WAV files with text files of the same stem; each is heard in the first state where it can be said.

    A text that can be said nowhere is speech to somebody else. Errors: EngineBayError when there is no such pair.
    """

    pairs = [(path, path.with_suffix(".txt")) for path in sorted(folder.glob("*.wav"))]
    pairs = [(wav, text) for wav, text in pairs if text.is_file()]
    if not pairs:
        cause = "it holds no WAV with a text of the same name"
        raise EngineBayError(str(folder), cause, "Lay NAME.wav and NAME.txt in it")
    for wav, written in pairs:
        text = " ".join(written.read_text(encoding="utf-8").split())
        clip = TrialClip(0, YOURS, "talk", "yours", text)
        for state in every.values():
            try:
                means = truth(state, text, language)
            except GrammarError:
                continue
            clip = replace(clip, role=state.kind, state=state.name, truth=means)
            break
        yield clip, read_sound(wav)


# --- the folder of rendered sound -------------------------------------------------------------------------------------

INDEX = "index.json"
_FILE_CLIPS = 240
_GAP = RATE // 10
_SMALLNESS = 0.936  # of libsndfile's 0 to 1: about 22 kilobits a second


class Store:
    """Clips and their sound, in a folder: Opus files of some minutes each and an index."""

    def __init__(self, folder: Path) -> None:
        """Errors: EngineBayError when nothing was rendered there."""
        import soundfile

        try:
            index = json.loads((folder / INDEX).read_text(encoding="utf-8"))
        except (OSError, ValueError) as wrong:
            remedy = "Render it with `enginebay bench hearing --render FOLDER`"
            raise EngineBayError(str(folder), f"there is no rendered speech ({wrong})", remedy) from None
        self.plan: dict[str, object] = index["plan"]
        self.clips = [TrialClip(**clip) for clip in index["clips"]]
        self._files: dict[str, NDArray[np.int16]] = {}
        for name in dict.fromkeys(clip.file for clip in self.clips):
            self._files[name] = soundfile.read(str(folder / name), dtype="int16")[0]

    def sound(self, clip: TrialClip) -> Sound:
        """float32 [length], -1 to 1."""
        whole = self._files[clip.file][clip.start : clip.start + clip.length]
        return np.asarray(whole, dtype=np.float32) / np.float32(32768)

    def of(self, side: str, *roles: str) -> list[TrialClip]:
        """The clips of one side and these roles."""
        return [clip for clip in self.clips if clip.side == side and clip.role in roles]

    @property
    def minutes(self) -> float:
        """How much was rendered."""
        return sum(clip.length for clip in self.clips) / RATE / 60


def render(
    folder: Path, planned: dict[str, object], spoken_clips: Iterator[tuple[TrialClip, Sound]], step: Callable[[], None]
) -> None:
    """Writes clips and their sound to a folder.

    planned: what the plan was made of.
    step: called after each clip.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for old in folder.glob("speech-*.ogg"):
        old.unlink()
    done: list[TrialClip] = []
    kept: list[Sound] = []
    at = 0
    for clip, sound in spoken_clips:
        name = f"speech-{len(done) // _FILE_CLIPS:02d}.ogg"
        done.append(replace(clip, number=len(done), file=name, start=at, length=len(sound)))
        kept += [np.clip(sound, -1, 1), np.zeros(_GAP, dtype=np.float32)]
        at += len(sound) + _GAP
        if len(done) % _FILE_CLIPS == 0:
            write_ogg(folder / name, kept, "OPUS", _SMALLNESS)
            kept, at = [], 0
        step()
    if kept:
        write_ogg(folder / done[-1].file, kept, "OPUS", _SMALLNESS)
    index = {"plan": planned, "clips": [asdict(clip) for clip in done]}
    (folder / INDEX).write_text(json.dumps(index, ensure_ascii=False), encoding="utf-8")
