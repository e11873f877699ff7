"""Words that are heard: what may be said at a step is apart in sound, and no prompt speaks the phrase of a hold point.

Knows phrases and how far apart they must be. Refuses to know what distance is (`likeness.py`) and the commands and the
wording of a language, which are passed in.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from assistant.procedure.checks.placed import hold_points, placed
from assistant.procedure.checks.texts import says
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.likeness import Pronunciations, distance, missing, sounds
from assistant.procedure.problem import Path, Problem, Severity

TOO_NEAR = 0.25  # two phrases of different meaning nearer than this are wrong: they differ in about one sound
NEAR = 0.35  # an answer nearer than this to a command or to another answer is worth a note; a hold phrase is wrong

Pronounce = Callable[[Iterable[str]], Pronunciations]


def answers(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """No two answers of a step have one phrase."""
    for path, step in placed(procedure):
        seen: dict[str, str] = {}
        for own in step.answer_phrases():
            if own.phrase in seen:
                yield Problem(
                    (*path, *own.at),
                    f"{own.phrase!r} stands for the answer {seen[own.phrase]!r} already",
                    "Give each answer words of its own",
                )
            seen[own.phrase] = own.answer


def hold_phrases(procedure: Procedure, equipment: Equipment) -> Iterator[Problem]:
    """A prompt that speaks a hold phrase would pass the hold point through the loudspeaker."""
    for path, hold, card in hold_points(procedure):
        for variable, words in equipment.state.items():
            if any(says(text, card.phrase) for text in (words.yes, words.no)):
                yield Problem(
                    (*path, "phrase"),
                    f"the words for the state {variable!r} in equipment.yaml speak the phrase {card.phrase!r}",
                    "Choose a phrase that no prompt speaks, or reword the state",
                )
        for _, step in placed(procedure):
            for text in step.prompts():
                if says(text, card.phrase):
                    yield Problem(
                        (*path, "phrase"),
                        f"a prompt of the step {step.id!r} speaks the phrase {card.phrase!r}",
                        "Choose a phrase that no prompt speaks, or reword the prompt",
                    )
            if step is not hold and card.phrase in step.phrases():
                yield Problem(
                    (*path, "phrase"),
                    f"the step {step.id!r} has the phrase {card.phrase!r} too",
                    "Give each hold point a phrase of its own",
                )


def too_near(procedure: Procedure, commands: tuple[str, ...], pronounce: Pronounce) -> Iterator[Problem]:
    """Phrases are apart in sound that may be said in one place, and those of all hold points.

    A hold phrase is not to be passed by a command misheard, nor an answer given by one.
    """
    phrases = [phrase for step in procedure.steps() for phrase in step.phrases()]
    pronounced = pronounce([*commands, *phrases])
    commands = tuple(phrase for phrase in commands if missing(phrase, pronounced) is None)  # else the language is wrong
    holds: list[tuple[Path, str]] = []
    for path, step in placed(procedure):
        is_hold = step.hold_card() is not None
        kind = "the phrase of another hold point," if is_hold else "the answer"
        others = holds if is_hold else []
        for own in step.answer_phrases():
            where = (*path, *own.at)
            unknown = missing(own.phrase, pronounced)
            if unknown is not None:
                yield Problem(
                    where,
                    f"how {unknown!r} sounds is not known, so {own.phrase!r} was compared with no other phrase",
                    "Install espeak-ng, or add the word to pronunciations.yaml of the language",
                )
                continue
            apart = tuple(phrase for at, phrase in others if at != where and phrase != own.phrase)
            least = NEAR if is_hold else TOO_NEAR  # nearer than this is wrong
            yield from _nearest(where, own.phrase, least, "the command", commands, pronounced)
            yield from _nearest(where, own.phrase, least, kind, apart, pronounced)
            others.append((where, own.phrase))


def _nearest(
    path: Path, phrase: str, least: float, kind: str, others: tuple[str, ...], pronounced: Pronunciations
) -> Iterator[Problem]:
    """The phrase of these that sounds most like it, when that is too much. least: nearer than this it is wrong."""
    said = sounds(phrase, pronounced)
    far = {other: distance(said, sounds(other, pronounced)) for other in others}
    nearest = min(far, key=far.__getitem__, default=None)
    if nearest is None or far[nearest] >= NEAR:
        return
    wrong = far[nearest] < least
    yield Problem(
        path,
        f"{phrase!r} sounds {'too much' if wrong else 'much'} like {kind} {nearest!r} (distance {far[nearest]:.2f})",
        "Choose words further apart in sound; `enginebay words` shows how far",
        Severity.WRONG if wrong else Severity.NOTE,
    )


def hold_phrases_in_wording(procedure: Procedure, wording: tuple[str, ...]) -> Iterator[Problem]:
    """The program itself does not speak a hold phrase. wording: all that it speaks."""
    for path, _, card in hold_points(procedure):
        for text in wording:
            if says(text, card.phrase):
                yield Problem(
                    (*path, "phrase"),
                    f"the program itself speaks the phrase {card.phrase!r}: {text!r}",
                    "Choose a phrase that no prompt speaks",
                )


def said_by_prompts(procedure: Procedure, while_asking: tuple[str, ...]) -> Iterator[Problem]:
    """A command in a prompt costs hearing: without a headset it is not obeyed while the prompt is spoken, since the
    loudspeaker may have said it. That is no danger, so it is a note. Answers cost nothing: without a headset none is
    listened for meanwhile."""
    for path, step in placed(procedure):
        texts = step.prompts()
        named = [phrase for phrase in while_asking if any(says(text, phrase.lower()) for text in texts)]
        if named:
            words = ", ".join(map(repr, named))
            keys = ("title", "text", "details")
            where = next((key for key in keys if says(getattr(step, key), named[0].lower())), "text")
            cause = f"a prompt of {step.id!r} speaks the command {words}, which is not obeyed meanwhile"
            yield Problem((*path, where), cause, "Put it in other words, where there are any", Severity.NOTE)
