"""Every input and every fact survives being written down and read again, to the last trailing zero."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from decimal import Decimal

import pytest
from every import FACTS, INPUTS, anything, examples
from hypothesis import given
from hypothesis import strategies as st

from assistant.dialogue import messages as m
from assistant.errors import JournalError
from assistant.meanings import Amount, Hypothesis
from assistant.quantities import Quantity, parse_limits
from assistant.session import encoding
from assistant.session.encoding import FORMAT, UPGRADES, JournalEntry, decode, encode
from assistant.session.facts import (
    Fact,
    ReadingRecorded,
    ReadingStage,
    ReadingVerdict,
    RequestRefused,
    StateForgotten,
    StepPlace,
    StoodBy,
)
from assistant.session.inputs import (
    AnswerVerdict,
    ButtonPressed,
    Envelope,
    Heard,
    Input,
    Instant,
    Source,
)
from assistant.statements import kinds as s

AT = Instant("2026-03-02T08:00:00.000+00:00", 12.5, "boot")


def entry(given: Input, *facts: Fact) -> JournalEntry:
    return JournalEntry(Envelope(1, AT, given), facts, "0" * 64)


def again(written: JournalEntry) -> JournalEntry:
    return decode(encode(written), "here")


@pytest.mark.parametrize("kind", INPUTS, ids=lambda kind: kind.__name__)
def test_every_input_comes_back(kind: type) -> None:
    made = list(examples(kind))
    assert made
    for one in made:
        back = again(entry(one))
        assert back == entry(one)
        assert repr(back) == repr(entry(one))  # 7.5 equals 7.50, and is not the same


@pytest.mark.parametrize("kind", FACTS, ids=lambda kind: kind.__name__)
def test_every_fact_comes_back(kind: type) -> None:
    made = list(examples(kind))
    assert made
    for fact in made:
        back = again(entry(ButtonPressed(1), fact))
        assert back == entry(ButtonPressed(1), fact)
        assert repr(back) == repr(entry(ButtonPressed(1), fact))


@given(
    st.builds(
        JournalEntry,
        st.builds(Envelope, st.integers(1, 10**9), anything(Instant), st.one_of([anything(kind) for kind in INPUTS])),
        st.lists(st.one_of([anything(kind) for kind in FACTS]), max_size=4).map(tuple),
        st.text("0123456789abcdef", min_size=64, max_size=64),
    )
)
def test_any_entry_comes_back(written: JournalEntry) -> None:
    text = encode(written)
    assert b"\n" not in text
    assert text.endswith(b"}")
    back = decode(text, "here")
    assert back == written
    assert repr(back) == repr(written)


@given(anything(Decimal), st.sampled_from(["kPa", None]))
def test_an_amount_keeps_its_resolution(value: Decimal, unit: str | None) -> None:
    heard = Heard(1, AnswerVerdict.ACCEPTED, (Hypothesis(Amount(value, unit), "words", 0.9),), Source.VOICE, None)
    back = again(entry(heard)).envelope.input
    assert isinstance(back, Heard)
    meaning = back.hypotheses[0].meaning
    assert isinstance(meaning, Amount)
    assert meaning.value.as_tuple() == value.as_tuple()


def test_kinds_are_told_apart_by_name_and_each_has_its_own() -> None:
    for kinds in (INPUTS, FACTS):
        names = [next(iter(examples(kind))).kind for kind in kinds]
        assert len(set(names)) == len(names)
        assert all(name == name.lower() and name for name in names)


def test_a_class_without_examples_fails_by_name() -> None:
    """The check of completeness can fail: a field of a type that nobody taught it is named."""

    @dataclass(frozen=True)
    class Odd:
        thing: complex

    with pytest.raises(TypeError, match="complex"):
        list(examples(Odd))
    with pytest.raises(TypeError, match="complex"):
        anything(Odd)


def test_what_is_no_decision_is_refused_with_its_place() -> None:
    good = json.loads(encode(entry(ButtonPressed(1), StoodBy())))
    unknown_fact = {**good, "facts": [{"kind": "sat down"}]}
    wrong_unit = {
        **good,
        "input": {"kind": "button pressed", "exchange": 1},
        "facts": [
            {"kind": "read-back refused", "exchange": 1, "quantity": {"value": "7.5", "unit": "furlong"}},
        ],
    }
    without_input = {key: value for key, value in good.items() if key != "input"}
    for broken in (unknown_fact, wrong_unit, without_input, [1], "text", 7, None, {}):
        with pytest.raises(JournalError) as caught:
            decode(json.dumps(broken).encode(), "journal.jsonl, line 7")
        assert caught.value.place == "journal.jsonl, line 7"
        assert caught.value.remedy
    for text in (b"", b"{", b"\xff\xfe", b'{"format":1,', b'{"format":1,"number":'):
        with pytest.raises(JournalError):
            decode(text, "journal.jsonl, line 7")


@pytest.mark.parametrize("version", [FORMAT + 1, 0, -1, "1", None, 1.5, [1]])
def test_an_unknown_format_is_told_clearly(version: object) -> None:
    row = {**json.loads(encode(entry(ButtonPressed(1)))), "format": version}
    with pytest.raises(JournalError, match="format") as caught:
        decode(json.dumps(row).encode(), "journal.jsonl, line 3")
    assert caught.value.place == "journal.jsonl, line 3"
    assert repr(version) in caught.value.cause
    assert "newer program" in caught.value.remedy


def test_layout_of_the_text_does_not_matter() -> None:
    written = entry(ButtonPressed(1), StoodBy())
    spaced = json.dumps(json.loads(encode(written)), indent=None, ensure_ascii=True)
    assert spaced.startswith('{"format": 2')
    assert decode(spaced.encode(), "here") == written


def test_older_formats_are_upgraded_step_by_step(monkeypatch: pytest.MonkeyPatch) -> None:
    """As it would be if there had been formats before the first: `exchange` once had another name."""
    monkeypatch.setitem(UPGRADES, -1, lambda row: {**row, "format": 0, "facts": row.pop("happened")})

    def rename(row: dict[str, encoding.JSON]) -> dict[str, encoding.JSON]:
        given = row["input"]
        assert isinstance(given, dict)
        return {**row, "format": 1, "input": {"kind": given["kind"], "exchange": given["asking"]}}

    monkeypatch.setitem(UPGRADES, 0, rename)
    row = json.loads(encode(entry(ButtonPressed(5), StoodBy())))
    old = {**row, "format": -1, "input": {"kind": "button pressed", "asking": 5}, "happened": row["facts"]}
    del old["facts"]
    assert decode(json.dumps(old).encode(), "here") == entry(ButtonPressed(5), StoodBy())


def test_a_statement_is_kept_by_its_kind_and_arguments_and_not_in_words() -> None:
    fact = ReadingRecorded(
        *(StepPlace("service", "pressure"), "oil pressure", Quantity(Decimal("320"), "kPa"), ReadingStage.AS_FOUND),
        *("at most 450 kPa", ReadingVerdict.WITHIN, 0.4),
        s.Doubts((s.OutsideBelievable(parse_limits("200 kPa to 450 kPa")), s.ReadBackWrong(2))),
        *(None, Source.VOICE),
    )
    (kept,) = json.loads(encode(entry(ButtonPressed(1), fact)))["facts"]
    low, high = {"value": "200", "unit": "kPa"}, {"value": "450", "unit": "kPa"}
    assert kept["doubt"] == {
        "doubts": [
            {"believable": {"low": low, "high": high}, "kind": "outside believable"},
            {"times": 2, "kind": "read back wrong"},
        ],
        "kind": "doubts",
    }


def test_a_statement_of_an_unknown_kind_is_refused() -> None:
    row = json.loads(encode(entry(ButtonPressed(1), StateForgotten(s.WasLongPause()))))
    row["facts"][0]["because"]["kind"] = "too long a pause"
    with pytest.raises(JournalError):
        decode(json.dumps(row).encode(), "journal.jsonl, line 7")


def test_a_sentence_of_format_1_stays_as_it_was_written() -> None:
    """Format 1 kept what the program states as sentences; the kind of a message was its class's name."""
    row = json.loads(encode(entry(ButtonPressed(1), StateForgotten(""), RequestRefused("next", "HoldStays"))))
    row["format"], row["facts"][0]["because"] = 1, "a long pause, as it was put then"
    forgotten, refused = decode(json.dumps(row).encode(), "here").facts
    assert forgotten == StateForgotten("a long pause, as it was put then")
    assert refused == RequestRefused("next", m.HoldStays.kind)


def test_the_quantity_in_a_line_is_text_not_a_rounded_number() -> None:
    from assistant.session.facts import ReadingWithdrawn

    line = encode(entry(ButtonPressed(1), ReadingWithdrawn(StepPlace("t", "s"), "n", Quantity(Decimal("0.10"), "L"))))
    assert b'"value":"0.10"' in line
    assert hashlib.sha256(line).hexdigest() == hashlib.sha256(encode(decode(line, "here"))).hexdigest()
