"""What must be so after a break, read from the journal's facts alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from assistant.app.demo import ISOLATED
from assistant.app.visits import kept_work
from assistant.edge.files.store import read_session
from assistant.engine_state import Known
from assistant.session import facts as f
from assistant.session.applying import apply, fold
from assistant.session.inputs import WorkResumed
from assistant.session.journal import Journal
from assistant.session.visit import StepOutcome

WORKED = f.StepDone | f.StepSkipped | f.ReadingHeard | f.ReadingRecorded | f.AnswerRecorded


def the_break(journal: Journal) -> int:
    """Where the one decision stands that took the work up again."""
    (at,) = [index for index, entry in enumerate(journal.entries) if isinstance(entry.envelope.input, WorkResumed)]
    return at


def check_outcome(told: dict[str, Any]) -> None:
    """Every step done or left out, every reading true or in doubt."""
    assert told["finished"]
    visit = fold(read_session(Path(told["session"])).facts())
    assert visit.order is not None
    work = kept_work(Path(told["session"]), visit.order).as_planned(visit.plan)
    assert set(visit.outcomes) == {placed.place for placed in work.steps}
    assert told["steps_done"] == sum(outcome is StepOutcome.DONE for outcome in visit.outcomes.values())
    assert len(told["readings"]) == len(visit.readings) > 0
    for reading in told["readings"]:
        assert reading["true"] is not None
        assert reading["recorded"] == reading["true"] or reading["doubt"], reading


def check_break(session: Path) -> None:
    """It broke off while the open step relied on isolation; then nothing was known, and isolation was proved again
    before anything else was done."""
    journal = read_session(session)
    at = the_break(journal)
    last, again = journal.entries[at - 1], journal.entries[at]
    before = fold((fact, entry.envelope.at) for entry in journal.entries[:at] for fact in entry.facts)
    assert before.order is not None
    assert before.focus is not None
    work = kept_work(session, before.order).as_planned(before.plan)
    broken = work.at(before.focus)
    assert broken.step.needs[ISOLATED] is Known.YES
    assert before.known(ISOLATED, last.envelope.at) is Known.YES

    assert again.facts[0] == f.WorkTakenUpAgain("supervisor")
    assert again.envelope.at.boot != last.envelope.at.boot
    assert again.envelope.at.wall > last.envelope.at.wall
    visit = apply(before, again.facts[0], again.envelope.at)
    for variable in work.equipment.state:
        assert visit.known(variable, again.envelope.at) is Known.UNKNOWN, variable

    prover = [placed for placed in work.steps[: broken.number - 1] if ISOLATED in placed.step.leaves][-1]
    assert prover.step.leaves[ISOLATED].value is Known.YES
    after = [fact for entry in journal.entries[at:] for fact in entry.facts]
    proved = next(n for n, fact in enumerate(after) if isinstance(fact, f.HoldPointPassed))
    assert after[proved].place == prover.place  # type: ignore[union-attr]  # it is a HoldPointPassed
    assert not [fact for fact in after[:proved] if isinstance(fact, WORKED)], "nothing was done before the proof"
    learned = [n for n, fact in enumerate(after) if isinstance(fact, f.StateLearned) and fact.variable == ISOLATED]
    assert next(after[n].value for n in learned if n > proved) is Known.YES  # type: ignore[union-attr]
    assert any(isinstance(fact, f.StepDone | f.StepSkipped) and fact.place == before.focus for fact in after[proved:])
