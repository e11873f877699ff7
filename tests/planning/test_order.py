"""The order of a visit: the cheapest changes of state, held against trying every order, and why it is so, in words."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.edge.places import procedures
from assistant.engine_state import Known
from assistant.errors import ProcedureError
from assistant.planning.order import OrderedStage, order
from assistant.procedure.equipment import Equipment
from assistant.procedure.reading import read_equipment
from tests.planning.equipments import Cost, equipment, exhaustive
from tests.worded import worded

NAMES = ("w", "x", "y", "z")
DEEDS = ("drips", "fits", "reads")


def cost(given: Equipment, stages: tuple[OrderedStage, ...]) -> Cost:
    changes = [given.changes[stage.name] for stage in stages if not stage.is_task]
    return sum(sum(change.minutes) / 2 for change in changes), len(changes)


def walk(given: Equipment, stages: tuple[OrderedStage, ...]) -> None:
    """Every need is met where it stands, every precaution is kept, and the set is left as it should be."""
    state = dict(given.visit.found)
    done: list[str] = []
    for stage in stages:
        entry = given.tasks[stage.name] if stage.is_task else given.changes[stage.name]
        needs = dict(entry.needs)
        if stage.is_task:
            for precaution in given.minded(stage.name):
                needs.update(precaution.needs)
                assert not any(precaution.before in given.tasks[earlier].does for earlier in done)
            done.append(stage.name)
        assert needs.items() <= state.items(), stage.name
        state.update(entry.leaves)
    assert given.visit.left.items() <= state.items()


values = st.sampled_from(["yes", "no"])
left_values = st.sampled_from(["yes", "no", "unknown"])


def states(value: st.SearchStrategy[str], least: int = 0, most: int = 2) -> st.SearchStrategy[dict[str, str]]:
    return st.dictionaries(st.sampled_from(NAMES), value, min_size=least, max_size=most)


@st.composite
def small(draw: st.DrawFn) -> Equipment:
    task = st.fixed_dictionaries(
        {
            "needs": states(values),
            "leaves": states(left_values),
            "does": st.lists(st.sampled_from(DEEDS), max_size=1),
        }
    )
    change = st.fixed_dictionaries(
        {
            "needs": states(values, most=1),  # with more of them few cases have any order
            "leaves": states(left_values, least=1),
            "takes": st.integers(1, 9).map(lambda minutes: f"{minutes} min to {minutes + 2} min"),
        }
    )
    precautions = draw(
        st.sampled_from(
            [
                {},
                {"dry": {"doing": "drips", "before": "fits", "because": "it drips"}},
                {
                    "dry": {"doing": "drips", "before": "fits", "because": "it drips"},
                    "first": {"doing": "reads", "before": "drips", "because": "it is read first"},
                    "cold": {"doing": "fits", "needs": {"w": "yes"}, "because": "it is hot"},
                },
            ]
        )
    )
    tasks: dict[str, Any] = draw(st.dictionaries(st.sampled_from("abcde"), task, min_size=1, max_size=5))
    changes: dict[str, Any] = draw(st.dictionaries(st.sampled_from("klmno"), change, max_size=5))
    visit = {"found": draw(states(values, least=4, most=4)), "left": draw(states(values))}
    return equipment(tasks, changes, precautions, visit)


def no_order_is_cheaper(given: Equipment) -> None:
    tasks = tuple(given.tasks)
    least = exhaustive(given, tasks)
    if least is None:
        with pytest.raises(ProcedureError, match="no order of them is possible"):
            order(given, tasks)
        return
    stages = order(given, tasks)
    walk(given, stages)
    assert sorted(stage.name for stage in stages if stage.is_task) == sorted(tasks)
    assert cost(given, stages) == pytest.approx(least)


@given(small())
@settings(max_examples=100, deadline=None)
def test_no_order_is_cheaper(given: Equipment) -> None:
    no_order_is_cheaper(given)


@pytest.mark.long
@given(small())
@settings(max_examples=1_000, deadline=None)
def test_no_order_is_cheaper_in_many_cases(given: Equipment) -> None:
    no_order_is_cheaper(given)


def test_a_task_that_changes_the_state_for_free_is_kept_for_where_it_saves_a_change() -> None:
    """Done as soon as it can be, the first task would leave the guard to be taken away by a change in the end."""
    given = equipment(
        {
            "takes-guard": {"leaves": {"guard": "no"}},
            "with-guard": {"needs": {"guard": "yes"}},
            "without-guard": {"needs": {"guard": "no"}},
        },
        {"fit": {"leaves": {"guard": "yes"}}, "take": {"leaves": {"guard": "no"}}},
        visit={"found": {"guard": "no"}, "left": {"guard": "no"}},
    )
    stages = order(given, ("takes-guard", "without-guard", "with-guard"))
    assert [stage.name for stage in stages] == ["without-guard", "fit", "with-guard", "takes-guard"]


@pytest.fixture(scope="module")
def twin_9() -> Equipment:
    return read_equipment((procedures() / "twin-9" / "equipment.yaml").read_text(encoding="utf-8"))


class TestTwin9:
    """The order of a careful technician: warm oil first, coolant when it is cold, the belt last; common practice."""

    def test_the_whole_visit(self, twin_9: Equipment) -> None:
        stages = order(twin_9, ("belt", "coolant", "oil-and-filter", "test-run"))
        walk(twin_9, stages)
        before = ["run", "test-run", "stop", "isolate", "oil-and-filter", "cool", "coolant", "guard-away", "belt"]
        after = ["close-up", "restore", "try-out", "stop-again", "isolate-again", "look-over", "leave"]
        assert [stage.name for stage in stages] == [*before, *after]

    def test_isolation_and_the_run_after_the_work_are_shared(self, twin_9: Equipment) -> None:
        alone = sum(cost(twin_9, order(twin_9, (task,)))[0] for task in twin_9.tasks)
        together = cost(twin_9, order(twin_9, tuple(twin_9.tasks)))[0]
        # by hand, in the middle of each range; closing up, the run, looking over and undoing come after any such work
        run, stop, isolate, cool, guard = 12.5, 5.5, 16, 90, 3
        afterwards = 7.5 + 10 + 6.5 + 1.5 + 8 + 10 + 8
        assert together == run + stop + isolate + cool + guard + afterwards
        oil, coolant, belt = run + stop + isolate, isolate + cool, isolate + guard
        assert alone == run + stop + oil + coolant + belt + 3 * afterwards

    def test_a_test_run_alone_needs_no_isolation(self, twin_9: Equipment) -> None:
        assert [stage.name for stage in order(twin_9, ("test-run",))] == ["run", "test-run", "stop"]

    def test_it_says_why(self, twin_9: Equipment) -> None:
        reasons = {stage.name: worded(stage.reasons) for stage in order(twin_9, tuple(twin_9.tasks))}
        assert reasons["cool"] == ("the engine is cold: for coolant (the coolant cap is never opened hot)",)
        assert "after oil and filter and coolant: nothing may drip on a new belt" in reasons["belt"]
        # coolant first would cost closing up, undoing, running, stopping and isolating again: by hand 7.5 + 10 + 6.5 +
        # 1.5 + 8
        assert "before coolant: the other way round takes 33.5 min of changes more" in reasons["oil-and-filter"]

    def test_it_is_the_same_without_its_reasons(self, twin_9: Equipment) -> None:
        whole = order(twin_9, tuple(twin_9.tasks))
        alone = order(twin_9, tuple(twin_9.tasks), with_reasons=False)
        assert alone == tuple(replace(stage, reasons=()) for stage in whole)

    def test_cooling_goes_on_during_other_work(self, twin_9: Equipment) -> None:
        """60 to 120 min from the stop; isolating (12 to 20) and the oil (45 to 70) are done meanwhile."""
        (cooling,) = [stage for stage in order(twin_9, tuple(twin_9.tasks)) if stage.name == "cool"]
        assert cooling.minutes == (0, 120 - 12 - 45)

    def test_a_running_engine_is_stopped_first(self, twin_9: Equipment) -> None:
        found = {**twin_9.visit.found, "running": Known.YES}
        assert [stage.name for stage in order(twin_9, ("belt",), found)][:2] == ["stop", "isolate"]


def test_precautions_in_a_circle_have_no_order() -> None:
    circle = {"one": {"doing": "drips", "before": "fits", "because": "x"}}
    circle["two"] = {"doing": "fits", "before": "drips", "because": "y"}
    given = equipment({"a": {"does": ["drips"]}, "b": {"does": ["fits"]}}, precautions=circle)
    with pytest.raises(ProcedureError, match="no order of them is possible"):
        order(given, ("a", "b"))
    assert order(given, ("a",))[0].name == "a"
