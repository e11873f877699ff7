"""What a procedure must hold before it may be used: its structure, and the engine's state along the way.

Each check is a function from a procedure and its equipment to problems; a problem names the path in the file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.steps import Check, HoldPoint, Known, Reading, Step

Path = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong and what would be right. path: keys and indexes from the top of the file."""

    path: Path
    cause: str
    remedy: str


def problems(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """Everything that is wrong, in the order of the checks."""
    for check in (_identifiers, _variables, _state_along_the_way, _limits_believable, _answers, _hold_phrases, _cards):
        yield from check(procedure, equipment)


def _placed(procedure: Procedure) -> Iterator[tuple[Path, Step]]:
    for section in procedure.sections:
        for index, step in enumerate(section.steps):
            yield (section.name, index), step


def _identifiers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    seen: set[str] = set()
    for path, step in _placed(procedure):
        if step.id in seen:
            yield Problem(path, f"the step {step.id!r} stands here a second time", "Give it an identifier of its own")
        seen.add(step.id)
    if not seen:
        yield Problem((), "the procedure has no steps", "Write at least one under `steps`")


def _variables(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for path, step in _placed(procedure):
        for key, names in (("needs", step.needs), ("leaves", step.leaves)):
            for name in names:
                if name not in equipment.state:
                    known = ", ".join(equipment.state)
                    yield Problem(
                        (*path, key, name),
                        f"{name!r} is no variable of the engine's state",
                        f"Use one of {known}, or add it under `state` in equipment.yaml",
                    )


def _state_along_the_way(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    state: dict[str, Known] = {}
    for path, step in _placed(procedure):
        for name, value in step.needs.items():
            before = state.get(name, Known.UNKNOWN)
            if before is not value:
                yield Problem(
                    (*path, "needs", name),
                    f"{step.id!r} needs {name}: {value}, but the steps before leave it {before}",
                    f"Put a step that leaves `{name}: {value}` before this one",
                )
        state.update({name: left.value for name, left in step.leaves.items()})


def _limits_believable(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for path, step in _placed(procedure):
        if not isinstance(step, Reading) or step.limits is None:
            continue
        for end in (step.limits.low, step.limits.high):
            if end is not None and step.believable.side(end) != 0:
                yield Problem(
                    (*path, "limits"),
                    f"the limit {end} lies outside what is believable ({step.believable})",
                    "Widen `believable` or correct `limits`",
                )


def _answers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    for path, step in _placed(procedure):
        if not isinstance(step, Check):
            continue
        seen: dict[str, str] = {}
        for key, answer in step.answers.items():
            for phrase in (answer.phrase, *answer.also):
                if phrase in seen:
                    yield Problem(
                        (*path, "answers", key),
                        f"{phrase!r} stands for the answer {seen[phrase]!r} already",
                        "Give each answer words of its own",
                    )
                seen[phrase] = key


def _hold_phrases(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A prompt that speaks a hold phrase would pass the hold point through the loudspeaker."""
    holds = [(path, step) for path, step in _placed(procedure) if isinstance(step, HoldPoint)]
    for path, hold in holds:
        wanted = f" {hold.phrase} "
        for variable, words in equipment.state.items():
            if any(wanted in f" {_spoken_words(text)} " for text in (words.yes, words.no)):
                yield Problem(
                    (*path, "phrase"),
                    f"the words for the state {variable!r} in equipment.yaml speak the phrase {hold.phrase!r}",
                    "Choose a phrase that no prompt speaks, or reword the state",
                )
        for _, step in _placed(procedure):
            for text in step.prompts():
                if wanted in f" {_spoken_words(text)} ":
                    yield Problem(
                        (*path, "phrase"),
                        f"a prompt of the step {step.id!r} speaks the phrase {hold.phrase!r}",
                        "Choose a phrase that no prompt speaks, or reword the prompt",
                    )
            if step is not hold and hold.phrase in step.phrases():
                yield Problem(
                    (*path, "phrase"),
                    f"the step {step.id!r} has the phrase {hold.phrase!r} too",
                    "Give each hold point a phrase of its own",
                )


def _cards(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    seen: set[int] = set()
    for path, step in _placed(procedure):
        if isinstance(step, HoldPoint):
            if step.card in seen:
                yield Problem((*path, "card"), f"card number {step.card} stands twice", "Number the cards without gaps")
            seen.add(step.card)


def _spoken_words(text: str) -> str:
    return " ".join(re.findall(r"[a-z']+", text.lower()))
