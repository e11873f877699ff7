"""Devices pulled and back: the live world on the processes that have the microphone and the loudspeaker.

Wiring: the processes find a stand-in in place of the module sounddevice (`edge/sound/stand_in`), which has one
headset while a file exists. `end_to_end/test_real_sound.py` does the same on a real sound server.
"""

from __future__ import annotations

import threading
from contextlib import closing
from pathlib import Path

import pytest
from app.room import Room, eventually
from edge.sound.test_detached import headset, nothing_left  # noqa: F401  # fixtures

from assistant.app import device_threads
from assistant.edge.sound import detached
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
from assistant.session import facts as f


@pytest.mark.timeout(300)
@pytest.mark.parametrize("way", ["gone", "stuck"])
@pytest.mark.parametrize("times", [3, pytest.param(50, marks=pytest.mark.long)])
def test_a_headset_pulled_and_back(
    headset: Path,  # noqa: F811
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    way: str,
    times: int,
) -> None:
    """Microphone and loudspeaker vanish together, and the loudspeaker is found gone by the next word."""
    monkeypatch.setattr(device_threads, "RETRY_SECONDS", 0.05)
    before = threading.active_count()
    with DetachedMicrophone("headset") as microphone, closing(DetachedPlayer("headset")) as player:
        room = Room(tmp_path, microphone=microphone, player=player)
        room.begin()
        room.go_on()
        room.world.threads.hear(microphone)
        for time in range(1, times + 1):
            if way == "gone":
                headset.unlink()
            else:
                headset.write_text("stuck")
                monkeypatch.setattr(detached, "OPEN_SECONDS", 1.0)

            def both(note: str, time: int = time) -> bool:
                notes = room.watcher.notes
                return all(
                    sum(one.startswith(f"the {device} {note}") for one in notes) == time
                    for device in ("microphone", "loudspeaker")
                )

            room.go_on(lambda: both("is gone"))
            monkeypatch.setattr(detached, "OPEN_SECONDS", 20.0)
            headset.write_text("")
            room.go_on(lambda: both("is back"))
            room.go_on()
            assert len(room.facts(f.DeviceLost)) == 2 * time
        mark = room.world.inbox.dropped
        eventually(lambda: not room.world.inbox.empty)  # and it hears
        assert room.world.inbox.dropped == mark
        room.world.threads.end()
    eventually(lambda: threading.active_count() <= before + 1)
