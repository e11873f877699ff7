"""A technician who cuts prompts off, without sound: warnings are heard in full before any answer, whatever it does.

The same by voice and in noise: `enginebay demo`.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from app.breaks import check_outcome
from app.quick import quick_speech_setup
from app.stand_ins import Notes

from assistant.app.demo import rehearse
from assistant.edge.files.store import read_session
from assistant.floor.policy import ALWAYS_TAKEN
from assistant.record.device import HAZARD
from assistant.session import facts as f
from assistant.session.inputs import AnswerVerdict, ButtonPressed, Heard
from assistant.session.journal import Journal

SEEDS = [*range(1, 9), *(pytest.param(seed, marks=pytest.mark.long) for seed in range(9, 41))]


WAYS = (  # in which prompts are cut off
    "presses the button",
    "says: stop",
    "types: stop",
    "says: where am I",
    "types: where am I",
    "says: say again",
)


class Visits:
    """Rehearsed visits, each made once: its report, and what was noted beside the conversation."""

    def __init__(self, place: Path) -> None:
        self._place = place
        self._made: dict[int, tuple[dict[str, Any], list[str]]] = {}

    def at(self, seed: int) -> tuple[dict[str, Any], list[str]]:
        if seed not in self._made:
            watcher = Notes()
            with quick_speech_setup() as means:
                report = rehearse(means, watcher, seed=seed, noise_db=10.0, root=self._place)
            self._made[seed] = report, watcher.notes
        return self._made[seed]


@pytest.fixture(scope="module")
def visits(tmp_path_factory: pytest.TempPathFactory) -> Visits:
    return Visits(tmp_path_factory.mktemp("sessions"))


def unheard_at_answers(journal: Journal) -> list[tuple[int, set[str]]]:
    """The warnings that were cut off and not spoken in full since, at every answer but stop and help.

    While the work stands by no step takes an answer, and carrying on speaks them again.
    """
    unheard: set[str] = set()
    found = []
    standing_by = False
    for entry in journal.entries:
        given = entry.envelope.input
        if isinstance(given, Heard | ButtonPressed) and not standing_by:
            sure = isinstance(given, Heard) and given.verdict is AnswerVerdict.ACCEPTED
            if not (sure and given.hypotheses[0].meaning in ALWAYS_TAKEN):
                found.append((entry.envelope.number, set(unheard)))
        for fact in entry.facts:
            match fact:
                case f.Spoken(said):
                    warnings = [message for message in said if message.name == HAZARD]
                    unheard |= {message.text for message in warnings if not message.whole}
                    unheard -= {message.text for message in warnings if message.whole}
                case f.StoodBy():
                    standing_by = True
                case f.CarriedOn():
                    standing_by = False
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_no_answer_is_taken_over_a_warning_that_was_cut_off(seed: int, visits: Visits) -> None:
    report, _ = visits.at(seed)
    check_outcome(report)
    journal = read_session(Path(report["session"]))
    answers = unheard_at_answers(journal)
    assert len(answers) > 40
    assert [(number, unheard) for number, unheard in answers if unheard] == []
    cut = [
        message
        for entry in journal.entries
        for fact in entry.facts
        if isinstance(fact, f.Spoken)
        for message in fact.said
        if message.name == HAZARD and not message.whole
    ]
    assert cut, "the technician cut a warning off"


def test_every_way_of_cutting_off_is_rehearsed(visits: Visits) -> None:
    notes = [note for seed in range(1, 13) for note in visits.at(seed)[1]]
    for way in WAYS:
        assert f"technician {way}" in notes
