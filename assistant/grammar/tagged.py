"""Tags along a path become a typed meaning, once.

Knows the tags of the shipped grammars. Refuses to know how anything was heard.
"""

from __future__ import annotations

from collections.abc import Sequence

from assistant.errors import GrammarError
from assistant.grammar.expectation import Offer
from assistant.grammar.numbers import fold, is_number_tag
from assistant.grammar.units import SHARED_RULES
from assistant.meanings import Amount, Answer, Command, CommandName, Meaning, Passphrase, Reason, Role, Spelled
from assistant.quantities import UNITS


def meaning(offer: Offer, tags: Sequence[str]) -> Meaning:
    """What a path through this offer means.

    Errors: GrammarError when the tags do not fit the offer's type (a fault of the grammar, not of the speaker).
    """
    place = f"offer {offer.rule!r}"
    if offer.meaning is Amount:
        symbols = [tag for tag in tags if not is_number_tag(tag)]
        if len(symbols) > 1 or any(symbol not in UNITS and symbol not in SHARED_RULES for symbol in symbols):
            raise GrammarError(place, f"its tags {list(tags)} are no amount", "Use <numbers.*> and one of <units.*>")
        return Amount(fold(tag for tag in tags if is_number_tag(tag)), symbols[0] if symbols else None)
    key = " ".join(tags) if tags else offer.key
    if not key:
        raise GrammarError(place, "it has neither a tag nor a key", "Give the offer a key")
    if offer.meaning is Command:
        try:
            return Command(CommandName(key))
        except ValueError:
            known = ", ".join(CommandName)
            raise GrammarError(place, f"{key!r} is no command", f"Use one of {known}") from None
    if offer.meaning is Answer:
        return Answer(key)
    if offer.meaning is Spelled:
        return Spelled("".join(tags))
    if offer.meaning is Role:
        return Role(key)
    return Passphrase(key) if offer.meaning is Passphrase else Reason(key)


def sense(offer: Offer | None, words: Sequence[str], tags: Sequence[str]) -> object:
    """What two paths share when they mean the same, for comparing hearings; usable as a key.

    Without an offer: the tags, digits and tens added up where they are numbers; the words where there is no tag.
    """
    if offer is not None:
        return meaning(offer, tags)
    if not tags:
        return tuple(words)
    parts: list[object] = []
    number: list[str] = []
    for tag in (*tags, ""):
        if tag and is_number_tag(tag):
            number.append(tag)
            continue
        if number:
            parts.append(fold(number) if any(t.isdecimal() for t in number) else tuple(number))
            number = []
        parts.append(tag)
    return tuple(parts[:-1])
