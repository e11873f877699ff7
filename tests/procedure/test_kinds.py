"""Every kind of step declares what the rest of the program must know of it, and nobody asks which kind a step is.

A new kind was silently missing from the paper form, got a false fault from `enginebay check` and was unknown to the
synthetic technician, because each of these asked for the class and had a branch for "all others".
"""

from __future__ import annotations

import ast
import textwrap
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import yaml

import assistant
from assistant.edge.checking.models import words_of
from assistant.edge.checking.pronouncing import pronounced
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.fields import FileModel
from assistant.procedure.kinds import KINDS, kinds_of
from assistant.procedure.measured import CalculatedValue, Judged, Measured
from assistant.procedure.reading import examine_procedure, read_equipment, read_procedure
from assistant.procedure.step import IncompleteKindError, Step
from assistant.procedure.traits import (
    ChoosesAnswer,
    LetsTimePass,
    SaysHoldPhrase,
    SaysReading,
    SaysReadings,
    SpellsPart,
)

PACKAGE = Path(assistant.__file__).parent
KIND_FOLDERS = (PACKAGE / "procedure" / "kinds", PACKAGE / "dialogue" / "kinds")

EQUIPMENT = """
    format: 1
    model: example
    name: Example
    assets: {bench: the set on the bench}
    state: {isolated: {yes: the set is isolated, no: the set is live}}
"""
AROUND = """
    format: 1
    procedure: example
    title: Example
    before:
      - reading: oil-out
        title: Oil out
        text: How much oil came out?
        name: oil out
        unit: L
        believable: 0 L to 6 L
    steps:
      - STEP
    after:
      - instruction: wipe-down
        title: Wipe down
        text: Wipe the engine down.
"""
"""What an example may name: see `Step.EXAMPLE`."""


def equipment() -> Equipment:
    return read_equipment(textwrap.dedent(EQUIPMENT))


def example_text(kind: type[Step]) -> str:
    """A procedure file with the example of a kind as its only step under `steps`."""
    step = textwrap.indent(textwrap.dedent(kind.EXAMPLE).strip(), " " * 4).strip()
    return textwrap.dedent(AROUND).replace("STEP", step)


def example_procedure(kind: type[Step]) -> Procedure:
    return read_procedure(example_text(kind), equipment(), "example.yaml")


def example(kind: type[Step]) -> Step:
    _, steps, _ = example_procedure(kind).sections
    (step,) = steps.steps
    return step


def at(step: Step, path: tuple[str | int, ...]) -> object:
    """What stands at a path in a step. Errors: KeyError, IndexError, AttributeError when nothing does."""
    found: Any = step
    for key in path:
        found = getattr(found, str(key)) if isinstance(found, FileModel) else found[key]
    return found


# --- nobody asks which kind a step is ----------------------------------------------------------------------------


def classes() -> set[str]:
    """The names of all step classes and of what they are made of."""

    def below(kind: type[object]) -> set[type[object]]:
        return {kind, *(deeper for sub in kind.__subclasses__() for deeper in below(sub))}

    return {kind.__name__ for base in (Step, Judged, Measured, CalculatedValue) for kind in below(base)}


def branches(source: str) -> Iterator[tuple[int, str]]:
    """Where a module asks for the class of a step, by line: in `isinstance`, in a case, or by comparing a type."""
    tree = ast.parse(source)
    local: dict[str, str] = {}  # names that are bound here -> class; empty for a module of `procedure`
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("assistant.procedure"):
            local |= {each.asname or each.name: each.name if each.name in classes() else "" for each in node.names}
        elif isinstance(node, ast.Import):
            local |= {each.asname or "assistant": "" for each in node.names if each.name.startswith("assistant.proced")}

    def named(node: ast.AST) -> Iterator[str]:
        for inner in ast.walk(node):
            if isinstance(inner, ast.Name) and local.get(inner.id):
                yield local[inner.id]
            elif isinstance(inner, ast.Attribute) and inner.attr in classes():
                root = inner.value
                while isinstance(root, ast.Attribute):
                    root = root.value
                if isinstance(root, ast.Name) and root.id in local:
                    yield inner.attr

    for node in ast.walk(tree):
        asked: list[ast.AST] = []
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id in ("isinstance", "issubclass")
        ):
            asked = list(node.args[1:])
        elif isinstance(node, ast.MatchClass):
            asked = [node.cls]
        elif isinstance(node, ast.Compare) and any(
            isinstance(side, ast.Call) and ast.unparse(side.func) == "type" for side in (node.left, *node.comparators)
        ):
            asked = [node.left, *node.comparators]
        for question in asked:
            for name in named(question):
                yield getattr(node, "lineno", 0), name


def test_nobody_asks_which_kind_a_step_is() -> None:
    found = {
        path.relative_to(PACKAGE).as_posix(): [f"line {line}: {name}" for line, name in lines]
        for path in sorted(PACKAGE.rglob("*.py"))
        if not any(folder in path.parents for folder in KIND_FOLDERS)
        if (lines := list(branches(path.read_text(encoding="utf-8"))))
    }
    assert found == {}, "ask a trait of the step instead; a new one goes into procedure/step.py"


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("from assistant.procedure.kinds.timer import Timer\nisinstance(step, Timer)", [(2, "Timer")]),
        ("from assistant.procedure.kinds.timer import Timer as Wait\nisinstance(step, Wait | str)", [(2, "Timer")]),
        ("from assistant.procedure.kinds import timer\nx = isinstance(step, (timer.Timer, str))", [(2, "Timer")]),
        ("from assistant.procedure.measured import Measured\nisinstance(asked, Measured)", [(2, "Measured")]),
        ("import assistant.procedure.kinds.check as c\nmatch step:\n    case c.Check():\n        pass", [(3, "Check")]),
        ("from assistant.procedure.kinds.count import Count\ntype(step) is Count", [(2, "Count")]),
        ("from assistant.procedure.kinds.count import Count\nrows = {Count: 1}", []),
        ("from assistant.session.visit import Timer\nisinstance(step, Timer)", []),
    ],
)
def test_such_a_question_is_found(source: str, found: list[tuple[int, str]]) -> None:
    assert list(branches(source)) == found


# --- a kind is whole, or is none ---------------------------------------------------------------------------------

WEIGHING = """
from typing import ClassVar

from assistant.procedure.step import Step
from assistant.procedure.traits import NOTHING_TO_FILL_IN, ON_TO_THE_NEXT, SaysNext


class Weighing(Step):
    KEY: ClassVar[str] = "weigh"
    EXAMPLE: ClassVar[str] = "weigh: it"
    may_skip: bool = True
    def own_prompts(self): return ()
    def answer_phrases(self): return ()
    def hold_card(self): return None
    def measurements(self): return ()
    def works_out(self): return None
    def ways(self): return ON_TO_THE_NEXT
    def unproved(self): return ""
    def wait(self): return None
    def own_problems(self): yield from ()
    def on_paper(self): return NOTHING_TO_FILL_IN
    def response(self): return SaysNext(by_hand=True)
"""
TRAITS = (*("KEY", "EXAMPLE", "may_skip"), *sorted(Step.__abstractmethods__))


def defined(source: str, without: str = "") -> dict[str, Any]:
    """What a module of this source holds, when the class in it lacks one trait."""
    tree = ast.parse(source)
    for node in tree.body:
        if isinstance(node, ast.ClassDef):
            node.body = [
                inner
                for inner in node.body
                if getattr(inner, "name", None) != without
                and not (isinstance(inner, ast.AnnAssign) and ast.unparse(inner.target) == without)
            ]
    module = ModuleType("weighing")
    exec(compile(tree, "weighing.py", "exec"), vars(module))
    return vars(module)


@pytest.mark.parametrize("trait", TRAITS)
def test_a_kind_that_lacks_a_trait_cannot_be_defined(trait: str) -> None:
    with pytest.raises(IncompleteKindError) as caught:
        defined(WEIGHING, without=trait)
    assert (caught.value.kind, caught.value.lacking) == ("Weighing", (trait,))
    assert all(words in str(caught.value) for words in ("Weighing", trait))


def test_a_kind_that_lacks_none_can_be_defined_and_used() -> None:
    kind = defined(WEIGHING)["Weighing"]
    assert kind(id="it", title="Weigh it", text="Weigh it.").prompts() == ("Weigh it", "Weigh it.", "")
    assert len(TRAITS) > 10


def test_a_kind_built_on_another_has_a_key_and_an_example_of_its_own() -> None:
    source = "from assistant.procedure.kinds.check import Check\nclass Vote(Check):\n    pass"
    with pytest.raises(IncompleteKindError) as caught:
        defined(source)
    assert caught.value.lacking == ("KEY", "EXAMPLE")


def module_of(name: str, *kinds: type[Step]) -> ModuleType:
    module = ModuleType(name)
    for kind in kinds:
        setattr(module, kind.__name__, kind)
    return module


def test_each_file_holds_one_kind_and_no_two_have_one_key() -> None:
    kind, other = (defined(WEIGHING)["Weighing"] for _ in range(2))
    assert kinds_of([module_of(kind.__module__, kind)]) == {"weigh": kind}
    with pytest.raises(TypeError):
        kinds_of([module_of("empty")])
    with pytest.raises(TypeError):
        kinds_of([module_of(kind.__module__, kind), module_of(other.__module__, other)])


def test_every_file_of_the_folder_is_a_kind() -> None:
    files = {path.stem for path in KIND_FOLDERS[0].glob("*.py")} - {"__init__"}
    assert {kind.__module__.rpartition(".")[2] for kind in KINDS.values()} == files
    assert {key: kind.KEY for key, kind in KINDS.items()} == {key: key for key in KINDS}


# --- every trait of every kind, on its example -------------------------------------------------------------------


@pytest.fixture(params=list(KINDS), scope="module")
def kind(request: pytest.FixtureRequest) -> type[Step]:
    return KINDS[request.param]


@pytest.fixture(scope="module")
def step(kind: type[Step]) -> Step:
    return example(kind)


class TestExample:
    def test_it_is_of_its_kind(self, kind: type[Step], step: Step) -> None:
        assert type(step) is kind
        assert next(iter(yaml.safe_load(kind.EXAMPLE))) == kind.KEY

    def test_nothing_is_wrong_with_it(self, kind: type[Step]) -> None:
        known = words_of("en")
        examined = examine_procedure(
            example_text(kind),
            equipment(),
            "example.yaml",
            known.commands,
            known.wording,
            lambda phrases: pronounced("en", phrases),
            known.while_asking,
        )
        assert examined.tree.faults == []

    def test_each_of_its_texts_is_spoken_said_or_printed(self, step: Step) -> None:
        """What a prompt speaks is held against the hold phrases, so no text may be forgotten."""
        paper = step.on_paper()
        printed = (part for blank in paper.blanks for part in (blank.name, blank.unit, blank.limits))
        known = " | ".join((*step.prompts(), *step.phrases(), *paper.boxes, *printed))
        assert [text for text in texts(step) if text not in known] == []


def texts(data: object, key: str = "") -> Iterator[str]:
    """All texts of a step, without identifiers, what a formula takes, and what goes into the record only."""
    if isinstance(data, FileModel):
        for name in type(data).model_fields:
            yield from texts(getattr(data, name), name)
    elif isinstance(data, dict):
        for value in data.values():
            yield from texts(value, key)
    elif isinstance(data, tuple):
        for value in data:
            yield from texts(value, key)
    elif type(data) is str and key not in ("id", "goes_to", "formula", "inputs", "finding"):
        yield data


class TestTraits:
    def test_prompts(self, step: Step) -> None:
        assert set(step.own_prompts()) <= set(step.prompts())
        assert {step.title, step.text, step.details} <= set(step.prompts())

    def test_answer_phrases(self, step: Step) -> None:
        for own in step.answer_phrases():
            assert at(step, own.at)
            assert own.phrase in step.phrases()
        taught = [own.answer for own in step.answer_phrases() if own.taught]
        assert taught == list(dict.fromkeys(own.answer for own in step.answer_phrases())), "one taught phrase an answer"

    def test_hold_card(self, step: Step) -> None:
        card = step.hold_card()
        assert (card is None) or (step.phrases() == (card.phrase,) and card.number >= 1 and not step.may_skip)

    def test_measurements(self, step: Step) -> None:
        for each in step.measurements():
            assert at(step, each.at) is each.measured
            assert each.measured.name in step.prompts()
            assert each.samples >= 1
            assert each.measured.believable.side(each.measured.middle()) == 0
        alone = [each.measured for each in step.measurements() if not each.at]
        assert step.reading() is (alone[0] if alone else None)
        assert len(step.measurements()) == 1 or not alone

    def test_what_is_worked_out(self, step: Step) -> None:
        worked_out = step.works_out()
        if worked_out is None:
            return
        assert worked_out.name in step.prompts()
        assert {name for names in worked_out.readings.values() for name in names} == {"oil-out"}
        before = example_procedure(type(step)).steps()[0].reading()
        assert before is not None
        assert list(worked_out.tried({"oil-out": before})) == []

    def test_ways(self, step: Step) -> None:
        assert step.ways()
        for way in step.ways():
            assert at(step, way.at)
            assert way.goes_to in (None, "wipe-down")

    def test_what_it_proves(self, step: Step) -> None:
        assert not step.unproved() or repr(step.id) in step.unproved()
        assert step.hold_card() is None or step.unproved() == ""

    def test_wait(self, step: Step) -> None:
        wait = step.wait()
        assert wait is None or wait.seconds == float(wait.lasts.to("s").value) > 0

    def test_own_problems(self, step: Step) -> None:
        assert list(step.own_problems()) == []

    def test_on_paper(self, step: Step) -> None:
        paper = step.on_paper()
        assert all(blank.name for blank in paper.blanks)
        printed = " ".join(f"{blank.name} {blank.unit} {blank.limits}" for blank in paper.blanks)
        judged: list[Judged] = [each.measured for each in step.measurements()]
        assert all(str(limits.low) in printed for value in judged for _, limits in value.every_limits())
        assert len(paper.blanks) >= sum(each.samples for each in step.measurements())
        card = step.hold_card()
        taught = [] if card else [own.phrase for own in step.answer_phrases() if own.taught]
        assert list(paper.boxes) == taught
        assert card is None or card.phrase not in printed, "it stands on the card, and nowhere else"

    def test_response(self, step: Step) -> None:
        """It is what its other traits want: who is asked for a value says a value."""
        response, card = step.response(), step.hold_card()
        assert isinstance(response, SaysHoldPhrase) is (card is not None)
        assert isinstance(response, ChoosesAnswer) is (bool(step.phrases()) and card is None)
        assert isinstance(response, SaysReading) is (step.reading() is not None)
        assert isinstance(response, SaysReadings) is (bool(step.measurements()) and step.reading() is None)
        assert isinstance(response, LetsTimePass) is (step.wait() is not None)
        match response:
            case SaysHoldPhrase(phrase):
                assert phrase in step.phrases()
            case ChoosesAnswer(answers):
                assert {answer.phrase for answer in answers.values()} <= set(step.phrases())
            case SaysReading(measured):
                assert measured is step.reading()
            case SaysReadings(first):
                assert first == step.measurements()[0].measured.name
            case SpellsPart(proof):
                assert len(proof) == 3

    def test_may_skip(self, kind: type[Step]) -> None:
        assert kind.model_fields["may_skip"].default in (True, False)
