"""The bench of hearing: its arithmetic, its split, its noise, and a short run beside the peers."""

from __future__ import annotations

import gzip
import json
import math
import os
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.edge.files.language import Language, english
from assistant.errors import EngineBayError
from assistant.hearing.judgement import FEATURES
from assistant.rehearsal.adapting import speech_sources
from assistant.rehearsal.measuring import report, speech
from assistant.rehearsal.measuring import run as runs
from assistant.rehearsal.measuring.engines import FREE, OURS, SPHINX, finite_state
from assistant.rehearsal.measuring.intervals import max_rate_an_hour, wilson
from assistant.rehearsal.measuring.judged import MAX_WRONG_SHARE, Hearings, fit, hearings, load, reliability, save
from assistant.rehearsal.measuring.noises import ENGINES, FOR_TUNING, MADE, OTHERS, Noises, clipped, in_room, together
from assistant.rehearsal.measuring.report import (
    STREAM_ROWS,
    TARGETS,
    compared,
    digits,
    read_rows,
    share,
    targets_reached,
    verdict,
)
from assistant.rehearsal.measuring.run import (
    LONG,
    SHORT,
    BenchSize,
    Options,
    Task,
    pieces_done,
    render,
    run,
    tasks,
    world_of,
)
from assistant.rehearsal.measuring.speech import HELD_OUT, PEOPLE, TALK, TUNING, Size, Store, TrialClip
from assistant.rehearsal.measuring.states import ListeningState, reading, sentences, states, truth
from assistant.rehearsal.measuring.trials import STREAMS, Counting, Row, TrialResources, last_sound, levelled, paused
from assistant.rehearsal.noise import speech_level

Sound = NDArray[np.float32]


@pytest.fixture(scope="module")
def language() -> Language:
    return english()


@pytest.fixture(scope="module")
def every(language: Language) -> dict[str, ListeningState]:
    return states(language)


# --- arithmetic


@pytest.mark.parametrize(
    ("hits", "count", "low", "high"),
    [(0, 10, 0.0, 0.2775), (5, 10, 0.2366, 0.7634), (81, 263, 0.2553, 0.3662), (3000, 3000, 0.9987, 1.0)],
)
def test_wilson(hits: int, count: int, low: float, high: float) -> None:
    """81 of 263 is the worked example of Newcombe (Statistics in Medicine 17, 1998); the others by the formula."""
    assert wilson(hits, count) == pytest.approx((low, high), abs=1e-4)


def test_the_interval_holds_its_share() -> None:
    """All of six right: the upper end came out as 0.9999999, and the plot refused a negative bar."""
    for count in range(1, 60):
        for hits in (0, count // 3, count):
            low, high = wilson(hits, count)
            assert low <= hits / count <= high


def test_of_nothing_nothing_is_known() -> None:
    assert wilson(0, 0) == (0, 1)
    assert max_rate_an_hour(0, 0) == math.inf


@pytest.mark.parametrize(("events", "bound"), [(0, 2.9957), (1, 4.7439), (2, 6.2958), (10, 16.9622)])
def test_the_bound_of_a_rate_is_the_exact_one(events: int, bound: float) -> None:
    """The tables of the Poisson distribution, one-sided, 95 %; twice the hours halve it."""
    assert max_rate_an_hour(events, 1) == pytest.approx(bound, abs=1e-3)
    assert max_rate_an_hour(events, 2) == pytest.approx(bound / 2, abs=1e-3)


def test_three_thousand_stand_behind_a_claim_of_a_tenth_of_a_percent() -> None:
    assert LONG.size.held_out["command"] >= 3000
    assert wilson(0, LONG.size.held_out["command"])[1] < 0.0013


# --- what is said


def test_the_command_state_offers_what_the_dialogue_knows(every: dict[str, ListeningState]) -> None:
    assert len(every["command"].expectation.offers) >= 20
    assert {"stand by", "call for help", "dead tester"} <= set(sentences(every["command"]))


def test_what_is_said_means_what_is_noted(every: dict[str, ListeningState], language: Language) -> None:
    clips = speech.plan(replace(SHORT.size, tuning=SHORT.size.held_out), 3, every, language)
    assert clips == speech.plan(replace(SHORT.size, tuning=SHORT.size.held_out), 3, every, language)
    for clip in clips:
        if clip.role in ("command", "reading", "hold"):
            assert truth(every[clip.state], clip.text, language) == clip.truth
        else:
            assert not clip.truth


def test_readings_span_all_that_can_be_said() -> None:
    import random

    chance = random.Random(1)
    values = [float(reading("mm", ("mil",), chance)[1].removesuffix(" mm")) for _ in range(300)]
    assert min(values) < -1000
    assert max(values) > 50_000
    assert sum(abs(value) < 10 for value in values) > 20


def test_a_number_without_its_unit_means_the_unit_asked_for(
    every: dict[str, ListeningState], language: Language
) -> None:
    state = every["reading kPa"]
    assert truth(state, "seven point five", language) == truth(state, "seven point five kilopascals", language)
    assert truth(state, "seven point five zero", language) != truth(state, "seven point five", language)


# --- the split


def test_no_voice_is_on_both_sides(every: dict[str, ListeningState], language: Language) -> None:
    clips = speech.plan(replace(LONG.size, held_out={"command": 90}, tuning={"command": 90}), 1, every, language)
    makers = {side: {clip.voice.split()[0] for clip in clips if clip.side == side} for side in (HELD_OUT, TUNING)}
    assert makers == {HELD_OUT: {"flite"}, TUNING: {"espeak-ng"}}
    size = replace(LONG.size, held_out={"command": 90}, tuning={"command": 90})
    also = speech.plan(size, 1, every, language, neural=True)
    assert [clip for clip in also if clip.side == HELD_OUT] == [clip for clip in clips if clip.side == HELD_OUT]
    neural = [clip.voice.split() for clip in also if clip.voice.startswith("neural")]
    assert 30 < len(neural) < 60
    assert {name for voice in neural for name in voice[1:3]} == set(speech_sources.HELD_OUT)
    assert all(first[0] == second[0] for _, first, second, *_ in neural), "one accent in a mix"
    assert not set(speech_sources.HELD_OUT) & {*speech_sources.AMERICAN, *speech_sources.BRITISH}


def test_no_noise_and_no_talk_is_on_both_sides() -> None:
    assert not set(FOR_TUNING) & {*ENGINES, *OTHERS}
    said = {side: {words for column in columns for words in column} for side, columns in TALK.items()}
    assert not said[TUNING] & said[HELD_OUT]
    bank = Noises(2, 1, {"babble": [np.ones(8000, dtype=np.float32)], "tuning talk": [np.ones(8000, dtype=np.float32)]})
    seeds: dict[str, list[int]] = {}
    original, bank.fresh = (
        bank.fresh,
        lambda kind, seconds, seed: (
            seeds.setdefault(kind, []).append(seed)
            or original(  # type: ignore[method-assign, func-returns-value]  # watches the seeds
                kind, 0.1, seed
            )
        ),
    )
    bank.fill(["odd engines", "rated 1500"])
    assert not set(seeds["odd engines"]) & set(seeds["rated 1500"])


# --- noise


@pytest.mark.parametrize("kind", list(MADE))
def test_noise_comes_from_its_seed_and_has_unit_level(kind: str) -> None:
    sound = MADE[kind](2.0, 5)
    assert sound.dtype == np.float32
    assert len(sound) == 32_000
    assert float(np.sqrt(np.mean(sound.astype(np.float64) ** 2))) == pytest.approx(1, rel=1e-3)
    assert np.array_equal(sound, MADE[kind](2.0, 5))
    assert not np.allclose(sound, MADE[kind](2.0, 6))


def test_many_voices_at_once_hide_each_other() -> None:
    """Babble has no gaps: its quietest half second is nearer to its mean than that of one voice that speaks on."""
    time = np.arange(8000) / 16_000
    voices = [np.sin(2 * np.pi * hertz * time).astype(np.float32) for hertz in (200, 330, 470)]
    quietest = []
    for at_once in (1, 5):
        sound = together(voices, 10, 1, at_once)
        quietest.append(min(float(np.mean(part**2)) for part in np.split(sound, 40)))
    assert quietest[1] > 5 * quietest[0]


def test_a_room_adds_a_tail_and_keeps_the_direct_sound() -> None:
    click = np.zeros(16_000, dtype=np.float32)
    click[100] = 1
    near, far = (in_room(click, metres, np.random.default_rng(1)) for metres in (0.5, 2.0))
    assert np.argmax(np.abs(near)) == 100
    assert np.sum(far[200:] ** 2) > 8 * np.sum(near[200:] ** 2)


def test_clipping_cuts_at_full_scale() -> None:
    sound = np.sin(np.arange(16_000) / 20).astype(np.float32) * np.float32(0.1)
    assert float(np.mean(np.abs(clipped(sound, 12)) == 1)) > 0.5
    assert not np.any(np.abs(clipped(sound, -1)) == 1)


def test_speech_is_levelled_by_what_sounds() -> None:
    sound = np.concatenate([np.zeros(16_000), np.sin(np.arange(16_000) / 10), np.zeros(16_000)]).astype(np.float32)
    assert 20 * math.log10(speech_level(levelled(sound, -20))) == pytest.approx(-20, abs=0.1)
    assert last_sound(sound) == pytest.approx(32_000, abs=320)


def test_a_speaker_falls_silent_between_two_words_and_not_at_the_ends() -> None:
    word = np.sin(np.arange(8_000) / 5).astype(np.float32)
    sound = np.concatenate([np.zeros(1_600, np.float32), word, np.zeros(800, np.float32), word])
    longer = paused(sound, 0.25)
    assert len(longer) == len(sound) + 4_000
    silent = np.flatnonzero(np.convolve(np.abs(longer), np.ones(4_000), "valid") < 1e-3)
    assert len(silent) > 0
    assert 9_600 - 40 <= silent.min() <= silent.max() <= 10_400 + 40
    assert float(np.sum(longer**2)) == pytest.approx(float(np.sum(sound**2)))


# --- adding up


def _row(verdict: str, right: bool, **more: object) -> Row:
    return {"engine": OURS, "condition": "clean", "verdict": verdict, "right": right, **more}


def test_what_is_not_accepted_is_asked_again() -> None:
    rows = [_row("accept", True), _row("accept", False), _row("ask again", True), _row("ignore", False)]
    cell = share(rows)
    assert (cell.count, cell.right, cell.wrong, cell.asked) == (4, 1, 1, 2)


def test_each_digit_is_counted_in_its_place() -> None:
    rows = [
        _row("accept", True, truth="15.2 mm", meaning="15.2 mm"),
        _row("accept", False, truth="15.2 mm", meaning="50.2 mm"),
        _row("ignore", False, truth="15.2 mm", meaning=""),
    ]
    assert digits(rows) == {".": (3, 1), "1": (3, 2), "2": (3, 1), "5": (3, 1)}


def test_met_and_not_met_are_computed() -> None:
    right, wrong = TARGETS[0], TARGETS[4]
    assert (right.share, wrong.share, wrong.most) == (0.995, 0.001, True)
    assert verdict(0.996, (0.99, 0.999), right) == "met"
    assert verdict(0.99, (0.985, 0.996), right) == "not met, within the interval"
    assert verdict(0.98, (0.97, 0.99), right) == "not met"
    assert verdict(0.0, (0.0, 0.3), wrong) == "met"
    assert verdict(0.01, (0.005, 0.02), wrong) == "not met"


# --- streams of what is no command


def _piece(kind: str, number: int, heard: float = 3600.0, **more: object) -> Row:
    return {
        "kind": kind, "number": number, "seed": 5, "reading": False, "sound": 3600.0, "heard": heard, "voiced": heard,
        "hold": 0, "accepted": [], "own": 0, "asked again": 0, "ignored": 0, "utterances": 1, "on": "a machine", **more,
    }  # fmt: skip


def test_what_a_run_had_heard_of_the_streams_is_not_heard_again(measured: Measured, tmp_path: Path) -> None:
    """A run that was ended in the middle of a line: that piece is heard again, the others are not."""
    assert pieces_done(tmp_path) == set()
    lines = [json.dumps(_piece(kind, 0)) + "\n" for kind in ("noise", "babble")]
    (tmp_path / STREAM_ROWS).write_text("".join(lines) + lines[0][:40], encoding="utf-8")
    done = pieces_done(tmp_path)
    assert done == {("noise", 0, 5), ("babble", 0, 5)}
    assert (tmp_path / STREAM_ROWS).read_text(encoding="utf-8") == "".join(lines)
    options = Options(replace(SMALLEST, hours=0.25), seed=5, parts=("streams",))
    whole = {task[1][:2] for task in tasks(options, measured.world)["streams"]}
    rest = {task[1][:2] for task in tasks(options, measured.world, done)["streams"]}
    assert len(whole) == 3 * len(STREAMS)
    assert whole - rest == {("noise", 0), ("babble", 0)}


def test_what_was_measured_is_kept_when_the_run_ends_early(
    measured: Measured, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Rows are written as they come; the next run begins anew. Two processes, each on a core that it may use."""
    kept = tmp_path / "rows-talk.jsonl.gz"

    def failing() -> list[Row]:
        raise EngineBayError("a task", "it fails", "")

    def plan(rows: int, also: list[Task]) -> None:
        todo = [(_cores, (), 1.0)] * rows
        monkeypatch.setattr(runs, "tasks", lambda *given: {"talk": [*todo, *also]})

    options = Options(SMALLEST, seed=5, parts=("talk",))
    plan(3, [(failing, (), 1.0)])
    with pytest.raises(EngineBayError):
        run(options, measured.world, tmp_path)
    assert len(read_rows(tmp_path)["talk"]) == 3
    plan(4, [])
    run(replace(options, workers=2), measured.world, tmp_path)
    assert kept.is_file()
    cores = [row["cores"] for row in read_rows(tmp_path)["talk"]]
    assert len(cores) == 4
    assert all(len(of) == 1 and set(of) <= os.sched_getaffinity(0) for of in cores)


def _cores() -> list[Row]:
    """A task that says where it runs."""
    return [{"cores": sorted(os.sched_getaffinity(0))}]


def test_people_of_one_language_are_on_one_side_of_the_stamps() -> None:
    tuning, people = (speech.FOREIGN_ON_STAMPS[side] for side in (TUNING, PEOPLE))
    assert not tuning.keys() & (people.keys() | speech.FOREIGN_RECORDED.keys())


def test_what_people_were_recorded_saying_can_be_heard_in_its_state(language: Language) -> None:
    every = speech.person_states()
    assert set(sentences(every["person animals"])) == set(speech.ANIMALS_RECORDED)
    assert len({truth(every["person animals"], animal, language) for animal in speech.ANIMALS_RECORDED}) == 59


def test_a_detector_is_counted_and_not_changed() -> None:
    class Loud:
        def reset(self) -> None:
            pass

        def probability(self, block: Sound) -> float:
            return float(block.max())

    counting = Counting(Loud())
    block = np.zeros(512, dtype=np.float32)
    assert [counting.probability(block + np.float32(level)) for level in (0.25, 0.75, 0.5)] == [0.25, 0.75, 0.5]
    assert (counting.asked, counting.voiced) == (3, 2)


def test_only_hours_that_the_detector_let_through_count_for_a_hold_point() -> None:
    def of(rows: list[Row]) -> dict[str, str]:
        lines = targets_reached({"streams": rows})
        return {str(line["target"]).partition(" (")[0]: str(line["verdict"]) for line in lines}

    hold = "hold phrase passed by noise, babble, foreign speech"
    assert of([_piece("noise", n, heard=0.0) for n in range(9)])[hold] == "not met: only 0.00 h were let through"
    assert of([_piece("foreign speech", n, reading=True) for n in range(9)])[hold].startswith("not met")
    found = of([_piece("foreign speech", n) for n in range(6)])
    assert found[hold] == "met"
    assert found["false accepts an hour, foreign speech, 95 % bound"] == "met"  # 2.9957 / 6
    assert of([_piece("foreign speech", n, hold=n // 5) for n in range(6)])[hold] == "not met"
    two = of([_piece("noise", n, accepted=["next"] * (n == 0)) for n in range(6)])
    assert two["false accepts an hour, noise, 95 % bound"] == "not met"


def test_what_was_measured_before_stays_with_its_own_date(tmp_path: Path) -> None:
    def lines(part: str, right: int) -> None:
        more = {"role": "command", "seconds": 0.1, "sound": 1.0, "voice": "flite slt"}
        rows = [_row("accept", n < right, **more) for n in range(10)]
        with gzip.open(tmp_path / f"rows-{part}.jsonl.gz", "wt", encoding="utf-8") as file:
            file.writelines(json.dumps(row) + "\n" for row in rows)

    def told() -> dict[str, str]:
        page = json.loads((tmp_path / "hearing.json").read_text(encoding="utf-8"))
        assert page["tables"][0]["title"] == "Reach"
        assert len({table["title"] for table in page["tables"]}) == len(page["tables"])
        return {part: run["form"] for part, run in page["runs"].items()} | {
            str(line["target"]): str(line["reached"]) for line in page["targets"]
        }

    facts = {"parts": ["commands", "streams"], "workers": 1, "seed": 1, "encoder": "adapted"}
    lines("commands", 10)
    (tmp_path / STREAM_ROWS).write_text(json.dumps(_piece("noise", 1)) + "\n", encoding="utf-8")
    report.write(tmp_path, facts | {"form": "first"}, [])
    before = told()
    assert before["commands accepted and right"] == "1.0"
    (tmp_path / "rows-commands.jsonl.gz").unlink()  # as when only the page was kept
    report.write(tmp_path, facts | {"form": "second"}, [])
    assert told() == before | {"streams": "second"}
    lines("commands", 9)
    report.write(tmp_path, facts | {"form": "third"}, [])
    assert (told()["commands"], told()["commands accepted and right"]) == ("third", "0.9")


def test_the_state_of_the_peer_has_the_same_sentences(every: dict[str, ListeningState]) -> None:
    """The finite-state text is walked: it says every phrase of the state and nothing else."""
    lines = [line.split() for line in finite_state(every["command"].graph).splitlines()]
    end = next(line[1] for line in lines if line[0] == "FINAL_STATE")
    arcs = [line[1:] for line in lines if line[0] == "TRANSITION"]
    found, waiting = set(), [("0", "")]
    for node, said in waiting:
        if node == end:
            found.add(said.strip())
        waiting += [(arc[1], f"{said} {arc[3] if len(arc) > 3 else ''}") for arc in arcs if arc[0] == node]
    assert found == {phrase.lower() for phrase in sentences(every["command"])}


# --- the judgement


def test_each_risk_gets_its_own_point_and_it_holds(tmp_path: Path) -> None:
    chance = np.random.default_rng(1)
    count = 3000
    risk = np.array(["command", "reading", "hold"])[np.arange(count) % 3]
    kind = np.where(chance.random(count) < 0.2, "elsewhere", risk)
    right = (chance.random(count) < 0.7) & (kind != "elsewhere")
    features = chance.normal(size=(count, len(FEATURES)))
    features[:, FEATURES.index("margin")] = right + chance.normal(0, 0.3, count)
    features[:, FEATURES.index("free gap")] += right  # as if free writing that fits better spoke for the path
    found = Hearings(features, risk, right, kind, np.full(count, "clean"))
    save(tmp_path / "rows.npz", found)
    again = load(tmp_path / "rows.npz")
    fitted = fit(again)
    accepted = fitted.accepted(again)
    for name in ("command", "reading", "hold"):
        here = (risk == name) & np.isin(kind, ("command", "reading", "hold"))
        assert (accepted & ~right & here).sum() <= MAX_WRONG_SHARE[name] * here.sum() + 1
    assert (accepted & right).sum() > 0.3 * right.sum()
    weights = fitted.points["command"].weights
    assert weights[FEATURES.index("margin")] > 1
    assert weights[FEATURES.index("free gap")] == 0  # it goes without what says the opposite of what it means
    assert all(
        abs(believed - true) < 0.12
        for believed, true, number in reliability(fitted.chance(again), right)
        if number > 100
    )


# --- a short run beside the peers


SMALL = replace(
    SHORT, size=Size({"command": 20, "reading": 3, "talk": 4, "own": 2}, {}), peers=(20, 3), ratios=(None, 10.0, 0.0)
)
SMALLEST = replace(
    SMALL, size=Size({"command": 6, "reading": 1, "talk": 2, "own": 1}, {}), peers=(6, 1), ratios=(None, 0.0), banks=1
)


@dataclass(frozen=True)
class Measured:
    """A run that was made.

    size: how much was measured.
    out: the folder of its rows.
    world: what it was measured with.
    facts: what it says of itself.
    """

    size: BenchSize
    out: Path
    world: TrialResources
    facts: dict[str, object]


@pytest.fixture(
    scope="module", params=[SMALLEST, pytest.param(SMALL, marks=pytest.mark.long)], ids=["smallest", "small"]
)
def measured(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Measured:
    pytest.importorskip("pocketsphinx")
    folder = tmp_path_factory.mktemp("measuring")
    options = Options(request.param, seed=5, parts=("commands", "readings", "peers"))
    world = world_of(options, render(options, folder / "speech"))
    return Measured(request.param, folder / "out", world, run(options, world, folder / "out"))


def test_we_understand_more_than_the_peers_and_are_not_wrong_more_often(measured: Measured) -> None:
    cells = {name: share(rows) for name, rows in compared(read_rows(measured.out)).items()}
    sums: dict[str, list[int]] = {}
    for name in (OURS, FREE, SPHINX):
        both = [cells[f"{role}, {name}"] for role in ("commands", "readings")]
        sums[name] = [sum(cell.count for cell in both), sum(cell.right for cell in both), sum(c.wrong for c in both)]
    assert {count for count, _, _ in sums.values()} == {len(measured.size.ratios) * sum(measured.size.peers)}
    _, right, wrong = sums.pop(OURS)
    for name, (_, peers_right, peers_wrong) in sums.items():
        assert right > 1.15 * peers_right, name
        assert wrong * peers_right <= (peers_wrong + 1) * right, f"{name}: wrong for each right one, within one hearing"


def test_the_report_says_what_was_measured(measured: Measured) -> None:
    out, commands = measured.out, measured.size.size.held_out["command"]
    report.write(out, measured.facts, ["bench", "hearing", "--out", "/a/b"])
    page = (out / "hearing.md").read_text(encoding="utf-8")
    assert "commands accepted and right" in page
    assert "/a/b" not in page
    for maker in ("espeak-ng", "flite"):
        assert maker in page
    heard = hearings(read_rows(out)["commands"]).features.shape[0]
    assert heard >= 2 / 3 * commands * len(measured.size.ratios), "most hearings can be judged"
    assert len(measured.world.store.of(HELD_OUT, "command")) == commands


def test_speech_is_rendered_once_and_for_its_own_plan(measured: Measured) -> None:
    store = measured.world.store
    clip = store.of(HELD_OUT, "command")[3]
    fresh = speech.rendered(clip.voice, clip.text)
    assert len(store.sound(clip)) == len(fresh)
    assert float(np.corrcoef(store.sound(clip), fresh)[0, 1]) > 0.97


def test_a_folder_without_speech_is_refused(tmp_path: Path) -> None:
    with pytest.raises(EngineBayError, match="no rendered speech"):
        Store(tmp_path)


def test_every_part_has_its_work(measured: Measured) -> None:
    """Each task is of about the length that the estimate says, and no clip of a part is lost."""
    todo = tasks(Options(measured.size, seed=5), measured.world)
    heard = [clip for _, args, _ in todo["commands"] for clip in args[1] if isinstance(clip, TrialClip)]  # type: ignore[attr-defined]  # the task's clips
    assert len(heard) == measured.size.size.held_out["command"]
    assert sum(seconds for _, _, seconds in todo["streams"]) > 0
