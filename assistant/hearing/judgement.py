"""How far to believe a hearing: accept, ask again, or ignore.

Knows the evidence and what a mistake would cost. Refuses to know the sound and the meaning. The probability is a
logistic function fitted on synthetic speech (`coefficients`, with the command that made them).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import exp

from assistant.grammar.expectation import Risk
from assistant.hearing import coefficients
from assistant.hearing.decoding import Hearing

NO_VOICE = 0.2
"""Below this mean probability of voice nobody spoke."""


HOLD_GAP = 10.0
"""A hold phrase is doubtful when the model, writing freely, puts its own words this much above it, in log score.

Foreign speech passed one once at 10.6, with all else in order; of right ones in the tuning 2 of 69 lie beyond it in the
clean, 8 of 58 at 0 dB. They are asked for again.
"""


class HearingVerdict(StrEnum):
    """What to do with what was heard."""

    ACCEPT = "accept"
    ASK_AGAIN = "ask again"
    IGNORE = "ignore"


@dataclass(frozen=True, slots=True)
class Judgement:
    """How far what was heard is trusted.

    confidence: probability, 0 to 1, that the best path is what was said.
    verdict: at the risk's operating point.
    """

    confidence: float
    verdict: HearingVerdict


FEATURES = (
    "free gap", "margin", "raw score a piece", "score a piece", "free writing cut off", "pieces",
    "pieces a second", "free pieces more than the path's",
)  # fmt: skip


def features(hearing: Hearing) -> tuple[float, ...]:
    """The numbers that the judgement rests on, each bounded, in the order of `FEATURES`; there must be a path."""

    def bounded(value: float, low: float, high: float) -> float:
        return min(max(value, low), high)

    evidence, pieces = hearing.evidence, hearing.paths[0].pieces
    return (
        bounded(evidence.free_gap, -2, 15),
        bounded(evidence.margin, 0, 8),
        bounded(evidence.raw_per_piece, -4, 0),
        bounded(evidence.score_per_piece, -2, 3),
        float(evidence.free_cut),
        bounded(pieces, 1, 8),
        bounded(pieces / max(evidence.seconds, 0.5), 0, 6),
        bounded(evidence.free_pieces - pieces, -4, 8),
    )


def confidence(hearing: Hearing, risk: Risk) -> float:
    """The probability that the best path, of this risk, is right, 0 to 1; the engine's own where it gives no scores."""
    if not hearing.paths:
        return 0.0
    if hearing.evidence.own is not None:
        return hearing.evidence.own
    total = coefficients.INTERCEPT[risk.value]
    weights = coefficients.WEIGHTS[risk.value]
    for value, mean, scale, weight in zip(
        features(hearing), coefficients.MEANS, coefficients.SCALES, weights, strict=True
    ):
        total += weight * (value - mean) / scale
    return 1 / (1 + exp(-total))


def judge(hearing: Hearing, risk: Risk) -> Judgement:
    """The verdict for this risk: a hold point asks for the most, a command for the least."""
    if not hearing.paths:
        return Judgement(0.0, HearingVerdict.IGNORE)
    evidence = hearing.evidence
    sure = confidence(hearing, risk)
    if (evidence.voice is not None and evidence.voice < NO_VOICE) or sure < coefficients.IGNORE:
        return Judgement(sure, HearingVerdict.IGNORE)
    accepted = sure >= coefficients.ACCEPT[risk.value]
    if risk is Risk.HOLD and evidence.own is None and evidence.free_gap > HOLD_GAP:
        accepted = False
    return Judgement(sure, HearingVerdict.ACCEPT if accepted else HearingVerdict.ASK_AGAIN)
