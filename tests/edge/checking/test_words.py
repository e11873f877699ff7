"""No shipped phrase is too near another that may be said with it; what is measured stands beside it."""

from __future__ import annotations

import gzip
import json
from dataclasses import replace
from pathlib import Path

import pytest
from typer.testing import CliRunner

from assistant.cli import app
from assistant.edge.checking import pronouncing
from assistant.edge.checking.pronouncing import pronounced, shipped
from assistant.edge.checking.words import (
    EVERY_PART,
    EVERY_READING,
    DialogueState,
    MeasuredConfusions,
    Pair,
    Phrase,
    StatePairs,
    compare_phrases,
    confusions,
    every_phrase,
    in_words,
    nearest,
    works,
)
from assistant.errors import EngineBayError
from assistant.procedure.checks.sound import NEAR, TOO_NEAR
from assistant.procedure.likeness import words_of


@pytest.fixture(scope="module")
def told() -> list[StatePairs]:
    return compare_phrases()


@pytest.fixture(scope="module")
def named(told: list[StatePairs]) -> dict[str, StatePairs]:
    return {one.state.name: one for one in told}


def test_no_shipped_phrase_is_too_near_an_old_one(told: list[StatePairs]) -> None:
    judged = [one for one in told if one.state.judged]
    assert len(judged) > 30
    assert sum(len(one.pairs) for one in judged) > 5000
    near = {(pair.one, pair.other, one.state.name) for one in judged for pair in one.pairs if pair.apart < TOO_NEAR}
    assert near == set()


def test_a_new_phrase_too_near_an_old_one_is_found(named: dict[str, StatePairs]) -> None:
    state = named["permission"].state
    wider = replace(state, phrases=(*state.phrases, Phrase("text", "new")))
    table = {**shipped(), "text": ("t", "ɛ", "k", "s", "t")}
    (near,) = nearest(wider, table).too_near
    assert {near.one, near.other} == {"next", "text"}
    assert nearest(state, table).too_near == ()


def test_hold_phrases_are_further_from_all_that_may_be_said(named: dict[str, StatePairs]) -> None:
    for step, phrase in (("permission", "master agrees"), ("prove-dead", "dead at both")):
        apart = [pair.apart for pair in named[step].pairs if phrase in (pair.one, pair.other)]
        assert len(apart) > 15
        assert min(apart) > NEAR


def test_every_step_and_every_question_has_a_state(told: list[StatePairs], named: dict[str, StatePairs]) -> None:
    steps = {placed.place.step for work in works(None, None) for placed in work.steps}
    assert {step for one in told for step in one.state.steps} == steps
    assert {"the question: ending", "the question: reason", "the question: hand over", "standing by"} <= set(named)
    phrases = {phrase.text for phrase in named["oil-out"].state.phrases}
    assert {"fifteen", "fifty", "litres", "imperial gallons", "found it again", "next"} <= phrases
    assert {"U S gallons", "imperial", "disregard"} <= {p.text for p in named["oil-out, which gallons"].state.phrases}
    assert {"affirm", "negative"} <= {phrase.text for phrase in named["run-hours, read back"].state.phrases}
    assert "oil-out" in named["run-hours, read back"].state.steps


def test_numbers_are_named_once_and_not_judged(told: list[StatePairs], named: dict[str, StatePairs]) -> None:
    digits = {"seventeen", "seventy"}
    met = [one.state.name for one in told if any({pair.one, pair.other} == digits for pair in one.pairs)]
    assert met == [EVERY_READING]
    pairs = [{pair.one, pair.other} for pair in named[EVERY_READING].pairs[:12]]
    for one, other in (("thirteen", "thirty"), ("fifteen", "fifty"), ("nineteen", "ninety")):
        assert {one, other} in pairs
    assert named[EVERY_READING].too_near == named[EVERY_PART].too_near == ()
    assert all({pair.one, pair.other} != {"nine", "niner"} for pair in named[EVERY_PART].pairs)


def test_of_two_meanings_only_the_nearest_phrases_are_told() -> None:
    state = DialogueState("here", (Phrase("that is wrong", 0), Phrase("affirm", 1), Phrase("that is right", 1)))
    (pair,) = nearest(state, shipped()).pairs
    assert {pair.one, pair.other} == {"that is wrong", "that is right"}


def test_a_word_without_a_sound_is_an_error_that_names_it() -> None:
    with pytest.raises(EngineBayError, match="here: how 'zyx' of 'zyx stop' sounds is not known"):
        nearest(DialogueState("here", (Phrase("zyx stop", 1),)), shipped())


# --- the table ---------------------------------------------------------------------------------------------------


def test_the_shipped_table_covers_what_may_be_said() -> None:
    words = {word for phrase in every_phrase() for word in words_of(phrase)}
    assert len(words) > 250
    assert words - set(shipped()) == set(), "run `enginebay words --pronounce`"


def test_a_word_that_the_table_lacks_is_pronounced_by_espeak(monkeypatch: pytest.MonkeyPatch) -> None:
    assert "turnbuckle" not in shipped()
    assert pronounced("en", ["next turnbuckle"])["turnbuckle"][:2] == ("t", "ɜː")
    monkeypatch.setenv("PATH", "")
    assert pronounced("en", ["next turnbuckle"]) == shipped()


def test_the_table_is_written_anew_and_what_is_by_hand_stays(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "pronunciations.yaml"
    path.write_text('by hand: {psi: "p iː ɛ s aɪ"}\nby espeak-ng: {old: "əʊ l d"}\n', encoding="utf-8")
    monkeypatch.setattr(pronouncing, "table_path", lambda language: path)
    shipped.cache_clear()
    try:
        assert pronouncing.write_table("en", ["no psi", "carry on"]) == path
        assert shipped()["psi"] == ("p", "iː", "ɛ", "s", "aɪ")
        assert set(shipped()) == {"psi", "no", "carry", "on"}  # yes and no of YAML stay words
        assert "eSpeak NG 1." in path.read_text(encoding="utf-8")
    finally:
        shipped.cache_clear()


# --- measured ----------------------------------------------------------------------------------------------------


def row(text: str, heard: str, role: str = "command", **more: object) -> dict[str, object]:
    return {
        "engine": "ours", "truth": text, "text": text, "words": heard, "right": text == heard, "role": role,
        "verdict": "accept", **more,
    }  # fmt: skip


ROWS = [
    row("louder please", "softer please"),
    row("louder please", "softer please", verdict="ask again"),
    row("louder please", "louder please"),
    row("softer please", "softer please"),
    row("softer please", "louder please", engine="another"),
    row("softer please", "louder please", truth=""),
    row("fifteen point five volts", "fifty point five volts", "reading"),
    row("fifteen volts", "fifty", "reading"),
    {"engine": "ours", "kind": "noise"},
]


def test_what_was_heard_for_what_is_counted() -> None:
    heard = confusions(ROWS, "ours")
    assert heard.counts(Pair("louder please", "softer please", 0.27)) == "2 of 3, 0 of 1"
    assert heard.accepted["louder please", "softer please"] == 1
    assert heard.counts(Pair("fifteen", "fifty", 0.2)) == "1 of 2, 0 of 0"
    assert heard.counts(Pair("stop", "next", 0.6)) == ""
    assert heard.most(1) == [("louder please", "softer please")]


def test_the_table_for_people(told: list[StatePairs]) -> None:
    text = in_words(told, 2, confusions(ROWS, "ours"))
    (line,) = [line for line in text.splitlines() if "louder please / softer please" in line]
    assert line.startswith("  0.37  louder please / softer please  ")
    assert " 2 of 3, 0 of 1 " in line
    assert line.endswith(" states, such as permission")
    assert text.count("louder please / softer please") == 1  # not again in each state
    assert "louder please -> softer please" in text
    assert f"wrong below {TOO_NEAR}." in text
    assert "too near" not in text
    assert "of 3" not in in_words(told, 2, None)
    near = StatePairs(DialogueState("here", ()), (Pair("next", "text", 0.23),))
    assert "'next' and 'text' are too near: choose words further apart in sound." in in_words(
        [near], 2, MeasuredConfusions()
    )


# --- the command -------------------------------------------------------------------------------------------------


def test_the_command_as_json_with_what_was_measured(tmp_path: Path) -> None:
    with gzip.open(tmp_path / "rows-commands.jsonl.gz", "wt", encoding="utf-8") as file:
        file.writelines(json.dumps(one) + "\n" for one in ROWS)
    arguments = ["words", "marram-auxiliary", "oil-and-filter", "--state", "oil-out", "--top", "4", "--json"]
    result = CliRunner().invoke(app, [*arguments, "--measured", str(tmp_path)])
    assert result.exit_code == 0, result.output
    said = json.loads(result.output)
    assert (said["limit"], said["too_near"]) == (TOO_NEAR, 0)
    back = next(state for state in said["states"] if state["state"] == "run-hours, read back")
    assert "oil-out" in back["steps"]
    assert len(back["pairs"]) == 4
    assert back["pairs"][0]["measured"][0] == {
        "said": "louder please", "heard": "softer please", "times": 2, "accepted": 1, "of": 3,
    }  # fmt: skip
    assert said["most_confused"][0]["times"] == 2


def test_the_command_fails_where_two_phrases_are_too_near(monkeypatch: pytest.MonkeyPatch) -> None:
    near = StatePairs(DialogueState("here", (), ["drain"]), (Pair("next", "text", 0.23),))
    monkeypatch.setattr("assistant.edge.checking.words.compare_phrases", lambda *_: [near])
    result = CliRunner().invoke(app, ["words"])
    assert result.exit_code == 1
    assert "'next' and 'text' are too near" in result.output
    assert CliRunner().invoke(app, ["words", "--json"]).exit_code == 1


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--state", "nowhere"], "there is no such step"),
        (["nobody"], "no equipment file knows it"),
        (["marram-auxiliary", "nothing"], "there is none for marram-auxiliary"),
        (["--measured", "/"], "it holds no rows"),
    ],
)
def test_what_is_not_there_is_told(arguments: list[str], said: str) -> None:
    result = CliRunner().invoke(app, ["words", *arguments])
    assert result.exit_code == 2
    assert said in result.output
