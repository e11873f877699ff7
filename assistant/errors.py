"""What can go wrong, for people: every error names the place, the cause and the remedy.

Knows nothing of the rest of the program. A traceback never reaches a user: the command line prints
`str(error)` and leaves.
"""

from __future__ import annotations


class EngineBayError(Exception):
    """Root of every error that a person is meant to read.

    place: where it is (a file with line and column, a device, an argument).
    cause: what is wrong there, in one sentence without its final stop.
    remedy: what the reader can do about it, in one sentence without its final stop.
    """

    def __init__(self, place: str, cause: str, remedy: str) -> None:
        super().__init__(place, cause, remedy)
        self.place = place
        self.cause = cause
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.place}: {self.cause}. {self.remedy}."


class GrammarError(EngineBayError, ValueError):
    """A grammar that cannot be compiled: syntax, a rule that is not there, recursion that is not at the end."""


class QuantityError(EngineBayError, ValueError):
    """A quantity that makes no sense: an unknown unit, units of different kinds, a number that is none."""


class CalculationError(EngineBayError, ValueError):
    """A calculation that has no answer: an input missing, of another kind, or outside what the formula holds for."""


class OtherKindError(CalculationError):
    """An input that measures something else than the formula takes."""


class ProcedureError(EngineBayError, ValueError):
    """A procedure or equipment file that cannot be trusted: layout, unknown key, reference to nothing."""


class WordingError(EngineBayError, LookupError):
    """A message without wording, wording without a message, or arguments that differ."""


class AudioError(EngineBayError, OSError):
    """Sound that cannot be read, or a microphone or loudspeaker that is not there."""


class RecogniserError(EngineBayError, RuntimeError):
    """A speech engine or its model that is missing, damaged, or lacks words of the grammar."""


class VoiceError(EngineBayError, RuntimeError):
    """Speech that cannot be rendered: espeak-ng or pyttsx3 is missing or failed."""


class JournalError(EngineBayError, ValueError):
    """A session's journal that is damaged or that cannot be written."""


class ExchangeError(EngineBayError, ValueError):
    """An event that the exchange does not allow in its stage: the facts of a session do not follow one another."""


class RecordError(EngineBayError, LookupError):
    """A session folder that is not one, or that lacks what it cites."""
