"""Who, what and when a record is of, and how far its journal is to be trusted.

Knows a journal's ends and its hashes. Refuses to know single facts of the work, and files.
"""

from __future__ import annotations

from dataclasses import dataclass

from assistant.errors import RecordError
from assistant.quantities import counted
from assistant.record.timeline import decisions_of_visit, elapsed_in_visit
from assistant.session import facts as f
from assistant.session.inputs import Order, ProcedureCopy
from assistant.session.journal import Gap, Journal

NOT_KNOWN = "not known"
UNKNOWN_WORK = f.WorkTakenUp(Order(NOT_KNOWN, NOT_KNOWN, NOT_KNOWN, (), (), demo=False), NOT_KNOWN, 0)
"""In place of the line that began the visit, where that is damaged."""


@dataclass(frozen=True, slots=True)
class RecordHeader:
    """Who, what, when. The members are published under these names.

    asset: as ordered.
    model: as ordered.
    title: of the work.
    tasks: as ordered.
    technicians: everyone who took the work up, in order.
    copies: the procedure files in use.
    demo: true when its data is invented.
    started: ISO 8601 in UTC.
    ended: the same, of the last line.
    duration: seconds.
    boots: runs of the device's clock that the visit crossed.
    complete: whether the work ended after its last step.
    ending: why it ended, in plain words; None: nobody ended it.
    """

    asset: str
    model: str
    title: str
    tasks: tuple[str, ...]
    technicians: tuple[str, ...]
    copies: tuple[ProcedureCopy, ...]
    demo: bool
    started: str
    ended: str
    duration: float
    boots: int
    complete: bool
    ending: str | None


@dataclass(frozen=True, slots=True)
class Chain:
    """How far the journal is to be trusted. The members are published under these names.

    lines: verified, each by its hash.
    last_hash: of the last of them.
    torn: bytes of a last line that was never completed.
    damage: what is wrong in the file, empty when nothing is.
    gaps: where lines are damaged or missing, in order; those behind them are shown all the same.
    """

    lines: int
    last_hash: str
    torn: int
    damage: str
    gaps: tuple[Gap, ...] = ()

    def damage_in_words(self) -> str:
        """What is wrong, and what of the journal is shown all the same."""
        lines = counted(self.lines, "line")
        return f"{self.damage}. This record shows the {lines} that can be verified, and where the gaps are."

    def torn_in_words(self) -> str:
        """That the last line was never completed."""
        set_aside = f"{counted(self.torn, 'byte')} {'was' if self.torn == 1 else 'were'} set aside"
        return (
            f"The last line of the journal was never completed ({set_aside}). "
            "What it would have said was never acted on."
        )


def work_of(journal: Journal) -> f.WorkTakenUp:
    """How the work began; `UNKNOWN_WORK` where the line that says so is missing.

    Errors: RecordError when no work was ever taken up.
    """
    facts = [fact for fact, _ in journal.facts()]
    begun = next((fact for fact in facts if isinstance(fact, f.WorkTakenUp)), None)
    if begun is not None:
        return begun
    if journal.gaps or any(isinstance(fact, f.SalvageMade) for fact in facts):
        return UNKNOWN_WORK
    raise RecordError("journal", "no work was taken up in it", "Begin one with `enginebay work`")


def header_of(journal: Journal, work: f.WorkTakenUp) -> RecordHeader:
    """The header of a record. work: as of `work_of`."""
    visit = decisions_of_visit(journal)
    first, last = visit[0].envelope.at, visit[-1].envelope.at
    facts = [fact for fact, _ in journal.facts()]
    others = (fact.technician for fact in facts if isinstance(fact, f.WorkTakenUpAgain | f.WorkHandedOver))
    ended = next((fact for fact in facts if isinstance(fact, f.WorkEnded)), None)
    order = work.order
    return RecordHeader(
        asset=order.asset,
        model=order.model,
        title=work.title,
        tasks=order.tasks,
        technicians=tuple(dict.fromkeys((order.technician, *others))),
        copies=order.copies,
        demo=order.demo,
        started=first.wall,
        ended=last.wall,
        duration=elapsed_in_visit(journal)(last),
        boots=len({decision.envelope.at.boot for decision in journal.entries}),
        complete=ended is not None and ended.complete,
        ending=None if ended is None else str(ended.because),
    )


def chain_of(journal: Journal, damage: str) -> Chain:
    """How far a journal is to be trusted. damage: what is wrong in the file, in words."""
    return Chain(len(journal.entries), journal.last_hash, len(journal.torn), damage, journal.gaps)
