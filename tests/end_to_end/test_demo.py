"""The main job, from sound to record: a synthetic technician does the whole task in engine noise, heard by the real
recogniser. What it recorded is held against what was true. A visit takes about half a minute of computing.
"""

from __future__ import annotations

import ast
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import soundfile
from markupsafe import escape

import assistant.app.demo
import assistant.app.rehearsed
import assistant.rehearsal.technician
import assistant.rehearsal.technician_voice
from assistant.app.demo import ASSET, TASKS, WHOLE_VISIT, rehearse, speech_setup
from assistant.app.rehearsed import RehearsedWorld
from assistant.app.visit_owner import VisitOwner
from assistant.app.visits import SpeechSetup
from assistant.app.watching import NoWatcher
from assistant.dialogue.effects import Decision
from assistant.dialogue.messages import Message
from assistant.dialogue.turn import Turn
from assistant.dialogue.work import Work
from assistant.edge.files.language import Language
from assistant.edge.files.library import order_visit
from assistant.edge.files.store import CLIPS, SessionFolder, read_session
from assistant.edge.pages.record_page import export_html
from assistant.grammar.spoken import SpokenForms
from assistant.hearing.ear import Ear, Samples
from assistant.meanings import Command, CommandName
from assistant.procedure.kinds.hold_point import HoldPoint
from assistant.procedure.kinds.reading import Reading
from assistant.procedure.kinds.reading_set import ReadingSet
from assistant.procedure.step import Step
from assistant.rehearsal.technician import Speaks, Technician, Waits
from assistant.session import facts as f
from assistant.session.applying import fold
from assistant.session.inputs import AnswerVerdict, Heard, Input, PromptPlayed, Source
from assistant.session.journal import Journal
from assistant.session.visit import StepOutcome, Visit

WORK = order_visit(ASSET, TASKS, "technician").work
NOISE = 10.0


@dataclass
class Rehearsed:
    """A visit that took place. said: all that the technician said, in order."""

    told: dict[str, Any]
    said: list[str] = field(default_factory=list)
    work: Work = WORK

    @property
    def folder(self) -> Path:
        return Path(self.told["session"])

    @property
    def journal(self) -> Journal:
        return read_session(self.folder)

    @property
    def visit(self) -> Visit:
        return fold(self.journal.facts())

    def facts(self, kind: type[f.Fact]) -> list[Any]:
        return [fact for fact, _ in self.journal.facts() if isinstance(fact, kind)]

    def inputs(self) -> list[Input]:
        return [entry.envelope.input for entry in self.journal.entries]


@pytest.fixture(scope="module")
def means() -> SpeechSetup:
    return speech_setup()


@pytest.fixture(scope="module")
def patch() -> Iterator[pytest.MonkeyPatch]:
    with pytest.MonkeyPatch.context() as patch:
        yield patch


class Enough(Exception):
    """What was to be seen was seen."""


def attended(
    means: SpeechSetup,
    patch: pytest.MonkeyPatch,
    root: Path,
    seed: int,
    muted: int | None = None,
    most: int = 1000,
    tasks: tuple[str, ...] = TASKS,
) -> Rehearsed:
    """A rehearsed visit; it breaks off when the technician would say more than `most` things."""
    said: list[str] = []

    def speak(text: str, voice: str) -> Samples:
        if len(said) == most:
            raise Enough
        said.append(text)
        return assistant.rehearsal.technician_voice.speak(text, voice)

    patch.setattr(assistant.app.rehearsed, "speak", speak)
    try:
        told = rehearse(means, NoWatcher(), seed=seed, noise_db=NOISE, root=root, tasks=tasks, muted=muted)
    except Enough:
        (folder,) = root.iterdir()
        told = {"session": str(folder)}
    return Rehearsed(told, said, order_visit(ASSET, tasks, "technician").work)


CASES = [
    pytest.param((TASKS, 1), id="oil-1"),
    pytest.param((WHOLE_VISIT, 2), id="whole-2"),
    *(pytest.param((TASKS, seed), id=f"oil-{seed}", marks=pytest.mark.long) for seed in range(2, 6)),
    *(pytest.param((WHOLE_VISIT, seed), id=f"whole-{seed}", marks=pytest.mark.long) for seed in (1, 3, 4, 5)),
]


@pytest.fixture(scope="module", params=CASES)
def done(
    request: pytest.FixtureRequest,
    means: SpeechSetup,
    patch: pytest.MonkeyPatch,
    tmp_path_factory: pytest.TempPathFactory,
) -> Rehearsed:
    tasks, seed = request.param
    return attended(means, patch, tmp_path_factory.mktemp("sessions"), seed, tasks=tasks)


def names_of(step: Step) -> tuple[str, ...]:
    """The readings that a step asks for."""
    match step:
        case Reading():
            return (step.name,)
        case ReadingSet():
            return tuple(member.name for member in step.members)
    return ()


class TestAWholeVisit:
    def test_it_ends(self, done: Rehearsed) -> None:
        assert done.told["finished"]
        assert done.visit.ended is not None
        assert done.visit.ended.complete
        assert done.told["utterances"] == len(done.said) > len(done.work.steps) / 2

    def test_every_step_is_done_or_left_out_with_a_reason(self, done: Rehearsed) -> None:
        assert set(done.visit.outcomes) == {placed.place for placed in done.work.steps}
        skipped = {place for place, outcome in done.visit.outcomes.items() if outcome is StepOutcome.SKIPPED}
        assert {fact.place for fact in done.facts(f.StepSkipped) if fact.reason} >= skipped
        assert all(done.work.at(place).step.may_skip for place in skipped)
        assert done.told["steps_done"] == len(done.work.steps) - len(skipped)

    def test_every_task_is_done_and_due_anew(self, done: Rehearsed) -> None:
        stages = [fact.stage for fact in done.facts(f.StageDone)]
        assert [stage.name for stage in stages] == [stage.name for stage in done.work.plan]
        (told,) = [fact.said for fact in done.facts(f.Spoken) if any(one.name == "WorkComplete" for one in fact.said)]
        due = [one.text for one in told if one.name.startswith("TaskDue")]
        for stage in done.work.plan:
            if stage.is_task:
                assert any(text.startswith(f"{stage.title} is due ") and "now" not in text for text in due), stage.title

    def test_every_reading_is_true_or_carries_a_doubt(self, done: Rehearsed) -> None:
        readings = done.told["readings"]
        assert {reading["name"] for reading in readings} == {
            name
            for placed in done.work.steps
            if done.visit.outcomes[placed.place] is StepOutcome.DONE
            for name in names_of(placed.step)
        }
        for reading in readings:
            assert reading["true"] is not None
            assert reading["recorded"] == reading["true"] or reading["doubt"], reading
        kept = [(reading.name, float(reading.quantity.value)) for reading in done.visit.readings]
        assert kept == [(reading["name"], reading["recorded"]) for reading in readings]

    def test_every_hold_point_was_passed_by_its_own_phrase(self, done: Rehearsed) -> None:
        holds = {placed.place: placed.step for placed in done.work.steps if isinstance(placed.step, HoldPoint)}
        passed = set()
        for entry in done.journal.entries:
            for fact in entry.facts:
                if isinstance(fact, f.StepDone) and fact.place in holds:
                    given = entry.envelope.input
                    assert isinstance(given, Heard)
                    assert given.verdict is AnswerVerdict.ACCEPTED
                    assert given.hypotheses[0].text == holds[fact.place].phrase
                    assert any(isinstance(other, f.HoldPointPassed) for other in entry.facts)
                    passed.add(fact.place)
        assert passed == set(holds)

    def test_no_prompt_spoke_the_phrase_of_a_hold_point(self, done: Rehearsed) -> None:
        phrases = [placed.step.phrase for placed in done.work.steps if isinstance(placed.step, HoldPoint)]
        spoken = [said.text for fact in done.facts(f.Spoken) for said in fact.said]
        assert len(spoken) > len(done.work.steps)
        for text in spoken:
            words = " ".join(re.findall(r"[a-z']+", text.lower()))
            assert not any(phrase in words for phrase in phrases), text

    def test_what_was_said_reached_the_assistant_as_sound_only(self, done: Rehearsed) -> None:
        heard = [given for given in done.inputs() if isinstance(given, Heard)]
        voices = [given for given in heard if given.source is Source.VOICE]
        assert all(given.clip is not None for given in voices)
        assert len(voices) > len(done.work.steps) / 2
        assert len(voices) > len(heard) / 2

    def test_every_cited_sound_is_there_and_is_what_it_was(self, done: Rehearsed) -> None:
        cited = {given.clip for given in done.inputs() if isinstance(given, Heard) and given.clip is not None}
        assert {path.stem for path in (done.folder / CLIPS).iterdir()} == {clip.sha256 for clip in cited}
        for clip in cited:
            path = done.folder / CLIPS / f"{clip.sha256}.flac"
            assert hashlib.sha256(path.read_bytes()).hexdigest() == clip.sha256
            assert soundfile.info(path).duration == pytest.approx(clip.seconds, abs=0.01)
        for reading in done.visit.readings:
            assert reading.clip in cited or reading.source is Source.TYPED

    def test_the_journal_holds_together(self, done: Rehearsed) -> None:
        journal = done.journal  # reading it verifies every line
        assert journal.torn == b""
        assert [entry.envelope.number for entry in journal.entries] == list(range(1, len(journal.entries) + 1))
        moments = [entry.envelope.at.seconds for entry in journal.entries]
        assert moments == sorted(moments)
        again, reread = SessionFolder.reopen(done.folder)
        again.close()
        assert reread.entries == journal.entries

    def test_the_technician_made_its_mistakes(self, done: Rehearsed) -> None:
        """It is not a recitation: something is asked again, and something is refused or corrected."""
        answers = [entry.envelope.input for entry in done.journal.entries if isinstance(entry.envelope.input, Heard)]
        commands = [answer.hypotheses[0].meaning for answer in answers if answer.hypotheses]  # by voice or typed
        assert Command(CommandName.SAY_AGAIN) in commands
        assert done.facts(f.RequestRefused) or done.facts(f.ReadBackRefused)

    def test_the_record_is_a_page(self, done: Rehearsed) -> None:
        page = export_html(done.folder)
        text = page.read_text(encoding="utf-8")
        assert page.parent == done.folder
        for reading in done.visit.readings:
            assert reading.name in text.lower() or reading.name in text
            if reading.clip is not None:
                assert reading.clip.sha256 in text
        for placed in done.work.steps:
            assert str(escape(placed.step.title)) in text, placed.step.id


def test_an_utterance_that_is_muted_changes_the_visit(
    means: SpeechSetup, patch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory, done: Rehearsed
) -> None:
    """The assistant knows what was said through its ears only: what made no sound was not said."""
    seed = int(done.folder.name.rpartition("-")[2])
    # One that was understood at once: the next is another, and there is but one way of saying it.
    number = next(
        at + 1
        for at in range(3, len(done.said) - 1)
        if done.said[at] != done.said[at + 1] and done.said[at] in {"next", *_phrases()}
    )
    tasks = tuple(stage.name for stage in done.work.plan if stage.is_task)
    muted = attended(means, patch, tmp_path_factory.mktemp("muted"), seed, number, most=number + 8, tasks=tasks)
    assert muted.said[:number] == done.said[:number]
    assert muted.said[number] == done.said[number - 1]  # nothing came of it, so it is said again
    assert muted.said[number] != done.said[number]
    before = [given for given in done.inputs() if not isinstance(given, PromptPlayed)]
    after = [given for given in muted.inputs() if not isinstance(given, PromptPlayed)]
    assert after != before
    lost = next(at for at, (one, other) in enumerate(zip(before, after, strict=False)) if one != other)
    heard_before = sum(isinstance(given, Heard) for given in before[:lost])
    assert heard_before <= number - 1  # all that differs comes after the words that were lost
    assert len(muted.said) == number + 8
    assert sum(isinstance(given, Heard) for given in after) > heard_before  # and it went on from there


def _phrases() -> set[str]:
    return {phrase for placed in WORK.steps for phrase in placed.step.phrases()}


class TestTheTechnicianKnowsOnlyWhatWasPlayed:
    def technician(self, means: SpeechSetup, seed: int = 1) -> Technician:
        return Technician(WORK.procedures, means.language.wording.forms, seed)

    def test_it_is_made_of_the_procedure_the_language_and_a_seed(self, means: SpeechSetup) -> None:
        """Nothing that it can reach knows the assistant's state."""
        seen: set[int] = set()
        kinds: set[type] = set()
        waiting: list[object] = [self.technician(means)]
        while waiting:
            thing = waiting.pop()
            if id(thing) in seen or isinstance(thing, type):
                continue
            seen.add(id(thing))
            kinds.add(type(thing))
            if isinstance(thing, dict):
                waiting += [*thing.keys(), *thing.values()]
            elif isinstance(thing, list | tuple | set | frozenset):
                waiting += list(thing)
            else:
                waiting += list(getattr(thing, "__dict__", {}).values())
                slots = {name for kind in type(thing).__mro__ for name in getattr(kind, "__slots__", ())}
                waiting += [getattr(thing, name) for name in slots if hasattr(thing, name) and name != "__dict__"]
        assert {Technician, SpokenForms, HoldPoint} <= kinds  # the walk does get around
        forbidden = {VisitOwner, Visit, Ear, SessionFolder, RehearsedWorld, Language, Decision, Turn, Work}
        assert kinds & forbidden == set()

    def test_its_module_knows_messages_and_nothing_else_of_the_dialogue(self) -> None:
        path = Path(str(assistant.rehearsal.technician.__file__))
        taken = set()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("assistant.dialogue"):
                taken |= {f"{node.module}.{alias.name}" for alias in node.names}
            elif isinstance(node, ast.Import):
                taken |= {alias.name for alias in node.names if alias.name.startswith("assistant")}
        assert taken == {"assistant.dialogue.messages"}

    def test_without_a_message_it_waits(self, means: SpeechSetup) -> None:
        technician = self.technician(means)
        assert isinstance(technician.act(), Waits)
        assert isinstance(technician.unanswered(), Waits)

    def test_messages_that_are_withheld_leave_it_idle(
        self, means: SpeechSetup, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
    ) -> None:
        """The assistant speaks, and nobody tells the technician: it must not get on all the same."""

        class Deaf(Technician):
            def hear(self, message: Message, whole: bool) -> None:
                pass

        spoken: list[str] = []

        def speak(text: str, voice: str) -> Samples:
            spoken.append(text)
            raise AssertionError(f"it said {text!r}")

        monkeypatch.setattr(assistant.app.demo, "Technician", Deaf)
        monkeypatch.setattr(assistant.app.rehearsed, "speak", speak)
        with pytest.raises(RuntimeError, match="nobody does anything"):
            rehearse(means, NoWatcher(), seed=1, noise_db=NOISE, root=tmp_path)
        assert spoken == []
        (folder,) = tmp_path.iterdir()
        visit = fold(read_session(folder).facts())
        assert visit.outcomes == {}
        assert visit.exchange is not None

    def test_a_message_that_is_played_moves_it(self, means: SpeechSetup) -> None:
        from assistant.dialogue.messages import StepText

        technician, step = self.technician(means), WORK.steps[0].step
        technician.habits.say_again.clear()
        technician.hear(StepText(step.id, step.text), whole=True)
        act = technician.act()
        assert isinstance(act, Speaks)
        assert act.text in {"next", *step.phrases()}
