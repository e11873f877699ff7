"""The readings of one asset over all its sessions: read from the disk, told, drawn.

Knows where session folders lie; a damaged journal is read as far as it holds, and that is told. Refuses to know what
makes a series (`session/history.py`) and what is said of one (`assistant/trends.py`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from assistant.dialogue import messages as m
from assistant.dialogue.trending import trend_message
from assistant.edge.files.access import write_whole
from assistant.edge.files.evidence import read_evidence
from assistant.edge.files.language import english_wording
from assistant.edge.files.store import JOURNAL, first_input
from assistant.edge.pages.plot import svg
from assistant.errors import EngineBayError, RecordError
from assistant.session.facts import SalvageMade
from assistant.session.history import Facts, Series, history
from assistant.session.inputs import HistoryGiven, SessionSalvaged, WorkOrdered
from assistant.session.journal import Journal
from assistant.statements import kinds as s
from assistant.trends import Trend, document, in_words, trend


@dataclass(frozen=True, slots=True)
class Histories:
    """The readings of one asset.

    asset: its name.
    series: by reading's name, the oldest first.
    wrong: a sentence for each session that could not be read whole.
    """

    asset: str
    series: Mapping[str, tuple[Series, ...]]
    wrong: tuple[str, ...]

    @classmethod
    def read(cls, root: Path, asset: str) -> Histories:
        """From the session folders that lie in `root`. A copy of a session counts once.

        Errors: RecordError when there is no session of the asset, or none with a reading.
        """
        read = sessions_of(root, asset)
        if not read.journals:
            there = ", ".join(sorted(read.others))
            found = f"Sessions there are of {there}" if there else "Name the folder with --sessions"
            raise RecordError(str(root), f"no session of {asset} lies there", found)
        series = history(read.facts(), date.today())
        if not series:
            raise RecordError(asset, "no reading was recorded in its sessions", "Record one at the next visit")
        return cls(asset, series, read.wrong)

    def in_words(self, reading: str | None) -> str:
        """One reading's trend, or a line for each reading. Errors: as of `named`."""
        if reading is not None:
            return in_words(trend(self.named(reading)[-1]))
        return "\n".join(trend_line(trend(series[-1])) for series in self.series.values())

    def document(self, reading: str | None) -> dict[str, object]:
        """The same as plain data; every series of each reading, the oldest first. Errors: as of `named`."""
        chosen = self.series.values() if reading is None else [self.named(reading)]
        return {"asset": self.asset, "series": [_document(series) for several in chosen for series in several]}

    def draw(self, reading: str | None, path: Path) -> None:
        """A reading's trend as an SVG file. Errors: as of `named`, and RecordError when it cannot be written."""
        if reading is None:
            raise RecordError("--plot", "no reading is named", f"Name one of {', '.join(self.series)}")
        *earlier, newest = self.named(reading)
        try:
            write_whole(path, svg(self.asset, trend(newest), earlier).encode("utf-8"))
        except OSError as error:
            cause = f"the plot cannot be written ({error.strerror})"
            raise RecordError(str(path), cause, "Name a file in a folder that is there and can be written") from None

    def named(self, reading: str) -> tuple[Series, ...]:
        """The series of a reading; a hyphen is as good as a space. Errors: RecordError when there is none."""
        for name, series in self.series.items():
            if name.replace("-", " ").casefold() == reading.replace("-", " ").casefold():
                return series
        raise RecordError(reading, f"{self.asset} has no such reading", f"Name one of {', '.join(self.series)}")


def trend_line(trend: Trend) -> str:
    """What a screen shows of a trend: what is said of it, but with how few readings there are, and a shorter range."""
    wording, message = english_wording(), trend_message(trend)
    if isinstance(message, m.TrendNotYet):
        text = wording.words.text(s.NothingYet(message.name, len(trend.used)))
    elif isinstance(message, m.TrendReaches):
        text = wording.words.text(
            s.ReachesLimit(message.name, message.limit, message.at, message.earliest, message.latest)
        )
    else:
        return wording.text(message)
    return text[:1].upper() + text[1:]


def _document(series: Series) -> dict[str, object]:
    found = trend(series)
    return document(found, trend_line(found))


@dataclass(frozen=True, slots=True)
class AssetSessions:
    """The sessions of one asset that lie in a folder.

    journals: by the session's name, as far as they hold.
    wrong: a sentence for each that could not be read whole.
    others: the other assets that have sessions there.
    """

    journals: Mapping[str, Journal]
    wrong: tuple[str, ...]
    others: frozenset[str]

    def facts(self, apart_from: str = "") -> dict[str, Facts]:
        """Name of a session -> its facts, as far as they can be read.

        Damage keeps no visit from beginning; whoever begins one tells of it. apart_from: last hash of the session that
        goes on, which is none of them.
        """
        journals = self.journals.items()
        return {name: tuple(journal.facts()) for name, journal in journals if journal.last_hash != apart_from}


def sessions_of(root: Path, asset: str) -> AssetSessions:
    """The asset's sessions in `root`. A copy of a session counts once, and so does one that was salvaged."""
    found: dict[str, tuple[str, Journal]] = {}  # the same last hash twice is a copy
    salvaged: dict[str, tuple[str, str, Journal]] = {}  # by the last hash of the session that was damaged
    wrong: list[str] = []
    others: set[str] = set()
    for path in sorted(root.glob(f"*/{JOURNAL}")):
        session = path.parent.name
        try:
            ordered = _asset(path)
            if ordered != asset:
                others |= {ordered} if ordered else set()
                continue
            journal, damage = read_evidence(path.parent)
            source = _salvaged_from(journal)
            if source is None and (journal.last_hash not in found or found[journal.last_hash][1].gaps):
                found[journal.last_hash] = session, journal  # of two copies the one that holds
            if source is not None:
                salvaged[source] = journal.last_hash, session, journal
            if damage:
                wrong.append(f"{session}: read as far as it holds. {damage}.")
        except (OSError, EngineBayError) as error:
            wrong.append(f"{session}: left out, it cannot be read. {error}")
    for source, (last_hash, session, journal) in salvaged.items():
        if source not in found:  # else the damaged session itself tells as much
            found.setdefault(last_hash, (session, journal))
    return AssetSessions(dict(found.values()), tuple(wrong), frozenset(others))


def _salvaged_from(journal: Journal) -> str | None:
    """The last hash of the damaged session that this one was salvaged from."""
    facts = (fact for entry in journal.entries[:1] for fact in entry.facts)
    return next((fact.last_hash for fact in facts if isinstance(fact, SalvageMade)), None)


def _asset(path: Path) -> str:
    """What a session's first line orders work on. Empty when nothing was written yet, or the asset is not known."""
    match first_input(path):
        case None:
            return ""
        case WorkOrdered(order):
            return order.asset
        case HistoryGiven(asset) | SessionSalvaged(asset):
            return asset
    raise RecordError(path.name, "its first line orders no work", "Restore the session from a copy")
