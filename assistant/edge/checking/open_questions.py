"""Every question that may be open in a work, as turns, one after another: what may then be said, and what is asked.

Knows the steps' and the assistant's own questions. Refuses to judge them: `models.py` and `words.py` do.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal

from assistant.dialogue.exchange import question, ways_of_asking
from assistant.dialogue.own_questions import OWN_QUESTIONS
from assistant.dialogue.turn import Turn
from assistant.dialogue.work import PlacedStep, Work
from assistant.grammar.units import SHARED_RULES
from assistant.quantities import KNOWN_UNITS, Quantity
from assistant.session import facts as f
from assistant.session.inputs import Instant, Source
from assistant.session.visit import Exchange, Pending, Unitless, Visit

_AT = Instant("2026-03-02T08:00:00.000+00:00", 0.0, "boot")
_OF_A_VISIT = {f.Purpose.TASK_PUT_OFF, f.Purpose.TASK_ADDED, f.Purpose.TASK_REASON, f.Purpose.OTHER_WORK}


def at_step(work: Work, placed: PlacedStep) -> Iterator[tuple[str, Turn]]:
    """What may be open at a step, in words and as a turn. Something is missing: then two more commands are allowed."""

    def turn(**changes: object) -> Turn:
        exchange = replace(Exchange(1, f.Purpose.STEP), **changes)  # type: ignore[arg-type]  # fields of Exchange
        return Turn(work, Visit(plan=work.plan, focus=placed.place, exchange=exchange, exchanges=1, missing=1), _AT)

    asked = [each.measured for each in placed.step.measurements() for _ in range(each.samples)]
    several = len(asked) > 1  # collected before they are confirmed
    pending = tuple(_pending(measured.unit) for measured in asked)
    for at in range(max(1, len(asked))):
        collected = pending[:at] if several else ()
        yield "", turn(collected=collected)
        if f.Manner.DIGITS in ways_of_asking(question(turn(collected=collected))):
            yield ", digit by digit", turn(collected=collected, manner=f.Manner.DIGITS)
        for called in KNOWN_UNITS[asked[at].unit].also if asked else ():
            if called in SHARED_RULES:
                number = Unitless(Decimal(1), called, 1.0, None, Source.VOICE)
                yield f", which {called}", turn(collected=collected, stage=f.ExchangeStage.COMPLETING, unitless=number)
    if pending:
        collected = pending if several else ()
        yield ", read back", turn(stage=f.ExchangeStage.CONFIRMING, pending=pending[0], collected=collected)


def of_its_own(work: Work) -> Iterator[tuple[str, Turn]]:
    """The assistant's own questions, and standing by."""
    tasks = [stage for stage in work.plan if stage.is_task]
    visit = Visit(plan=work.plan, focus=work.steps[0].place, chosen=tasks[0].name if tasks else "")
    for purpose in OWN_QUESTIONS:
        if purpose not in _OF_A_VISIT or tasks:
            yield f"the question: {purpose}", Turn(work, replace(visit, exchange=Exchange(1, purpose)), _AT)
    if tasks:  # the others may be added
        planned = replace(visit, plan=(work.plan[0], tasks[0]), exchange=Exchange(1, f.Purpose.TASK_ADDED))
        yield f"the question: {f.Purpose.TASK_ADDED}", Turn(work, planned, _AT)
    yield "standing by", Turn(work, replace(visit, exchange=Exchange(1, f.Purpose.STEP), stood_by=_AT), _AT)


def _pending(unit: str) -> Pending:
    return Pending(Quantity(Decimal(1), unit), 1.0, None, Source.VOICE, "")
