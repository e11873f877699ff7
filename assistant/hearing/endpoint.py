"""Where an utterance begins and ends: a state machine over blocks of 32 ms.

Knows the probability of voice and the level of each block. Refuses to know clocks and samples: time is the number of
blocks. Listening always ends: speech that goes on too long is cut, and a voice that never moves is taken for noise.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

RATE = 16_000  # samples a second of all that is heard
BLOCK_SAMPLES = 512
BLOCK_SECONDS = 0.032
"""One block: 512 samples at 16 kHz."""


def blocks(seconds: float) -> int:
    """The number of whole blocks nearest to this time, at least one."""
    return max(1, round(seconds / BLOCK_SECONDS))


@dataclass(frozen=True, slots=True)
class EndpointSettings:
    """How speech is told from its surroundings.

    voice_on, voice_off: probability from which a block is voice, and below which it is none once speech runs.
    onset: blocks of voice among the last `onset + 1` that make speech (shorter is a blip).
    pre_roll: blocks before the first that belong to it.
    pause: blocks of silence after which what was said may be complete.
    kept: of the silence after it, what belongs to it.
    tail: after which it is over (longer where digits may follow).
    longest: blocks after which it is cut.
    steady, steady_decibels: a level that stays within so many decibels for so many blocks is no speech, whatever the
        probability says.
    """

    voice_on: float = 0.5
    voice_off: float = 0.35
    onset: int = 3
    pre_roll: int = blocks(0.3)
    pause: int = blocks(0.2)
    kept: int = blocks(0.2)
    tail: int = blocks(0.45)
    longest: int = blocks(12.0)
    steady: int = blocks(3.0)
    steady_decibels: float = 3.0


@dataclass(frozen=True, slots=True)
class SpeechStarted:
    """Speech has begun. first: number of the first block that belongs to it, pre-roll included."""

    first: int


@dataclass(frozen=True, slots=True)
class SpeechPaused:
    """Silence for a moment: what was said so far may be decoded ahead. end: number of the block after the last."""

    end: int


@dataclass(frozen=True, slots=True)
class SpeechResumed:
    """The pause was inside the utterance."""


@dataclass(frozen=True, slots=True)
class SpeechEnded:
    """It is over: blocks `first` to `end`, `end` excluded."""

    first: int
    end: int


@dataclass(frozen=True, slots=True)
class TooLong:
    """It was cut: longer than anybody speaks at once, or a steady noise that passed for a voice."""

    first: int
    end: int


EndpointEvent = SpeechStarted | SpeechPaused | SpeechResumed | SpeechEnded | TooLong


@dataclass(frozen=True, slots=True)
class EndpointState:
    """Where the endpoint detection stands after a block.

    count: blocks fed so far.
    recent: voice in the last blocks while nothing is said.
    first: of the running speech, None while there is none.
    silent: blocks of silence at the end of it.
    voiced: blocks of voice after a pause.
    paused: whether the speech pauses.
    levels: of the last blocks, as far as steadiness needs them.
    muted: after a cut, until a block without voice.
    """

    count: int = 0
    recent: tuple[bool, ...] = ()
    first: int | None = None
    silent: int = 0
    voiced: int = 0
    paused: bool = False
    levels: tuple[float, ...] = ()
    muted: bool = False


def listen(
    state: EndpointState, voice: float, level: float, settings: EndpointSettings
) -> tuple[EndpointState, EndpointEvent | None]:
    """One block: probability of voice (0 to 1) and level (dBFS) -> the state after it, and what happened if any."""
    levels = (*state.levels, level)[-settings.steady :]
    steady = len(levels) == settings.steady and max(levels) - min(levels) < settings.steady_decibels
    state = replace(state, count=state.count + 1, levels=levels)
    if state.first is None:
        return _waiting(state, voice >= settings.voice_on, steady, settings)
    return _speaking(state, state.first, voice >= settings.voice_off, steady, settings)


def _waiting(
    state: EndpointState, heard: bool, steady: bool, settings: EndpointSettings
) -> tuple[EndpointState, EndpointEvent | None]:
    if state.muted or steady:
        # The noise that was cut must stop before it can be speech again.
        return replace(state, muted=heard and (state.muted or steady), recent=()), None
    recent = (*state.recent, heard)[-(settings.onset + 1) :]
    if sum(recent) < settings.onset:
        return replace(state, recent=recent), None
    begun = state.count - len(recent) + recent.index(True)
    first = max(0, begun - settings.pre_roll)
    return replace(state, recent=(), first=first, silent=0, voiced=0, paused=False), SpeechStarted(first)


def _speaking(
    state: EndpointState, first: int, heard: bool, steady: bool, settings: EndpointSettings
) -> tuple[EndpointState, EndpointEvent | None]:
    if steady or state.count - first >= settings.longest:
        return replace(state, first=None, recent=(), muted=heard), TooLong(first, state.count)
    if heard:
        if not state.paused:
            return replace(state, silent=0), None
        # A click inside the tail must not hold the utterance open: it takes two blocks of voice to resume.
        voiced = state.voiced + 1
        if voiced >= 2:
            return replace(state, silent=0, voiced=0, paused=False), SpeechResumed()
        return replace(state, voiced=voiced, silent=state.silent + 1), None
    silent = state.silent + 1
    state = replace(state, silent=silent, voiced=0)
    if silent >= settings.tail:
        end = state.count - silent + min(silent, settings.kept)
        return replace(state, first=None, recent=()), SpeechEnded(first, end)
    if silent == settings.pause and not state.paused:
        return replace(state, paused=True), SpeechPaused(state.count)
    return state, None
