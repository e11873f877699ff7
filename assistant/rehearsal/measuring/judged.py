"""What the judgement is fitted on: our engine's hearings as numbers, and the fit itself.

Knows rows, logistic regression and operating points. Refuses to know sound, and to write the program's coefficients.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.grammar.expectation import Risk
from assistant.hearing.judgement import FEATURES
from assistant.rehearsal.measuring.engines import OURS
from assistant.rehearsal.measuring.trials import Row

Float64 = NDArray[np.float64]

MAX_WRONG_SHARE = {"command": 0.002, "reading": 0.03, "hold": 0.0005}
"""Of what is said in the state where it may be said, clean to 0 dB: the share that may be accepted and wrong. A reading
is read back before it counts, which costs no more than asking again; at 0.0025 every second one is asked again."""
MAX_OTHER_SHARE = {"command": 0.01, "reading": 0.01, "hold": 0.001}
"""Of speech that means nothing in its state, and of noise: the share that may be accepted as something of this risk."""
MIN_CONFIDENCE = {"command": 0.5, "reading": 0.5, "hold": 0.985}
"""What each point asks for at least, however rarely something wrong was heard: no guess passes a hold point."""
SIGNS = {"free gap": -1, "margin": 1, "raw score a piece": 1, "score a piece": 1}
"""What more of a feature says, for or against; a fit that says the opposite only makes up for another feature, and goes
without it: the judgement must be right far from what it was fitted on, too."""
_TOWARDS_ALL = 20.0  # how strongly the weights of one risk are drawn to those of all: a hold phrase is rarely wrong
_EASY = ("clean", "20 dB", "10 dB", "5 dB", "0 dB")


@dataclass(frozen=True, slots=True)
class Hearings:
    """Columns of the same length.

    features: float64 [rows, features], those of `hearing.judgement.features`.
    risk: of the best path.
    right: whether it is what was said.
    kind: the role of what was said, or `elsewhere` when it means nothing there, or `noise`.
    """

    features: Float64
    risk: NDArray[np.str_]
    right: NDArray[np.bool_]
    kind: NDArray[np.str_]
    snr: NDArray[np.str_]

    def __len__(self) -> int:
        return len(self.right)

    def where(self, chosen: NDArray[np.bool_]) -> Hearings:
        """These rows only."""
        return Hearings(*(getattr(self, name)[chosen] for name in _COLUMNS))


_COLUMNS = ("features", "risk", "right", "kind", "snr")


def hearings(rows: Iterable[Row]) -> Hearings:
    """Those of our engine in which something was heard."""
    kept = [row for row in rows if row["engine"] == OURS and row.get("features")]
    kinds = [row["role"] if row["truth"] or row["role"] == "noise" else "elsewhere" for row in kept]
    return Hearings(
        np.array([row["features"] for row in kept], dtype=np.float64),
        np.array([row["risk"] for row in kept], dtype=np.str_),
        np.array([row["right"] for row in kept], dtype=np.bool_),
        np.array(kinds, dtype=np.str_),
        np.array([row["condition"] for row in kept], dtype=np.str_),
    )


def save(path: Path, found: Hearings) -> None:
    """As an `.npz` with the columns by name."""
    np.savez_compressed(path, **{name: getattr(found, name) for name in _COLUMNS})


def load(path: Path) -> Hearings:
    """What `save` wrote. Errors: OSError, KeyError."""
    with np.load(path) as file:
        return Hearings(*(file[name] for name in _COLUMNS))


@dataclass(frozen=True, slots=True)
class OperatingPoint:
    """One risk's calibrated probability and its operating point. weights, intercept: over the scaled features."""

    weights: Float64
    intercept: float
    accept: float


@dataclass(frozen=True, slots=True)
class Fitted:
    """The calibration that was fitted.

    means, scales: of the features.
    points: by risk.
    """

    means: Float64
    scales: Float64
    points: dict[str, OperatingPoint]

    def chance(self, found: Hearings) -> Float64:
        """The probability that each hearing is right, float64 [rows], by the point of its own risk."""
        scaled = (found.features - self.means) / self.scales
        total = np.zeros(len(found))
        for risk, point in self.points.items():
            here = found.risk == risk
            total[here] = scaled[here] @ point.weights + point.intercept
        return np.asarray(1 / (1 + np.exp(-total)), dtype=np.float64)

    def accepted(self, found: Hearings) -> NDArray[np.bool_]:
        """Which hearings reach the operating point of their risk."""
        wanted = np.array([self.points[str(risk)].accept for risk in found.risk])
        return np.asarray(self.chance(found) >= wanted, dtype=np.bool_)


def regression(rows: Float64, right: NDArray[np.bool_], towards: Float64, pull: float) -> Float64:
    """Logistic regression by Newton's method: weights and, last, the intercept, drawn to `towards`."""
    design = np.column_stack([rows, np.ones(len(rows))])
    decay = np.diag([pull] * rows.shape[1] + [0.1 * pull])
    weights = towards.copy()
    for _ in range(40):
        chance = 1 / (1 + np.exp(-np.clip(design @ weights, -30, 30)))
        slope = design.T @ (chance - right) + decay @ (weights - towards)
        bend = (design * (chance * (1 - chance))[:, None]).T @ design + decay
        weights = weights - np.linalg.solve(bend, slope)
    return weights


def fit(found: Hearings) -> Fitted:
    """One calibrated probability and one operating point for each risk.

    The point is the lowest at which no more than `MAX_WRONG_SHARE` of what is said in its place, and no more than
    `MAX_OTHER_SHARE` of what is not, is accepted though it is not right.
    """
    means, scales = found.features.mean(axis=0), np.maximum(found.features.std(axis=0), 1e-3)
    scaled = (found.features - means) / scales
    every = regression(scaled, found.right, np.zeros(scaled.shape[1] + 1), 1.0)
    signs = [SIGNS.get(name, 0) for name in FEATURES]
    against = np.flatnonzero(every[:-1] * signs < 0)
    scaled[:, against] = 0.0
    every = regression(scaled, found.right, np.zeros(scaled.shape[1] + 1), 1.0)
    points = {}
    for risk in map(str, Risk):
        here = found.risk == risk
        weights = regression(scaled[here], found.right[here], every, _TOWARDS_ALL)
        chance = 1 / (1 + np.exp(-(scaled[here] @ weights[:-1] + weights[-1])))
        points[risk] = OperatingPoint(weights[:-1], float(weights[-1]), _accept(chance, found.where(here), found, risk))
    return Fitted(means, scales, points)


def _accept(chance: Float64, here: Hearings, every: Hearings, risk: str) -> float:
    role = "command" if risk == Risk.COMMAND else risk
    placed = np.isin(here.kind, ("command", "reading", "hold")) & np.isin(here.snr, _EASY)
    said = int((np.isin(every.snr, _EASY) & (every.kind == role)).sum())
    others = np.isin(every.kind, ("elsewhere", "noise"))
    bounds = []
    for wrong, most in (
        (chance[placed & ~here.right], MAX_WRONG_SHARE[risk] * said),
        (chance[np.isin(here.kind, ("elsewhere", "noise"))], MAX_OTHER_SHARE[risk] * int(others.sum())),
    ):
        ordered = np.sort(wrong)[::-1]
        allowed = int(most)
        bounds.append(float(ordered[allowed]) + 1e-6 if len(ordered) > allowed else 0.0)
    return min(max(*bounds, MIN_CONFIDENCE[risk]), 0.999)


def reliability(chance: Float64, right: NDArray[np.bool_], bins: int = 10) -> list[tuple[float, float, int]]:
    """(mean probability, share right, number) of each tenth of the range that has any."""
    found = []
    which = np.minimum((chance * bins).astype(int), bins - 1)
    for number in range(bins):
        here = which == number
        if here.any():
            found.append((float(chance[here].mean()), float(right[here].mean()), int(here.sum())))
    return found
