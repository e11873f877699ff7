"""What a person sees of a visit while it runs: the conversation, line by line.

Knows what was said and heard, and how it is shown. Refuses to know what follows from it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, TextIO

from assistant.hearing.ear import HeardUtterance
from assistant.hearing.judgement import HearingVerdict


@dataclass(frozen=True, slots=True)
class SpokenUtterance:
    """Something said to the assistant.

    true: the words really said, where they are known.
    """

    speaker: str
    true: str | None


class Watcher(Protocol):
    """Is told what happens; changes nothing."""

    def said(self, at: float, text: str, whole: bool) -> None:
        """The assistant spoke. at: seconds since the visit began."""
        ...

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        """Somebody spoke and the ear made something of it."""
        ...

    def note(self, at: float, text: str) -> None:
        """Something else happened."""
        ...


class NoWatcher:
    """Watches nothing."""

    def said(self, at: float, text: str, whole: bool) -> None:
        """Nothing is shown."""

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        """Nothing is shown."""

    def note(self, at: float, text: str) -> None:
        """Nothing is shown."""


class SteadyWatcher:
    """A watcher that never fails: what it cannot show is reported once, until it can show something again.

    on_failure: what is done then, with what the system said; it may raise.
    on_recovery: what is done when it shows something again.
    """

    def __init__(self, watcher: Watcher, on_failure: Callable[[str], None], on_recovery: Callable[[], None]) -> None:
        self._watcher = watcher
        self._on_failure = on_failure
        self._on_recovery = on_recovery
        self._works = True

    def said(self, at: float, text: str, whole: bool) -> None:
        """As the port says."""
        self._attempt(lambda: self._watcher.said(at, text, whole))

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        """As the port says."""
        self._attempt(lambda: self._watcher.heard(at, utterance, found))

    def note(self, at: float, text: str) -> None:
        """As the port says."""
        self._attempt(lambda: self._watcher.note(at, text))

    def _attempt(self, show: Callable[[], None]) -> None:
        worked = self._works
        try:
            show()
        except Exception as error:  # a full disk, a terminal that is gone
            self._works = False
            if worked:
                self._on_failure(getattr(error, "strerror", None) or f"{type(error).__name__}: {error}")
        else:
            self._works = True
            if not worked:
                self._on_recovery()


_STYLES = {HearingVerdict.ACCEPT: "green", HearingVerdict.ASK_AGAIN: "yellow", HearingVerdict.IGNORE: "red"}
_WORDS = {HearingVerdict.ACCEPT: "understood", HearingVerdict.ASK_AGAIN: "in doubt", HearingVerdict.IGNORE: "ignored"}


class Screen:
    """The conversation on a terminal or in a file."""

    def __init__(self, file: TextIO | None = None) -> None:
        from rich.console import Console

        self._console = Console(file=file, highlight=False, soft_wrap=True)

    def said(self, at: float, text: str, whole: bool) -> None:
        """The assistant's line."""
        cut = "" if whole else "  [dim](cut off)[/]"
        self._console.print(f"{_time(at)}  [bold]assistant [/] {_escaped(text)}{cut}")

    def heard(self, at: float, utterance: SpokenUtterance, found: HeardUtterance) -> None:
        """The technician's line: what was said, what was heard, how sure, how long it took."""
        guess = found.hypotheses[0].text if found.hypotheses else "nothing that fits"
        word, style = _WORDS[found.verdict], _STYLES[found.verdict]
        differs = "" if utterance.true is None or utterance.true == guess else f"  said: {utterance.true}"
        self._console.print(
            f"{_time(at)}  [cyan]{utterance.speaker:<10}[/] [cyan]{guess}[/]  "
            f"[{style}]{word} {found.confidence:.2f}[/] [dim]{found.compute * 1000:.0f} ms{differs}[/]"
        )

    def note(self, at: float, text: str) -> None:
        """A line about something else."""
        self._console.print(f"{_time(at)}  [dim]{'':<10} {_escaped(text)}[/]")


def _time(at: float) -> str:
    minutes, seconds = divmod(int(at), 60)
    return f"[dim]{minutes:3d}:{seconds:02d}[/]"


def _escaped(text: str) -> str:
    return text.replace("[", "\\[")
