"""A session as what a supervisor needs to judge it: what happened in time order, what stands, what wants a look.

Knows facts and their order. Refuses to know procedures (an old record reads without them), files, and how a page is
laid out. Each topic of facts has a file of the same name here, in which stands for each fact its sentence, its row, and
what it means to a supervisor.
"""

from __future__ import annotations

from assistant.record.counts import count
from assistant.record.header import chain_of, header_of, work_of
from assistant.record.stages import stage_summaries, step_summaries
from assistant.record.summary import Record, concerns_of
from assistant.record.timeline import timeline
from assistant.session.journal import Journal


def record(journal: Journal, damage: str = "") -> Record:
    """The record of a journal: of its lines that were verified.

    damage: what is wrong in the file, in words. Errors: RecordError when no work was ever taken up in it.
    """
    work = work_of(journal)
    header, chain = header_of(journal, work), chain_of(journal, damage)
    entries, steps = timeline(journal), step_summaries(journal)
    return Record(
        header=header,
        entries=entries,
        steps=steps,
        stages=stage_summaries(journal),
        concerns=concerns_of(header, entries, chain),
        counts=count(journal, work, entries, steps),
        chain=chain,
    )
