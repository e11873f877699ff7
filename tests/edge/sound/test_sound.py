"""Loudspeaker and microphone, on a stand-in for PortAudio that is as quick as the test and vanishes when told.

Wiring: the stand-in takes the place of the module sounddevice; its output stream asks for blocks from a thread of its
own, its input stream brings what the test gives it. `test_sound_devices.py` does the same on a real sound server.
"""

from __future__ import annotations

import builtins
import sys
import threading
import time
import types
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from assistant.edge.sound import microphone, player
from assistant.edge.sound.microphone import BLOCK, RATE, Microphone
from assistant.edge.sound.player import Played, Player
from assistant.errors import AudioError


class PortAudioError(Exception):
    """As sounddevice names it."""


class Stream:
    """What both directions share."""

    def __init__(self, world: World, **settings: Any) -> None:
        if settings["samplerate"] not in world.rates or settings["channels"] not in world.channels:
            raise PortAudioError("Invalid sample rate or number of channels")
        self.world = world
        self.settings = settings
        self.latency = 0.0
        self.running = False
        self.thread = threading.current_thread()
        world.streams.append(self)

    def start(self) -> None:
        self.running = True

    def abort(self) -> None:
        self.end()

    def close(self) -> None:
        self.end()

    def end(self) -> None:
        if self.running:
            self.running = False
            self.settings["finished_callback"]()


class OutputStream(Stream):
    """Asks for blocks, a hundred times faster than a real device."""

    def start(self) -> None:
        super().start()
        self.thread = threading.Thread(target=self._ask, daemon=True)
        self.thread.start()

    def end(self) -> None:
        super().end()
        if threading.current_thread() is not self.thread:
            self.thread.join()  # as PortAudio does: afterwards no callback comes

    def _ask(self) -> None:
        size = self.settings["blocksize"]
        while self.running:
            if self.world.stalled:
                time.sleep(0.001)
                continue
            out = np.ones((size, 1), np.float32)
            self.settings["callback"](out, size, None, None)
            self.world.heard.append(out[:, 0].copy())
            if self.world.at_block is not None and out.any():
                self.world.sounded += 1
                self.world.at_block(self.world.sounded)
            time.sleep(0.0002)


class InputStream(Stream):
    """Brings what the test gives it."""

    def bring(self, samples: NDArray[np.float32], overflow: bool = False) -> None:
        block = np.repeat(samples.reshape(-1, 1), self.settings["channels"], axis=1)
        self.settings["callback"](block, len(block), None, types.SimpleNamespace(input_overflow=overflow))


class World:
    """The devices there are."""

    def __init__(self) -> None:
        self.rates = {48000}
        self.channels = {1, 2}
        self.devices = [
            {"name": "USB headset", "index": 0, "max_input_channels": 2, "max_output_channels": 2},
            {"name": "Board", "index": 1, "max_input_channels": 0, "max_output_channels": 2},
        ]
        self.streams: list[Stream] = []
        self.heard: list[NDArray[np.float32]] = []
        self.stalled = False
        self.sounded = 0  # blocks that were not silence
        self.at_block: Callable[[int], None] | None = None

    def sounding(self) -> NDArray[np.float32]:
        """All that was played between silences."""
        whole = np.concatenate(self.heard)
        loud = np.flatnonzero(whole)
        return whole[loud[0] : loud[-1] + 1] if len(loud) else whole[:0]

    def module(self) -> Any:
        def query_devices(wanted: str | int | None = None, kind: str | None = None) -> Any:
            if kind is None:
                return self.devices
            for device in self.devices:
                if device[f"max_{kind}_channels"] and (
                    wanted is None or wanted == device["index"] or str(wanted) in str(device["name"])
                ):
                    return device | {"default_samplerate": float(max(self.rates))}
            raise ValueError("no device")

        module = types.SimpleNamespace(PortAudioError=PortAudioError, query_devices=query_devices)
        module.OutputStream = lambda **settings: OutputStream(self, **settings)
        module.InputStream = lambda **settings: InputStream(self, **settings)
        return module


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    world = World()
    monkeypatch.setitem(sys.modules, "sounddevice", world.module())
    monkeypatch.setattr(microphone, "STALL_SECONDS", 1.0)
    monkeypatch.setattr(player, "STALL_SECONDS", 1.0)
    yield world
    assert not any(stream.running for stream in world.streams), "every test closes what it opened"


def tone(seconds: float, rate: int, hertz: float = 440.0) -> NDArray[np.float32]:
    return (0.5 * np.sin(2 * np.pi * hertz * (np.arange(round(seconds * rate)) + 0.5) / rate)).astype(np.float32)


# the loudspeaker


def test_all_of_it_is_played_and_nothing_else(world: World) -> None:
    tune = tone(0.333, 48000)
    loudspeaker = Player()
    played = loudspeaker.play(tune, 48000)
    assert played.whole
    assert played.seconds == pytest.approx(0.333, abs=1e-3)
    loudspeaker.close()
    assert np.array_equal(world.sounding(), tune)


def test_sound_of_another_rate_is_resampled(world: World) -> None:
    loudspeaker = Player()
    assert loudspeaker.play(tone(0.5, 22050), 22050).seconds == pytest.approx(0.5, abs=1e-3)
    loudspeaker.close()
    played = world.sounding()
    assert len(played) == pytest.approx(24000, abs=100)
    assert np.argmax(np.abs(np.fft.rfft(played, 48000))) == pytest.approx(440, abs=2)


def test_cut_off_within_one_block(world: World) -> None:
    loudspeaker = Player()
    world.at_block = lambda count: loudspeaker.cut() if count == 10 else None
    played = loudspeaker.play(tone(5, 48000), 48000)
    loudspeaker.close()
    assert not played.whole
    assert 0.1 < played.seconds <= 10.5 * player.BLOCK_SECONDS
    assert len(world.sounding()) <= 11 * player.BLOCK_SECONDS * 48000
    assert abs(world.sounding()[-1]) < 0.1  # faded, no click


def test_a_cut_when_it_is_quiet_is_no_cut_of_the_next(world: World) -> None:
    loudspeaker = Player()
    loudspeaker.cut()
    assert loudspeaker.play(tone(0.1, 48000), 48000).whole
    loudspeaker.cut()
    assert loudspeaker.play(tone(0.1, 48000), 48000).whole
    loudspeaker.close()


def test_too_loud_is_clipped_and_nothing_is_nothing(world: World) -> None:
    loudspeaker = Player()
    assert loudspeaker.play(np.zeros(0, np.float32), 22050) == Played(0.0, True)
    loudspeaker.play(3 * tone(0.1, 48000), 48000)
    loudspeaker.close()
    assert np.abs(world.sounding()).max() == 1


@pytest.mark.parametrize("way", ["ends", "stalls"])
def test_a_loudspeaker_that_vanishes_is_an_error(way: str, world: World) -> None:
    loudspeaker = Player()

    def vanish(count: int) -> None:
        if count == 5:
            world.stalled = way == "stalls"
            if way == "ends":
                world.streams[0].end()

    world.at_block = vanish
    with pytest.raises(AudioError, match="USB headset: it stopped after"):
        loudspeaker.play(tone(5, 48000), 48000)
    world.stalled = False
    loudspeaker.close()


# the microphone


def test_blocks_without_gaps_at_sixteen_kilohertz(world: World) -> None:
    heard = tone(1.0, 48000)
    with Microphone() as open_microphone:
        stream = world.streams[0]
        assert isinstance(stream, InputStream)
        for at in range(0, 48000, 768):
            stream.bring(heard[at : at + 768])
        blocks = open_microphone.blocks()
        got = [next(blocks) for _ in range(29)]
        assert open_microphone.overruns == 0
    assert {block.shape for block in got} == {(BLOCK,)}
    assert {block.dtype for block in got} == {np.dtype(np.float32)}
    whole = np.concatenate(got)[1000:-1000]
    phase = np.unwrap(np.angle(np.fft.ifft(np.fft.fft(whole) * (np.fft.fftfreq(len(whole)) > 0))))[500:-500]
    assert np.diff(phase).mean() * RATE / (2 * np.pi) == pytest.approx(440, rel=1e-3)
    assert np.abs(np.diff(phase) - np.diff(phase).mean()).max() < 0.02  # a gap would be a jump


def test_a_device_that_runs_at_sixteen_kilohertz_is_not_resampled(world: World) -> None:
    world.rates = {RATE}
    heard = tone(0.1, RATE)
    with Microphone() as open_microphone:
        world.streams[0].bring(heard)  # type: ignore[attr-defined]  # it is an input stream
        assert np.array_equal(next(open_microphone.blocks()), heard[:BLOCK])


def test_a_device_with_only_stereo(world: World) -> None:
    world.channels = {2}
    with Microphone():
        assert world.streams[-1].settings["channels"] == 2


def test_lost_sound_is_counted(world: World) -> None:
    with Microphone() as open_microphone:
        stream: Any = world.streams[0]
        stream.bring(tone(0.016, 48000), overflow=True)
        assert open_microphone.overruns == 1
        for _ in range(700):
            stream.bring(tone(0.016, 48000))
        assert open_microphone.overruns == 1 + 701 - 625


def test_closing_ends_the_blocks(world: World) -> None:
    open_microphone = Microphone()
    world.streams[0].bring(tone(0.1, 48000))  # type: ignore[attr-defined]  # it is an input stream
    blocks = open_microphone.blocks()
    next(blocks)
    open_microphone.close()
    open_microphone.close()
    assert len(list(blocks)) <= 3


@pytest.mark.parametrize("way", ["ends", "stalls"])
def test_a_microphone_that_vanishes_is_an_error(way: str, world: World) -> None:
    with Microphone() as open_microphone:
        if way == "ends":
            world.streams[0].end()
        with pytest.raises(AudioError, match="USB headset: it gives no more sound"):
            next(open_microphone.blocks())


# what is not there


def test_no_device_at_all(world: World) -> None:
    world.devices = []
    with pytest.raises(AudioError, match=r"no microphone is there.*--typed"):
        Microphone()
    with pytest.raises(AudioError, match="no loudspeaker is there"):
        Player().play(tone(0.1, 48000), 48000)


def test_an_unknown_device_is_told_which_there_are(world: World) -> None:
    with pytest.raises(AudioError, match=r"fits 'Bord'.*USB headset; Board"):
        Player("Bord").play(tone(0.1, 48000), 48000)
    with pytest.raises(AudioError, match=r"fits 'Board'.*USB headset"):
        Microphone("Board")


def test_a_device_that_refuses(world: World) -> None:
    world.channels = set()
    for opening in (Microphone, lambda: Player().play(tone(0.1, 48000), 48000)):
        with pytest.raises(AudioError, match=r"cannot be opened.*Close other programs"):
            opening()


def test_no_portaudio(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, *rest)

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(AudioError, match="sudo apt install libportaudio2"):
        Microphone()
