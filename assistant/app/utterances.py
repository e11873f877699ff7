"""What was heard as an input of the core: the sound is kept first, so that the input can cite it.

Knows utterances, the session's folder and what stands in the way of hearing. Refuses to know who has the floor, and
what the words do.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assistant.edge.files.store import SessionFolder
from assistant.edge.sound.sound_files import flac
from assistant.hearing.ear import HeardUtterance
from assistant.hearing.judgement import HearingVerdict
from assistant.hearing.sound_quality import sound_quality
from assistant.session.inputs import AnswerVerdict, AudioProblem, Heard, Source


def heard_input(utterance: HeardUtterance, folder: SessionFolder) -> Heard:
    """The input that an utterance is; of a doubtful one also what was in the way. Errors: JournalError, OSError."""
    clip = folder.keep(flac(utterance.samples), utterance.seconds)
    if utterance.verdict is HearingVerdict.ACCEPT:
        return Heard(utterance.exchange, AnswerVerdict.ACCEPTED, utterance.hypotheses, Source.VOICE, clip)
    problem = audio_problem(utterance.samples)
    return Heard(utterance.exchange, AnswerVerdict.DOUBTFUL, utterance.hypotheses, Source.VOICE, clip, problem)


def audio_problem(samples: NDArray[np.float32]) -> AudioProblem | None:
    """What is in the way in an utterance, float32 [samples] at 16 kHz; None when nothing is, or it is too short."""
    quality = sound_quality(samples)
    if quality.is_clipped:
        return AudioProblem.CLIPPED
    if quality.is_faint:
        return AudioProblem.FAINT
    return AudioProblem.NOISE if quality.is_noisy else None
