"""The judgement: evidence moves it the right way, and a hold point asks for the most."""

from __future__ import annotations

from dataclasses import replace

import pytest

from assistant.grammar.expectation import Risk
from assistant.grammar.forms import Saying
from assistant.hearing import coefficients
from assistant.hearing.decoding import Evidence, HeardPath, Hearing
from assistant.hearing.judgement import FEATURES, HOLD_GAP, HearingVerdict, confidence, features, judge

GOOD = Hearing(
    (HeardPath(Saying(0, ("next",), ("next",)), 6.0, -0.5, "Next.", 2, False),),
    Evidence(-0.2, 12.0, -0.2, 2.0, 2, False, 1.2),
)


def but(**evidence: float) -> Hearing:
    return replace(GOOD, evidence=replace(GOOD.evidence, **evidence))


def test_a_clear_hearing_is_accepted_everywhere() -> None:
    assert all(confidence(GOOD, risk) > 0.95 for risk in Risk)
    assert {judge(GOOD, risk).verdict for risk in Risk} == {HearingVerdict.ACCEPT}


@pytest.mark.parametrize(
    "worse",
    [but(margin=0.1), but(score_per_piece=-0.5), but(raw_per_piece=-3.0, score_per_piece=0.0)],
)
@pytest.mark.parametrize("risk", Risk)
def test_each_evidence_against_it_lowers_the_confidence(worse: Hearing, risk: Risk) -> None:
    assert confidence(worse, risk) < confidence(GOOD, risk)


@pytest.mark.parametrize("risk", Risk)
def test_free_writing_that_fits_better_never_makes_it_surer(risk: Risk) -> None:
    assert confidence(but(free_gap=10.0), risk) <= confidence(GOOD, risk)


def test_a_hold_phrase_that_free_writing_beats_by_far_is_asked_for_again_however_sure_the_rest() -> None:
    assert judge(but(free_gap=HOLD_GAP), Risk.HOLD).verdict is HearingVerdict.ACCEPT
    beaten = judge(but(free_gap=HOLD_GAP + 0.1), Risk.HOLD)
    assert beaten.verdict is HearingVerdict.ASK_AGAIN
    assert beaten.confidence > coefficients.ACCEPT["hold"]
    assert judge(but(free_gap=HOLD_GAP + 0.1, own=0.999), Risk.HOLD).verdict is HearingVerdict.ACCEPT


def test_nothing_heard_is_ignored() -> None:
    nothing = Hearing((), Evidence(20.0, 0.0, -20.0, -20.0, 0, False, 1.0))
    assert judge(nothing, Risk.COMMAND).verdict is HearingVerdict.IGNORE
    assert judge(nothing, Risk.COMMAND).confidence == 0.0


def test_without_a_voice_nothing_is_believed() -> None:
    assert judge(but(voice=0.05), Risk.COMMAND).verdict is HearingVerdict.IGNORE
    assert judge(but(voice=0.9), Risk.COMMAND).verdict is HearingVerdict.ACCEPT


def test_a_hold_point_asks_for_the_most_and_a_command_for_the_least() -> None:
    accept = coefficients.ACCEPT
    assert 0 < coefficients.IGNORE < accept["command"] <= accept["reading"] < accept["hold"] < 1
    assert set(accept) == {risk.value for risk in Risk}


def test_what_a_command_passes_with_a_hold_point_does_not() -> None:
    doubtful = next(
        hearing
        for hearing in (but(score_per_piece=score / 50, margin=4.0) for score in range(-100, 150))
        if judge(hearing, Risk.COMMAND).verdict is HearingVerdict.ACCEPT
    )
    assert judge(doubtful, Risk.HOLD).verdict is HearingVerdict.ASK_AGAIN


def test_an_engine_s_own_confidence_is_taken_as_it_is() -> None:
    assert confidence(but(own=0.42), Risk.COMMAND) == 0.42


def test_the_numbers_fit_the_features() -> None:
    assert len(features(GOOD)) == len(FEATURES)
    weights = coefficients.WEIGHTS.values()
    assert {len(numbers) for numbers in (coefficients.MEANS, coefficients.SCALES, *weights)} == {len(FEATURES)}
    assert set(coefficients.WEIGHTS) == set(coefficients.INTERCEPT) == {risk.value for risk in Risk}
