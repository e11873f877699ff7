"""Encoders beside each other on the rendered speech of `enginebay bench hearing`: the share that is understood.

    enginebay bench hearing --render SPEECH --people PEOPLE [--neural VOICES]
    python -m tests.bench.encoders_beside SPEECH adapted FILE.onnx ... [--most 193] [--side people] [--workers 2]

Right: the best path means what was said, whatever the judgement thinks of it. Noise: engines' of the held-out side; of
the tuning side where that is measured, then only voices that never taught. Quicker than `tests.bench.encoders`, for
choosing.
"""

from __future__ import annotations

import argparse
import multiprocessing
import random
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import numpy as np

from assistant.edge.files.language import english
from assistant.edge.sound.recognisers.bundled import BundledRecogniser
from assistant.rehearsal.measuring.noises import ENGINES, Noises
from assistant.rehearsal.measuring.speech import HELD_OUT, PEOPLE, TUNING, Store, TrialClip, person_states
from assistant.rehearsal.measuring.states import states
from assistant.rehearsal.measuring.trials import PADDING, RATE, levelled
from assistant.rehearsal.noise import mix

RATIOS = (None, 10.0, 5.0, 0.0)
BATCH = 12
Outcome = tuple[str, str, float | None, bool]
_STORES: list[Store] = []  # where forked processes find it


def heard(job: tuple[str, list[TrialClip]]) -> list[Outcome]:
    """(encoder, role, ratio, whether right) of each clip at each ratio."""
    encoder, clips = job
    language, store = english(), _STORES[0]
    every = states(language) | person_states()
    recogniser = BundledRecogniser(language.forms, encoder=encoder)
    noises = Noises(2, 5, {})
    found: list[Outcome] = []
    for clip in clips:
        state = every[clip.state]
        kinds = ("odd engines", "coloured") if clip.side == TUNING else ENGINES
        for ratio in RATIOS:
            chance = np.random.default_rng(clip.number)
            sound = np.pad(levelled(store.sound(clip), -26.0), int(PADDING * RATE))
            if ratio is not None:
                noise = noises.piece(kinds[int(chance.integers(len(kinds)))], len(sound), chance)
                sound = mix(sound, noise, ratio)
            paths = recogniser.hear(sound, state.graph).paths
            right = bool(paths) and state.meaning(paths[0].saying) == clip.truth
            found.append((encoder, clip.role, ratio, right))
    return found


def chosen(store: Store, sides: list[str], most: int) -> list[TrialClip]:
    """At most so many clips of each role, those of one state together."""
    there = [
        clip
        for clip in store.clips
        if clip.side in sides and clip.state and (clip.side != TUNING or clip.voice.startswith("neural"))
    ]
    chance, found = random.Random(3), list[TrialClip]()
    for role in ("command", "reading", "person"):
        of_role = [clip for clip in there if clip.role == role]
        found += chance.sample(of_role, min(most, len(of_role)))
    return sorted(found, key=lambda clip: clip.state)


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("speech", type=Path)
    parser.add_argument("encoder", nargs="+")
    parser.add_argument("--most", type=int, default=193)
    parser.add_argument("--side", nargs="+", default=[HELD_OUT, PEOPLE], choices=[HELD_OUT, PEOPLE, TUNING])
    parser.add_argument("--workers", type=int, default=2)
    options = parser.parse_args()
    _STORES[:] = [Store(options.speech)]
    clips = chosen(_STORES[0], options.side, options.most)
    jobs = [(name, clips[at : at + BATCH]) for at in range(0, len(clips), BATCH) for name in options.encoder]
    right: dict[tuple[str, str, float | None], list[bool]] = defaultdict(list)
    with ProcessPoolExecutor(options.workers, mp_context=multiprocessing.get_context("fork")) as pool:
        for found in pool.map(heard, jobs):
            for encoder, role, ratio, was_right in found:
                right[encoder, role, ratio].append(was_right)
    print("| encoder | what | number |", *("clean |" if ratio is None else f"{ratio:.0f} dB |" for ratio in RATIOS))
    print("|---" * (3 + len(RATIOS)) + "|")
    for encoder in options.encoder:
        for role in dict.fromkeys(clip.role for clip in clips):
            shares = [right[encoder, role, ratio] for ratio in RATIOS]
            print(f"| {encoder} | {role} | {len(shares[0])} |", *(f"{np.mean(share):.3f} |" for share in shares))


if __name__ == "__main__":
    main()
