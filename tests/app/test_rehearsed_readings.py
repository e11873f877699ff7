"""A technician with gauges in other units, without sound: what such a visit shows, and that its record is true.

The same by voice and in noise: `enginebay demo --seed 3`.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from app.breaks import check_outcome
from app.quick import quick_speech_setup

from assistant.app.demo import rehearse
from assistant.app.rehearsed import in_unit_of
from assistant.app.watching import NoWatcher
from assistant.edge.files.store import read_session
from assistant.quantities import parse
from assistant.rehearsal.technician import FOREIGN
from assistant.session import facts as f


@pytest.mark.parametrize("seed", [FOREIGN, 4 * FOREIGN])
def test_one_visit_has_an_inconclusive_a_converted_and_an_ambiguous_reading(seed: int, tmp_path: Path) -> None:
    with quick_speech_setup() as means:
        told = rehearse(means, NoWatcher(), seed=seed, noise_db=10.0, root=tmp_path)
    check_outcome(told)
    facts = [fact for fact, _ in read_session(Path(told["session"])).facts()]
    readings = [fact for fact in facts if isinstance(fact, f.ReadingRecorded)]
    assert any(reading.verdict is f.ReadingVerdict.INCONCLUSIVE for reading in readings)
    assert {"psi", "imp gal"} <= {reading.quantity.unit for reading in readings}
    assert any(isinstance(fact, f.UnitAsked) and fact.called == "gallons" for fact in facts)
    worked_out = {fact.formula for fact in facts if isinstance(fact, f.CalculationRecorded)}
    assert worked_out == {"oil-balance"}


def test_other_technicians_read_in_the_units_that_are_asked_for(tmp_path: Path) -> None:
    with quick_speech_setup() as means:
        told = rehearse(means, NoWatcher(), seed=FOREIGN + 1, noise_db=10.0, root=tmp_path)
    check_outcome(told)
    facts = [fact for fact, _ in read_session(Path(told["session"])).facts()]
    assert not any(isinstance(fact, f.UnitAsked) for fact in facts)
    assert any(isinstance(fact, f.CalculationRecorded) for fact in facts)


def test_a_truth_is_compared_in_the_unit_that_was_recorded() -> None:
    assert in_unit_of(parse("46 psi"), parse("46 psi")) == 46
    assert in_unit_of(parse("46 kPa"), parse("46 psi")) == pytest.approx(317.159, abs=0.001)
    assert in_unit_of(parse("46 L"), parse("46 psi")) is None
