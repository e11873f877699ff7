"""A rehearsed visit that is meant to be killed: run as a program by `end_to_end/test_interruption.py`.

Arguments: folder for the session, number of a pipe, seed, `quick` or `real`. Writes 0 to the pipe when it is ready, and
then the number of each decision when its line is on disk; nothing is written for a decision that is not.
"""

from __future__ import annotations

import os
import sys
from contextlib import nullcontext
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from app.quick import quick_speech_setup

import assistant.app.demo
from assistant.app.demo import rehearse, speech_setup
from assistant.app.watching import NoWatcher
from assistant.edge.files.store import SessionFolder
from assistant.session.facts import Fact
from assistant.session.inputs import Envelope


def main(root: Path, pipe: int, seed: int, how: str) -> None:
    """The visit, from its beginning to its end or the end of this process."""

    class Acknowledging(SessionFolder):
        def append(self, envelope: Envelope, facts: tuple[Fact, ...]) -> None:
            super().append(envelope, facts)
            acknowledge(envelope.number)

    def acknowledge(number: int) -> None:
        os.write(pipe, b"%d\n" % number)

    assistant.app.demo.SessionFolder = Acknowledging  # type: ignore[misc]  # the store itself, with a bell
    with nullcontext(speech_setup()) if how == "real" else quick_speech_setup() as means:
        acknowledge(0)
        rehearse(means, NoWatcher(), seed=seed, noise_db=10.0, root=root)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]), sys.argv[4])
