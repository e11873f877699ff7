"""Writes the parts of DEVELOPERS.md that come from the code's tables: `python -m tests.guide --write`.

Without `--write` it says whether they are as the tables are; tests/test_guide.py asks the same.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

from assistant.floor.machine import TRANSITIONS as FLOOR_TRANSITIONS
from assistant.floor.state import Phase
from assistant.session.exchange_table import TRANSITIONS, Ask
from tests.test_layers import MAY_IMPORT

ASKED = {Ask.NOTHING: "", Ask.SHORT: " / ask again", Ask.FULL: " / ask in full"}
GUIDE = Path(__file__).parents[1] / "DEVELOPERS.md"


def layers() -> str:
    """Which layer may import which, as a table."""
    rows = ["| layer | may import |", "|---|---|"]
    for layer, below in MAY_IMPORT.items():
        rows.append(f"| `{layer}` | {', '.join(f'`{name}`' for name in below.split()) or '-'} |")
    return "\n".join(rows)


def exchange() -> str:
    """The rows of the exchange's table, as a Mermaid state diagram: events, and how much of the question is asked then.

    Left out are events that leave no exchange open where none was.
    """
    arrows: dict[tuple[str, str, Ask], list[str]] = {}
    for (stage, event), row in TRANSITIONS.items():
        if stage is not None or row.to is not None:
            start, end = ("[*]" if state is None else state.value for state in (stage, row.to))
            arrows.setdefault((start, end, row.ask), []).append(event.value)
    lines = ["```mermaid", "stateDiagram-v2"]
    for (start, end, ask), events in arrows.items():
        lines.append(f"    {start} --> {end}: {', '.join(events)}{ASKED[ask]}")
    return "\n".join([*lines, "```"])


def floor() -> str:
    """How the floor passes from one to another, as a Mermaid state diagram, without the events that leave it."""
    arrows: dict[tuple[Phase, Phase], list[str]] = {}
    for (phase, event), transition in FLOOR_TRANSITIONS.items():
        words = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", event.__name__).lower()
        for to in transition.to:
            if to is not phase:
                arrows.setdefault((phase, to), []).append(words)
    lines = ["```mermaid", "stateDiagram-v2", "    [*] --> deciding"]
    lines += [
        f"    {_joined(start)} --> {_joined(end)}: {', '.join(events)}" for (start, end), events in arrows.items()
    ]
    lines += [f"    {_joined(Phase.OVER)} --> [*]"]
    return "\n".join([*lines, "```"])


def _joined(phase: Phase) -> str:
    return phase.value.replace(" ", "_")


def written(text: str) -> str:
    """The guide with its generated parts as the tables are now."""
    for name, part in (("layers", layers()), ("exchange", exchange()), ("floor", floor())):
        pattern = re.compile(rf"(<!-- {name}: [^>]*-->\n).*?(<!-- end -->)", re.DOTALL)
        text, count = pattern.subn(lambda match, part=part: f"{match[1]}{part}\n{match[2]}", text)
        if count != 1:
            raise ValueError(f"DEVELOPERS.md has {count} places for {name}, not one")
    return text


def main() -> None:
    """The command."""
    text = GUIDE.read_text(encoding="utf-8")
    if "--write" in sys.argv:
        GUIDE.write_text(written(text), encoding="utf-8")
    elif written(text) != text:
        sys.exit("DEVELOPERS.md is not as the tables are: run python -m tests.guide --write")


if __name__ == "__main__":
    main()
