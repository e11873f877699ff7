"""What may cut a prompt off, and what counts as an answer when.

A warning that was not spoken in full is spoken again before its step takes any answer; until then only what is
`ALWAYS_TAKEN` counts. What passes a hold point or confirms is never taken while a prompt is being spoken.

A read-back and the text of a hold point may be cut off like any other prompt, and are not repeated unasked: whoever
holds the talk button to correct a reading must not be spoken over, and what has been cut off by hand is there again
with "say again".
"""

from __future__ import annotations

from assistant.dialogue.commands import COMMANDS, offers
from assistant.dialogue.effects import Listen
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.meanings import Command, CommandName, FreeSpeech, Hypothesis, Meaning, Passphrase

STOP = Command(CommandName.STOP)
ALWAYS_TAKEN = (STOP, Command(CommandName.CALL_FOR_HELP))
_CARRY_ON = offers((CommandName.CARRY_ON,))[0]


def meaning_of(hypotheses: tuple[Hypothesis, ...]) -> Meaning | None:
    """The likeliest meaning; None when nothing fitted."""
    return hypotheses[0].meaning if hypotheses else None


def confirms(meaning: Meaning | None) -> bool:
    """Whether it passes a hold point or confirms something: what it confirms must have been spoken first."""
    if isinstance(meaning, Command):
        return COMMANDS[meaning.name].risk is not Risk.COMMAND
    return isinstance(meaning, Passphrase)


def waits(listen: Listen) -> bool:
    """Whether the work stands by: no step takes an answer, and carrying on asks in full, warnings included."""
    return _CARRY_ON in listen.expectation.offers


def audible_while_speaking(expectation: Expectation, headset: bool) -> Expectation:
    """What is listened for while the assistant speaks.

    Never a hold point or a confirmation: the warning, or what is read back, must have been heard first. No note: it
    begins after the cue, for any sound would be one. Without a headset only commands, so that no reading comes from
    the assistant's own mouth.

    headset: the assistant does not hear itself.
    """

    def audible(offer: Offer) -> bool:
        if offer.meaning is Command:
            return offer.risk is Risk.COMMAND
        return headset and offer.meaning is not FreeSpeech and offer.risk is not Risk.HOLD

    return Expectation(tuple(offer for offer in expectation.offers if audible(offer)))
