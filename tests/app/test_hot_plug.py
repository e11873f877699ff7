"""Devices pulled and back, fifty times: the world of the assistant on the real microphone and loudspeaker classes.

Wiring: a stand-in takes the place of the module sounddevice (`edge/test_sound.py`); pulling takes the devices out of
its list and ends their streams, as PortAudio does.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from app.room import Room, eventually
from edge.test_sound import InputStream, World, tone

from assistant.app import live
from assistant.edge import sound
from assistant.edge.microphone import Microphone
from assistant.edge.player import Player
from assistant.session import facts as f

TIMES = 50
BACK = "the microphone is back."


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> Iterator[World]:
    world = World()
    monkeypatch.setitem(sys.modules, "sounddevice", world.module())
    monkeypatch.setattr(live, "LOOK_AGAIN", 0.002)
    yield world
    for stream in world.streams:
        stream.end()
    assert not sound._open, "every test closes what it opened"


def running(world: World, kind: type[Any]) -> list[Any]:
    return [stream for stream in world.streams if stream.running and isinstance(stream, kind)]


@pytest.mark.timeout(120)
def test_the_microphone_pulled_and_back_fifty_times(world: World, tmp_path: Path) -> None:
    before = threading.active_count()
    with Microphone("headset") as microphone, closing(Player("Board")) as player:
        room = Room(tmp_path, microphone=microphone, player=player)
        room.begin()
        room.go_on()
        listening = threading.Thread(target=room.world._listen_to_microphone, daemon=True)
        listening.start()
        devices = list(world.devices)
        steady = 0
        for time in range(TIMES):
            world.devices = world.listed = devices[1:]  # what is listed but gone cannot be opened either
            running(world, InputStream)[0].end()
            room.go_on(lambda time=time: len(room.facts(f.DeviceLost)) == time + 1)  # type: ignore[misc]
            assert running(world, InputStream) == []
            world.devices = devices
            room.go_on(lambda time=time: room.watcher.notes.count(BACK) == time + 1)  # type: ignore[misc]
            room.go_on()
            assert len(running(world, InputStream)) == 1
            assert len(sound._open) <= 2
            steady = steady or threading.active_count()
            assert threading.active_count() <= steady + 1  # the last prompt's thread may be about to end
        running(world, InputStream)[0].bring(tone(0.1, 48000))
        eventually(lambda: not room.world.inbox.empty)  # and it hears
        room.world._over.set()
    listening.join(5)
    assert not listening.is_alive()
    eventually(lambda: threading.active_count() <= before)
    assert not any(stream.running for stream in world.streams)


@pytest.mark.timeout(120)
def test_a_headset_of_both_pulled_and_back_fifty_times(world: World, tmp_path: Path) -> None:
    """Microphone and loudspeaker vanish together, and the loudspeaker is found gone by the next word."""
    before = threading.active_count()
    with Microphone("headset") as microphone, closing(Player("headset")) as player:
        room = Room(tmp_path, microphone=microphone, player=player)
        room.begin()
        room.go_on()
        listening = threading.Thread(target=room.world._listen_to_microphone, daemon=True)
        listening.start()
        devices = list(world.devices)
        for time in range(TIMES):
            world.devices = world.listed = devices[1:]
            for stream in list(world.streams):
                stream.end()

            def lost(time: int = time) -> bool:
                gone = [fact.device for fact in room.facts(f.DeviceLost)]
                return gone.count("microphone") == gone.count("loudspeaker") == time + 1

            room.go_on(lost)
            world.devices = devices

            def back(time: int = time) -> bool:
                notes = room.watcher.notes
                both = (BACK, "the loudspeaker is back.")
                return all(notes.count(one) == time + 1 for one in both)

            room.go_on(back)
            room.go_on()
            assert len([stream for stream in world.streams if stream.running]) <= 2
            assert room.watcher.spoken[-1][1]
        room.world._over.set()
    listening.join(5)
    assert not listening.is_alive()
    eventually(lambda: threading.active_count() <= before)
    assert not any(stream.running for stream in world.streams)
