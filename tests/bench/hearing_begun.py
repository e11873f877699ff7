"""Can a command that was only begun be told from one that was said whole, but is doubtful in noise?

    python -m tests.bench.hearing_begun SPEECH [--clips N]

SPEECH is a folder of `enginebay bench hearing --render`. Each command is heard three times: broken off at the quietest
place of its middle half, and whole in engine noise at 10 and 0 dB. Printed: how many were judged how, and of how many
the best sentence has pieces that the free writing lacks (`Hearing.unheard`), on which the ear's patience rests.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import numpy as np

from assistant.edge.sound.recognisers.bundled import BundledRecogniser
from assistant.hearing.judgement import HearingVerdict, judge
from assistant.rehearsal.measuring.noises import ENGINES
from assistant.rehearsal.measuring.run import LONG, Options, world_of
from assistant.rehearsal.measuring.speech import HELD_OUT, Store
from assistant.rehearsal.measuring.trials import RATE, Condition, disturbed, levelled, quietest

BEFORE, AFTER = int(0.3 * RATE), int(0.2 * RATE)
LEVEL = -22.0  # dBFS


def main() -> None:
    """Prints a line for each way of hearing and each verdict."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("speech", type=Path)
    parser.add_argument("--clips", type=int, default=126)
    arguments = parser.parse_args()
    store = Store(arguments.speech)
    world = world_of(Options(LONG, rendered=arguments.speech), store)
    world.noises.fill(ENGINES)
    state = world.every["command"]
    recogniser = BundledRecogniser(world.language.forms)
    for name, decibels in (("only begun", None), ("whole, 10 dB", 10.0), ("whole, 0 dB", 0.0)):
        unheard: dict[HearingVerdict, list[int]] = {verdict: [] for verdict in HearingVerdict}
        for clip in store.of(HELD_OUT, "command")[: arguments.clips]:
            sound = levelled(store.sound(clip), LEVEL)
            if decibels is None:
                sound = np.pad(sound[: quietest(sound)], (BEFORE, AFTER))
            else:
                condition = Condition(name, "engines", decibels)
                sound, _ = disturbed(np.pad(sound, (BEFORE, AFTER)), condition, world, world.chance(clip.number, 5))
            hearing = recogniser.hear(sound, state.graph)
            risk = state.risk(hearing.paths[0].saying)
            unheard[judge(hearing, risk).verdict].append(hearing.unheard)
        for verdict, pieces in unheard.items():
            some, many = (sum(one >= least for one in pieces) for least in (1, 2))
            print(
                f"{name:14} {verdict.value:10} {len(pieces):4}, of these with a piece unheard {some}, with two {many}"
            )


if __name__ == "__main__":
    main()
