"""From rows to what is believed: shares with intervals, targets met or not, tables, a page, a plot.

Reads the rows of every part that lies in the folder, so that parts may be measured one after another. Every word on
what was reached is computed. Refuses to measure.
"""

from __future__ import annotations

import gzip
import json
import platform
import shlex
import statistics
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from difflib import SequenceMatcher
from pathlib import Path
from typing import Any, TypeVar

from assistant.hearing.judgement import HearingVerdict
from assistant.rehearsal.measuring.engines import MATCHES, OURS
from assistant.rehearsal.measuring.intervals import max_rate_an_hour, wilson
from assistant.rehearsal.measuring.noises import ENGINES, FOR_TUNING, OTHERS
from assistant.rehearsal.measuring.speech import SIDES
from assistant.rehearsal.measuring.trials import LADDER, SURROUNDINGS, Row

Key = TypeVar("Key")
RATIOS = tuple("clean" if ratio is None else f"{ratio:.0f} dB" for ratio in LADDER)


# --- targets --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Target:
    """What is to be reached: a share of a part in a condition. most: it is a bound from above."""

    name: str
    part: str
    column: str
    condition: str
    share: float
    most: bool = False


def _row(name: str, part: str, column: str, shares: tuple[float, ...], most: bool = False) -> tuple[Target, ...]:
    return tuple(
        Target(name, part, column, condition, share, most)
        for condition, share in zip(("clean", "10 dB", "5 dB", "0 dB"), shares, strict=True)
    )


TARGETS = (
    *_row("commands accepted and right", "commands", "right", (0.995, 0.99, 0.975, 0.94)),
    *_row("commands accepted and wrong", "commands", "wrong", (0.001, 0.002, 0.005, 0.01), most=True),
    *_row("readings right at first hearing", "readings", "right", (0.99, 0.98, 0.95, 0.88)),
    *_row("readings offered wrong", "readings", "wrong", (0.0025, 0.0025, 0.01, 0.02), most=True),
)
FALSE_ACCEPTS_AN_HOUR = 0.5
HOLD_HOURS = 5.0
DECIDED = {"commands": (0.2, 0.45, 0.01), "numbers": (0.45, 0.8, 0.02)}
"""Seconds from the end of speech to the decision, median and 95th, and the share of utterances cut off."""


def verdict(share: float, interval: tuple[float, float], target: Target) -> str:
    """`met`, `not met`, or `not met, within the interval` where chance alone could be the reason."""
    if share <= target.share if target.most else share >= target.share:
        return "met"
    near = interval[0] <= target.share if target.most else interval[1] >= target.share
    return "not met, within the interval" if near else "not met"


# --- adding up ------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Share:
    """Outcomes of one cell, all that are in it: accepted and right, accepted and wrong, and asked again."""

    count: int
    right: int
    wrong: int

    @property
    def asked(self) -> int:
        """Not accepted, so to be said again; ignored ones included."""
        return self.count - self.right - self.wrong

    def line(self) -> dict[str, object]:
        """As it is kept in JSON."""
        return {
            "count": self.count, "right": self.right, "wrong": self.wrong, "asked again": self.asked,
            "right interval": wilson(self.right, self.count), "wrong interval": wilson(self.wrong, self.count),
        }  # fmt: skip


def share(rows: Iterable[Row]) -> Share:
    """The outcomes of these rows."""
    rows = list(rows)
    accepted = [row for row in rows if row["verdict"] == HearingVerdict.ACCEPT.value]
    right = sum(bool(row["right"]) for row in accepted)
    return Share(len(rows), right, len(accepted) - right)


def grouped(rows: Iterable[Row], key: Callable[[Row], Key]) -> dict[Key, list[Row]]:
    """The rows by key, in the order in which keys come first."""
    found: dict[Key, list[Row]] = {}
    for row in rows:
        found.setdefault(key(row), []).append(row)
    return found


def _by_ratio(rows: Iterable[Row]) -> dict[str, list[Row]]:
    found = grouped(rows, lambda row: row["condition"])
    return {ratio: found[ratio] for ratio in RATIOS if ratio in found}


def digits(rows: Iterable[Row]) -> dict[str, tuple[int, int]]:
    """For each character of the numbers that were said: how often it was said, and how often it was not heard there.

    The number that was said and the one that was heard (accepted or not) are laid side by side so that the most of
    both is the same.
    """
    said: dict[str, int] = {}
    lost: dict[str, int] = {}
    for row in rows:
        truth, heard = (str(row[name]).partition(" ")[0] for name in ("truth", "meaning"))
        heard = heard if heard.lstrip("-").replace(".", "").isdecimal() else ""
        blocks = SequenceMatcher(None, truth, heard, False).get_matching_blocks()
        kept = {at for begin, _, size in blocks for at in range(begin, begin + size)}
        for at, character in enumerate(truth):
            said[character] = said.get(character, 0) + 1
            lost[character] = lost.get(character, 0) + (at not in kept)
    return {character: (said[character], lost[character]) for character in sorted(said)}


def percentile(values: Sequence[float], part: float) -> float:
    """The value below which this part lies; nan of nothing."""
    return sorted(values)[min(len(values) - 1, int(part * len(values)))] if values else float("nan")


STREAM_ROWS = "rows-streams.jsonl"
"""The one file of rows that grows while it is measured."""


def read_rows(folder: Path) -> dict[str, list[Row]]:
    """The rows of each part that was measured into this folder."""
    found = {}
    if (folder / STREAM_ROWS).is_file():
        lines = (folder / STREAM_ROWS).read_text(encoding="utf-8").splitlines()
        found["streams"] = [json.loads(line) for line in lines]
    for path in sorted(folder.glob("rows-*.jsonl.gz")):
        with gzip.open(path, "rt", encoding="utf-8") as file:
            found[path.name.removeprefix("rows-").removesuffix(".jsonl.gz")] = [json.loads(line) for line in file]
    return found


# --- the page -------------------------------------------------------------------------------------------------------


def _percent(hits: int, count: int) -> str:
    """Share with its interval, with as many places as the count can bear."""
    if count == 0:
        return "-"
    low, high = wilson(hits, count)
    places = 2 if count >= 1000 else 1 if count >= 100 else 0
    return f"{100 * hits / count:.{places}f} ({100 * low:.{places}f} to {100 * high:.{places}f})"


Table = tuple[str, str, tuple[str, ...], list[tuple[str, ...]]]
"""Title, a sentence before it, heads, rows."""


def _ladder_table(title: str, said: str, parts: dict[str, list[Row]]) -> Table:
    rows: list[tuple[str, ...]] = []
    for name, part in parts.items():
        for ratio, here in _by_ratio(part).items():
            cell = share(here)
            rows.append((name, ratio, str(cell.count), _percent(cell.right, cell.count),
                         _percent(cell.wrong, cell.count), _percent(cell.asked, cell.count)))  # fmt: skip
    return title, said, ("", "speech to noise", "number", "accepted and right, %", "accepted and wrong, %",
                         "asked again, %"), rows  # fmt: skip


def targets_reached(parts: dict[str, list[Row]]) -> list[dict[str, object]]:
    """Every target beside what was reached; those of parts that were not measured are left out."""
    found: list[dict[str, object]] = []
    for target in TARGETS:
        cell = share(_by_ratio(parts.get(target.part, [])).get(target.condition, []))
        if cell.count:
            hits = cell.right if target.column == "right" else cell.wrong
            reached, interval = hits / cell.count, wilson(hits, cell.count)
            found.append({
                "target": target.name, "part": target.part, "condition": target.condition, "wanted": target.share,
                "most": target.most,
                "reached": reached, "interval": interval, "count": cell.count,
                "verdict": verdict(reached, interval, target),
            })  # fmt: skip
    return found + _ear_targets(parts.get("ear", [])) + _stream_targets(parts.get("streams", []))


def _plain(
    part: str, name: str, condition: str, wanted: float, reached: float, count: int, **more: object
) -> dict[str, object]:
    word = "met" if reached <= wanted else "not met"
    return {"target": name, "part": part, "condition": condition, "wanted": wanted, "most": True, "reached": reached,
            "count": count, "verdict": word, **more}  # fmt: skip


def ear_groups(rows: list[Row]) -> dict[str, list[Row]]:
    """Those through the ear: commands, and numbers."""
    return {
        "commands": [row for row in rows if row["role"] == "command"],
        "numbers": [row for row in rows if row["role"] == "reading"],
    }


def _decided(rows: list[Row]) -> list[float]:
    """Seconds after the end of speech of what was answered and not cut off."""
    return [row["after"] for row in rows if row["after"] is not None and not row["cut"]]


def _ear_targets(rows: list[Row]) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for name, group in ear_groups(rows).items():
        group = [row for row in group if row["condition"] in RATIOS]
        if not group:
            continue
        median, late, cut = DECIDED[name]
        after, cuts = _decided(group), sum(bool(row["cut"]) for row in group)
        noise = "clean, 10, 0 dB"
        count, spread = len(after), wilson(cuts, len(group))
        found.append(_plain("ear", f"{name} decided, median, s", noise, median, statistics.median(after), count))
        found.append(_plain("ear", f"{name} decided, 95th, s", noise, late, percentile(after, 0.95), count))
        found.append(_plain("ear", f"{name} cut off", noise, cut, cuts / len(group), len(group), interval=spread))
    return found


def _hours(rows: Iterable[Row], column: str = "sound") -> float:
    return float(sum(row[column] for row in rows)) / 3600


def _stream_targets(rows: list[Row]) -> list[dict[str, object]]:
    """Hours count for a hold phrase only where one may be said, and only those that the voice detector let through."""
    if not rows:
        return []
    near = [row for row in rows if row["kind"] != "own voice" and not row["reading"]]
    heard, passed = _hours(near, "heard"), sum(row["hold"] for row in near)
    name = f"hold phrase passed by noise, babble, foreign speech ({HOLD_HOURS:.0f} h past the voice detector)"
    told = _plain("streams", name, f"{_hours(near):.2f} h, {heard:.2f} h let through", 0, passed, len(near))
    if heard < HOLD_HOURS and passed == 0:
        told["verdict"] = f"not met: only {heard:.2f} h were let through"
    found = [told]
    for kind, here in grouped(rows, lambda row: row["kind"]).items():
        hours = _hours(here)
        events = sum(len(_texts(row)) - row["hold"] for row in here)
        bound = max_rate_an_hour(events, hours)
        found.append(_plain("streams", f"false accepts an hour, {kind}, 95 % bound", f"{events} in {hours:.2f} h",
                            FALSE_ACCEPTS_AN_HOUR, bound, len(here)))  # fmt: skip
    return found


def _texts(row: Row) -> list[str]:
    accepted: list[str] = row["accepted"]
    return accepted


def tables(parts: dict[str, list[Row]], facts: Mapping[str, object]) -> list[Table]:
    """What these rows show, in the order of the page."""
    ours = {name: parts[name] for name in ("commands", "readings", "hold", "grammar") if parts.get(name)}
    found: list[Table] = []
    if ours:
        said = (
            "Held-out voices, engine noise (idle, rated, cranking). Readings: right at first hearing, offered wrong. "
            "In brackets Wilson's 95 % interval."
        )
        found.append(_ladder_table("Our engine", said, ours))
    if parts.get("peers"):
        found.append(_peers(parts))
    for name in ("people", "yours"):
        if parts.get(name):
            by_engine = grouped(parts[name], lambda row: f"{row['voice']}, {row['state']}: {row['engine']}")
            said = "One speaker each, so an interval says nothing of other people."
            found.append(_ladder_table(name.capitalize(), said, {str(key): rows for key, rows in by_engine.items()}))
    if parts.get("readings"):
        found.append(_digits(parts["readings"]))
    if parts.get("commands"):
        found.append(_voices([*parts["commands"], *parts.get("readings", [])]))
    if parts.get("surroundings"):
        found.append(_surroundings(parts["surroundings"]))
    if parts.get("talk"):
        found.append(_talk(parts["talk"]))
    if parts.get("ear"):
        found.append(_ear(parts["ear"]))
    if parts.get("streams"):
        found.append(_streams(parts["streams"]))
    if any(parts.get(name) for name in _COSTING):
        found.append(_cost(parts, facts))
    return found


def _reach(targets: Iterable[Mapping[str, object]]) -> Table:
    lines: list[tuple[str, ...]] = []
    for line in targets:
        wanted = f"{'at most' if line['most'] else 'at least'} {_number(line['wanted'])}"
        told = line["target"], line["condition"], wanted, _number(line["reached"]), line["count"], line["verdict"]
        lines.append(tuple(map(str, told)))
    heads = ("target", "condition", "wanted", "reached", "number", "verdict")
    return "Reach", "Wanted beside reached; the last column is computed.", heads, lines


def _number(value: object) -> str:
    number = float(str(value))
    return f"{number:.4f}".rstrip("0").rstrip(".")


def compared(parts: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """Ours and the peers on the very same sounds, by role and engine: `commands, ours`."""
    names = {"command": "commands", "reading": "readings", "grammar": "grammar"}
    by = grouped(parts["peers"], lambda row: (names[str(row["role"])], row["engine"]))
    return {f"{role}, {engine}": by[role, engine] for role, engine in sorted(by, key=lambda key: key[0])}


def _peers(parts: dict[str, list[Row]]) -> Table:
    said = (
        "The same sounds for each, held-out voices. Free: the model writes without a grammar, its text is matched with "
        f"the state (accepted from {MATCHES:.0f} of 100). PocketSphinx has no confidence in a grammar: all it hears is "
        "accepted."
    )
    return _ladder_table("Beside the peers", said, compared(parts))


def _digits(rows: list[Row]) -> Table:
    by = {ratio: digits(here) for ratio, here in _by_ratio(rows).items()}
    characters = sorted({character for table in by.values() for character in table})
    lines: list[tuple[str, ...]] = [
        (ratio, *(f"{100 * table[c][1] / table[c][0]:.1f}" if c in table else "-" for c in characters))
        for ratio, table in by.items()
    ]
    counts = by[next(iter(by))]
    lines.append(("said", *(str(counts.get(c, (0, 0))[0]) for c in characters)))
    said = "Of each character of the numbers that were said, the share in % that was not heard in its place."
    return "Readings by digit", said, ("speech to noise", *characters), lines


def _voices(rows: list[Row]) -> Table:
    lines: list[tuple[str, ...]] = []
    for name, here in sorted(grouped(rows, lambda row: (row["role"], str(row["voice"]).split()[1])).items()):
        cell = share(row for row in here if row["condition"] in ("clean", "10 dB", "5 dB", "0 dB"))
        role, voice = name
        lines.append((str(voice), str(role), str(cell.count), _percent(cell.right, cell.count),
                      _percent(cell.wrong, cell.count)))  # fmt: skip
    return ("By voice", "Clean to 0 dB together. Utterances of one voice are not independent of each other.",
            ("voice", "", "number", "accepted and right, %", "accepted and wrong, %"), lines)  # fmt: skip


def _surroundings(rows: list[Row]) -> Table:
    lines: list[tuple[str, ...]] = []
    by = grouped(rows, lambda row: (row["condition"], row["role"]))
    for condition in SURROUNDINGS:
        for role in ("command", "reading"):
            cell = share(by.get((condition.name, role), []))
            if cell.count:
                lines.append((condition.name, role, str(cell.count), _percent(cell.right, cell.count),
                              _percent(cell.wrong, cell.count)))  # fmt: skip
    return ("Other noise, rooms, clipping", "Held-out kinds; a ratio is that of speech to noise.",
            ("", "", "number", "accepted and right, %", "accepted and wrong, %"), lines)  # fmt: skip


def _talk(rows: list[Row]) -> Table:
    lines: list[tuple[str, ...]] = []
    for (role, condition), here in grouped(rows, lambda row: (row["role"], row["condition"])).items():
        cell = share(here)
        holds = sum(row["risk"] == "hold" and row["verdict"] == HearingVerdict.ACCEPT.value for row in here)
        lines.append((_NOT_FOR_US[role], condition, str(cell.count), _percent(cell.wrong, cell.count), str(holds)))
    said = "Whole utterances without voice detection; the share accepted."
    heads = ("", "speech to noise", "number", "accepted, %", "as a hold phrase")
    return "What is not for us, an utterance at a time", said, heads, lines


_NOT_FOR_US = {
    "talk": "talk to somebody else",
    "foreign": "foreign speech",
    "command": "an answer of another question",
    "reading": "a number where none is asked for",
}


def _ear(rows: list[Row]) -> Table:
    lines: list[tuple[str, ...]] = []
    for name, group in ear_groups(rows).items():
        for ratio, here in grouped(group, lambda row: row["condition"]).items():
            cell, after = share(here), _decided(here)
            cuts, silent = sum(bool(row["cut"]) for row in here), sum(row["verdict"] == "nothing" for row in here)
            median = f"{statistics.median(after):.3f}" if after else "-"
            lines.append((name, ratio, str(cell.count), median, f"{percentile(after, 0.95):.3f}",
                          _percent(cuts, cell.count), _percent(silent, cell.count), _percent(cell.right, cell.count),
                          _percent(cell.wrong, cell.count)))  # fmt: skip
    said = (
        "Continuous sound in blocks of 32 ms through voice detection, end of speech, decoding, judgement; time is "
        "virtual plus the computing measured. From the last of the speech (35 dB below its loudest frame)."
    )
    heads = ("", "speech to noise", "number", "decided, median s", "95th, s", "cut off, %", "not noticed, %",
             "accepted and right, %", "accepted and wrong, %")  # fmt: skip
    return "From the end of speech to the decision", said, heads, lines


def _streams(rows: list[Row]) -> Table:
    lines: list[tuple[str, ...]] = []
    for kind, here in grouped(rows, lambda row: row["kind"]).items():
        hours, at_hold = _hours(here), _hours(row for row in here if not row["reading"])
        texts = [text for row in here for text in _texts(row)]
        holds = sum(row["hold"] for row in here)
        often = sorted(set(texts), key=lambda text: (-texts.count(text), text))[:4]
        others = len(texts) - holds
        known = kind != "own voice"  # no hold phrase is listened for while the assistant speaks
        shown: tuple[object, ...] = (
            f"{hours:.2f}", f"{_hours(here, 'voiced'):.2f}", f"{_hours(here, 'heard'):.2f}",
            sum(row["utterances"] for row in here), holds if known else "-",
            f"{max_rate_an_hour(holds, at_hold):.2f}" if known else "-",
            others, f"{max_rate_an_hour(others, hours):.2f}",
            sum(row["own"] for row in here), sum(row["asked again"] for row in here),
            sum(row["ignored"] for row in here), ", ".join(often),
        )  # fmt: skip
        lines.append((str(kind), *map(str, shown)))
    machines = grouped(rows, lambda row: row["on"])
    where = "; ".join(f"{_hours(here):.2f} h on {name}" for name, here in machines.items())
    said = (
        f"Pieces of five minutes through the ear, two of three at a hold point, one at a reading: {where}. Voice: "
        "blocks that the voice detector took for one; decoded: utterances that it bounded, with their pre-roll and "
        "silence. Bounds: Poisson, 95 %, exact; of hold phrases over the hours at a hold point. Over the assistant's "
        "own voice only commands are listened for; own words, those of the prompt that sounds, it leaves alone."
    )
    heads = ("", "hours", "voice, h", "decoded, h", "utterances", "hold phrases", "bound an hour", "other accepts",
             "bound an hour", "own words", "asked again", "ignored", "the most frequent")  # fmt: skip
    return "False accepts", said, heads, lines


_COSTING = ("commands", "readings", "peers", "people")


def _cost(parts: dict[str, list[Row]], facts: Mapping[str, object]) -> Table:
    rows = [row for name in _COSTING for row in parts.get(name, [])]
    memory = facts.get("memory", {})
    assert isinstance(memory, dict)
    lines: list[tuple[str, ...]] = []
    for engine, here in grouped(rows, lambda row: row["engine"]).items():
        seconds, sound = ([row[name] for row in here] for name in ("seconds", "sound"))
        each = statistics.median(seconds) * 1000
        lines.append((str(engine), f"{sum(seconds) / sum(sound):.3f}", f"{each:.0f}", str(memory.get(engine, "-"))))
    said = f"Processor time, {facts.get('workers')} engines at once on {facts.get('machine')}. Memory: a fresh process."
    return "Computing and memory", said, ("engine", "s a second of sound", "median ms an utterance", "MB"), lines


RUN = ("date", "machine", "workers", "form", "seed", "encoder", "command", "note")
"""What is kept of the run that measured a part. note: what a person has to know of it, kept as it stands there."""


def markdown(page: Mapping[str, Any], plot: bool) -> str:
    """The page, of what `write` keeps as JSON."""
    lines = [
        "# Hearing", "",
        "| part | measured | on | processes | form | seed | encoder | command | |", "|" + "---|" * (len(RUN) + 1),
        *(f"| {part} | {' | '.join(str(run.get(key, '')) for key in RUN)} |" for part, run in page["runs"].items()), "",
        "The split, fixed in code:", "",
        *(f"- {side}: {said}" for side, said in SIDES.items()),
        f"- noise in the tuning: {', '.join(FOR_TUNING)}; held out: {', '.join((*ENGINES, *OTHERS))}", "",
        "Speech to noise: the level of the speech while it sounds against the root mean square of the noise over the "
        "whole mixture, full band (`rehearsal.noise.mix`). Speech was kept as Opus at 22 kilobits a second.", "",
    ]  # fmt: skip
    if plot:
        lines += ["![Share right by ratio](hearing.png)", ""]
    for table in page["tables"]:
        heads = table["heads"]
        lines += [f"## {table['title']}", "", table["said"], "", f"| {' | '.join(heads)} |", "|" + "---|" * len(heads)]
        lines += [f"| {' | '.join(row)} |" for row in table["rows"]] + [""]
    return "\n".join(lines)


def plotted(parts: dict[str, list[Row]], path: Path) -> bool:
    """Share accepted and right by ratio, a curve with intervals an engine. False where matplotlib is not installed."""
    try:
        import matplotlib
    except ImportError:
        return False
    matplotlib.use("Agg")
    from matplotlib import pyplot

    curves = compared(parts) if parts.get("peers") else {
        f"{name}, {OURS}": parts[name] for name in ("commands", "readings") if parts.get(name)
    }  # fmt: skip
    roles = list(dict.fromkeys(name.partition(", ")[0] for name in curves))
    if not roles:
        return False
    figure, axes = pyplot.subplots(1, len(roles), figsize=(5.5 * len(roles), 4.2), sharey=True, squeeze=False)
    for axis, role in zip(axes[0], roles, strict=True):
        for number, (name, rows) in enumerate((n, r) for n, r in curves.items() if n.startswith(f"{role}, ")):
            cells = {ratio: share(here) for ratio, here in _by_ratio(rows).items()}
            heights = [cell.right / cell.count for cell in cells.values()]
            ends = [wilson(cell.right, cell.count) for cell in cells.values()]
            spread = [[h - low for h, (low, _) in zip(heights, ends, strict=True)],
                      [high - h for h, (_, high) in zip(heights, ends, strict=True)]]  # fmt: skip
            places = [RATIOS.index(ratio) + 0.06 * number for ratio in cells]
            axis.errorbar(places, heights, spread, marker="o", capsize=2, label=name.partition(", ")[2])
        axis.set_xticks(range(len(RATIOS)), RATIOS)
        axis.set_title(f"{role} accepted and right")
        axis.set_ylim(0, 1.01)
        axis.grid(alpha=0.3)
    axes[0][0].legend(loc="lower left")
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    pyplot.close(figure)
    return True


def machine() -> str:
    """The processor, and how many cores there are."""
    import os

    try:
        text = Path("/proc/cpuinfo").read_text(encoding="utf-8")
        name = next(line.partition(":")[2].strip() for line in text.splitlines() if line.startswith("model name"))
    except (OSError, StopIteration):
        name = platform.processor() or "unknown processor"
    return f"{platform.machine()}, {name}, {os.cpu_count()} cores, {platform.system()}"


def command_line(arguments: Sequence[str]) -> str:
    """The command as another machine would give it: places of files are left out."""
    shown = ["PATH" if "/" in argument else shlex.quote(argument) for argument in arguments]
    return " ".join(["enginebay", *shown])


def _cell(row: Row) -> tuple[str, str, str]:
    return row["engine"], row["role"], row["condition"]


def write(out: Path, facts: Mapping[str, Any], arguments: Sequence[str]) -> list[Table]:
    """Writes `hearing.md`, `hearing.json` and, with matplotlib, `hearing.png` from the rows in the folder.

    What a `hearing.json` in the folder tells of parts that have no rows there stays, with its own date and machine.
    Returns the tables, for a terminal.
    """
    parts = read_rows(out)
    facts = {**facts, "date": date.today().isoformat(), "machine": machine(), "command": command_line(arguments)}
    earlier = _earlier(out / "hearing.json")
    this = {key: facts[key] for key in RUN if key in facts}
    runs = {part: run for part, run in earlier["runs"].items() if part not in facts["parts"] or not parts.get(part)}
    runs |= {part: this for part in facts["parts"] if parts.get(part)}
    targets = targets_reached(parts)
    targets = [line for line in earlier["targets"] if line["part"] not in parts] + targets
    found = {table[0]: table for table in tables(parts, facts)}
    kept = {t["title"]: (t["title"], t["said"], t["heads"], t["rows"]) for t in earlier["tables"]} | found
    order = (*TITLES, *(title for title in kept if title not in TITLES))
    shown: list[Table] = [_reach(targets), *(kept[title] for title in order if title in kept and title != "Reach")]
    cells = {
        part: [
            {"engine": engine, "role": role, "condition": condition, **share(here).line()}
            for (engine, role, condition), here in grouped(rows, _cell).items()
        ]
        for part, rows in parts.items()
        if part != "streams"
    }
    page = {
        "runs": {part: runs[part] for part in sorted(runs)}, "split": SIDES, "memory": facts.get("memory", {}),
        "targets": targets, "cells": earlier["cells"] | cells,
        "tables": [{"title": t, "said": s, "heads": h, "rows": r} for t, s, h, r in shown],
    }  # fmt: skip
    drawn = plotted(parts, out / "hearing.png") or (out / "hearing.png").is_file()
    (out / "hearing.md").write_text(markdown(page, drawn), encoding="utf-8")
    (out / "hearing.json").write_text(json.dumps(page, ensure_ascii=False, indent=1), encoding="utf-8")
    return shown


TITLES = (
    "Our engine", "Beside the peers", "People", "Yours", "Readings by digit", "By voice",
    "Other noise, rooms, clipping", "What is not for us, an utterance at a time",
    "From the end of speech to the decision", "False accepts", "Computing and memory",
)  # fmt: skip
"""The order of the page."""


def _earlier(path: Path) -> dict[str, Any]:
    """What an earlier run told. Nothing where there is no page, or one of before pages told of their runs."""
    nothing: dict[str, Any] = {"runs": {}, "targets": [], "tables": [], "cells": {}}
    try:
        page = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return nothing
    return page if isinstance(page, dict) and "runs" in page else nothing
