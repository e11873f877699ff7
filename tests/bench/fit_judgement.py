"""Fits the judgement of hearings on synthetic speech, and reports it on an engine of synthesis that was held out.

    python -m tests.bench.fit_judgement [--per-voice N] [--write]

In the data: commands and readings where they may be said, the same where they may not, other speech, and noise
alone; clean and in engine noise at 10, 5 and 0 dB. Voices of flite and espeak-ng; the one is judged by what the other
taught. `--write` renews assistant/hearing/coefficients.py, fitted on all.
"""

from __future__ import annotations

import argparse
import os
import random
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from assistant.edge.grammars import forms_of
from assistant.edge.recognisers.bundled import BundledRecogniser
from assistant.hearing import coefficients
from assistant.hearing.judgement import FEATURES, features
from assistant.rehearsal.noise import engine_noise
from assistant.rehearsal.throat import VOICES, speak
from tests.bench.hearing_accuracy import (
    CONDITIONS,
    OTHER_SPEECH,
    SOUND,
    UNITS,
    Spoken,
    commands_spoken,
    graphs,
    in_noise,
    means,
    readings_spoken,
    same,
)

FALSE_ACCEPTED = {"command": 0.04, "reading": 0.03, "hold": 0.005}
"""The share of what must not be accepted that each operating point lets through, on voices that were held out."""

Float64 = NDArray[np.float64]


def spoken_by(voice: str, number: int, per_voice: int) -> Iterator[tuple[str, Spoken]]:
    """(kind, what is said) for one voice."""
    chance = random.Random(5000 + number)
    commands, readings = commands_spoken(), readings_spoken(per_voice, chance)
    for spoken in chance.sample(commands, min(per_voice, len(commands))):
        yield "command", spoken
    for spoken in readings:
        yield "reading", spoken
    for spoken in readings_spoken(per_voice // 3, chance):
        yield "not offered", Spoken(spoken.text, "command", None)
    for spoken in chance.sample(commands[11:], per_voice // 3):
        yield "not offered", Spoken(spoken.text, chance.choice(list(UNITS)), None)
    for text in chance.sample(OTHER_SPEECH, min(per_voice, len(OTHER_SPEECH))):
        yield "other speech", Spoken(text, chance.choice(["command", *UNITS]), None)


def samples(per_voice: int) -> Iterator[tuple[str, str, float | None, str, SOUND, Spoken]]:
    """(engine, kind, decibels, state, sound, what is said)."""
    at = 0
    for number, voice in enumerate(VOICES):
        for kind, spoken in spoken_by(voice, number, per_voice):
            for decibels in CONDITIONS:
                at += 1
                sound = in_noise(speak(spoken.text, voice), decibels, 700_000 + at)
                yield voice.split()[0], kind, decibels, spoken.graph, sound, spoken
    chance = random.Random(9)
    for seed in range(12 * per_voice):
        noise = engine_noise(chance.uniform(0.7, 2.5), seed, rpm=chance.uniform(1200, 3000)) * chance.uniform(
            0.003, 0.2
        )
        state = chance.choice(["command", *UNITS])
        engine = ("flite", "espeak")[seed % 2]
        yield engine, "noise", None, state, noise.astype(np.float32), Spoken("", state, None)


def fit(rows: Float64, right: Float64) -> tuple[Float64, float]:
    """Logistic regression with a little weight decay, by Newton's method: weights and intercept."""
    design = np.column_stack([rows, np.ones(len(rows))])
    decay = np.diag([1.0] * rows.shape[1] + [0.0])
    weights = np.zeros(design.shape[1])
    for _ in range(30):
        chance = 1 / (1 + np.exp(-design @ weights))
        slope = design.T @ (chance - right) + decay @ weights
        bend = (design * (chance * (1 - chance))[:, None]).T @ design + decay
        weights -= np.linalg.solve(bend, slope)
    return weights[:-1], float(weights[-1])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--per-voice", type=int, default=9)
    parser.add_argument("--write", action="store_true")
    options = parser.parse_args()
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, {max(os.sched_getaffinity(0))})
    recogniser, states = BundledRecogniser(forms_of()), graphs()
    engines, kinds, levels, rows, rights = [], [], [], [], []
    for engine, kind, decibels, state, sound, spoken in samples(options.per_voice):
        hearing = recogniser.hear(sound, states[state])
        if not hearing.paths:
            continue
        engines.append(engine)
        kinds.append(kind)
        levels.append("clean" if decibels is None else f"{decibels:.0f} dB")
        rows.append(features(hearing))
        rights.append(spoken.truth is not None and same(means(hearing, states[state]), spoken.truth))
    data, right = np.array(rows, dtype=np.float64), np.array(rights, dtype=np.float64)
    engine_of, kind_of, level_of = np.array(engines), np.array(kinds), np.array(levels)
    mean, scale = data.mean(axis=0), np.maximum(data.std(axis=0), 1e-3)
    data = (data - mean) / scale

    held_out = np.zeros(len(data))
    for engine in sorted(set(engines)):
        train = engine_of != engine
        weights, intercept = fit(data[train], right[train])
        held_out[~train] = 1 / (1 + np.exp(-(data[~train] @ weights + intercept)))
    wrong = right == 0
    accept = {risk: float(np.quantile(held_out[wrong], 1 - share)) for risk, share in FALSE_ACCEPTED.items()}
    ignore = min(0.05, float(np.quantile(held_out[~wrong], 0.01)))

    brier = float(np.mean((held_out - right) ** 2))
    base = float(right.mean() * (1 - right.mean()))
    print(f"{len(data)} hearings, {right.mean():.2f} right; squared error {brier:.3f} (a constant: {base:.3f})")
    print("each engine of synthesis judged by what the other taught:")
    names = ("command", "reading", "hold")
    print(f"{'':14}{'noise':>7}{'number':>8}" + "".join(f"{name:>20}" for name in names))
    for kind in dict.fromkeys(kinds):
        for level in dict.fromkeys(levels):
            here = (kind_of == kind) & (level_of == level)
            if not here.any():
                continue
            cells = []
            for name in names:
                passed = held_out[here] >= accept[name]
                good = f"{np.mean(passed[right[here] == 1]):.2f}" if right[here].any() else "  - "
                bad = f"{np.mean(passed[right[here] == 0]):.2f}" if (right[here] == 0).any() else "  - "
                cells.append(f"{good + ' of right, ' + bad:>20}")
            print(f"{kind:14}{level:>7}{int(here.sum()):>8}" + "".join(cells))
    print("(the second number is the share of what is not right that passes)")
    weights, intercept = fit(data, right)
    for name, weight in zip(FEATURES, weights, strict=True):
        print(f"  {name:34}{weight:+.2f}")
    print("accept at", {name: round(value, 3) for name, value in accept.items()}, "ignore below", round(ignore, 3))
    if options.write:
        numbers = {
            "MEANS": mean, "SCALES": scale, "WEIGHTS": weights,
        }  # fmt: skip
        lines = [
            '"""What the judgement learnt. Made by `python -m tests.bench.fit_judgement --write`; no hand."""',
            "",
        ]
        lines += [f"{name} = ({', '.join(f'{value:.4f}' for value in values)})" for name, values in numbers.items()]
        lines += [
            f"INTERCEPT = {intercept:.4f}",
            "ACCEPT = {" + ", ".join(f'"{name}": {value:.3f}' for name, value in accept.items()) + "}",
            f"IGNORE = {ignore:.4f}",
        ]
        Path(coefficients.__file__).write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
