"""The contract of talk buttons, held by the one for tests and by gpiozero's on pins that are not there; and errors."""

from __future__ import annotations

import builtins
import os
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from assistant.edge.talk_button import HandButton, KeyButton, PinButton, TalkButton, open_talk_button
from assistant.errors import EngineBayError


class Told:
    """What a panel told, in order; it may come from another thread."""

    def __init__(self) -> None:
        self.events: list[str] = []
        self._changed = threading.Condition()

    def watch(self, panel: TalkButton) -> None:
        panel.watch(lambda: self._came("pressed"), lambda: self._came("released"))

    def _came(self, event: str) -> None:
        with self._changed:
            self.events.append(event)
            self._changed.notify_all()

    def are(self, *events: str) -> bool:
        """Whether these come, and within a moment no other."""
        with self._changed:
            self._changed.wait_for(lambda: len(self.events) >= len(events), 5)
            self._changed.wait_for(lambda: len(self.events) > len(events), 0.1)
            return self.events == list(events)


class PanelContract:
    """What every talk button does. `panel`, `down` and `up` are the ways to press it."""

    panel: TalkButton
    down: Callable[[], Any]
    up: Callable[[], Any]

    def test_a_press_and_a_release_are_told_in_order(self) -> None:
        told = Told()
        told.watch(self.panel)
        self.down()
        assert told.are("pressed")
        self.up()
        assert told.are("pressed", "released")
        self.down()
        assert told.are("pressed", "released", "pressed")

    def test_a_press_without_a_release_is_told_once(self) -> None:
        told = Told()
        told.watch(self.panel)
        self.down()
        self.down()
        assert told.are("pressed")

    def test_nothing_is_told_after_closing(self) -> None:
        told = Told()
        told.watch(self.panel)
        self.panel.close()
        self.panel.close()
        self.down()
        self.up()
        assert told.are()


class TestHandButton(PanelContract):
    """The one for tests."""

    @pytest.fixture(autouse=True)
    def made(self) -> Iterator[None]:
        self.panel = panel = HandButton()
        self.down, self.up = panel.press, panel.release
        yield
        panel.close()


class TestPinButton(PanelContract):
    """gpiozero, on its mock pins."""

    @pytest.fixture(autouse=True)
    def made(self) -> Iterator[None]:
        gpiozero = pytest.importorskip("gpiozero", reason="the extra `board` is not installed")
        from gpiozero.pins.mock import MockFactory

        before, gpiozero.Device.pin_factory = gpiozero.Device.pin_factory, MockFactory()
        self.panel = open_talk_button("pin:17")
        pin = gpiozero.Device.pin_factory.pin(17)
        self.down, self.up = pin.drive_low, pin.drive_high
        yield
        self.panel.close()
        gpiozero.Device.pin_factory.reset()
        gpiozero.Device.pin_factory = before

    def test_a_contact_that_bounces_is_one_press(self) -> None:
        told = Told()
        told.watch(self.panel)
        for _ in range(5):
            self.down()
            self.up()
        self.down()
        assert told.are("pressed")
        for _ in range(5):
            self.up()
            self.down()
        self.up()
        time.sleep(0.05)
        assert told.are("pressed", "released")

    def test_a_pin_that_is_taken_is_told(self) -> None:
        with pytest.raises(EngineBayError, match=r"pin:17.*cannot be used.*leave --button out"):
            PinButton("17")

    def test_a_pin_that_is_none_is_told(self) -> None:
        with pytest.raises(EngineBayError, match=r"pin:GPIO99.*cannot be used"):
            PinButton("GPIO99")


@pytest.mark.parametrize(("package", "named"), [("gpiozero", "pin:17"), ("evdev", "key:pedal/KEY_F13")])
def test_a_missing_package_is_told_with_its_remedy(package: str, named: str, monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def without(name: str, *rest: Any) -> Any:
        if name == package:
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", without)
    with pytest.raises(EngineBayError, match=rf"{package} is not installed.*\[board\].*Enter"):
        open_talk_button(named)


@pytest.mark.parametrize("named", ["", "pin", "pin:", "wheel:1", "key:"])
def test_a_button_that_is_none_is_told(named: str) -> None:
    with pytest.raises(EngineBayError, match="Write pin:17"):
        open_talk_button(named)


class PipeDevice:
    """An input device of the kernel's whose events come through a pipe."""

    name = "Foot pedal"

    def __init__(self, path: str) -> None:
        self.fd, self._end = os.pipe()
        self.coming: list[list[Any]] = []
        self.closed = False

    def capabilities(self) -> dict[int, list[int]]:
        from evdev import ecodes

        return {ecodes.EV_KEY: [ecodes.KEY_F13]}

    def bring(self, value: int) -> None:
        if self.closed:
            return
        from evdev import InputEvent, ecodes

        self.coming.append([InputEvent(0, 0, ecodes.EV_KEY, ecodes.KEY_F13, value)])
        os.write(self._end, b"x")

    def read(self) -> list[Any]:
        os.read(self.fd, 1)
        return self.coming.pop(0)

    def close(self) -> None:
        if not self.closed:
            os.close(self.fd)
        self.closed = True


class TestKeyButton(PanelContract):
    """A key of the kernel's, on a device of which only the pipe is real."""

    @pytest.fixture(autouse=True)
    def made(self, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
        evdev = pytest.importorskip("evdev", reason="the extra `board` is not installed")
        monkeypatch.setattr(evdev, "list_devices", lambda: ["one"])
        opened: list[PipeDevice] = []

        def open_device(path: str) -> PipeDevice:
            opened.append(PipeDevice(path))
            return opened[-1]

        monkeypatch.setattr(evdev, "InputDevice", open_device)
        self.panel = panel = open_talk_button("key:pedal/KEY_F13")
        assert isinstance(panel, KeyButton)
        self.device = opened[0]
        self.down, self.up = lambda: self.device.bring(1), lambda: self.device.bring(0)
        yield
        panel.close()
        assert all(device.closed for device in opened)

    def test_a_key_that_repeats_is_one_press(self) -> None:
        told = Told()
        told.watch(self.panel)
        self.down()
        for _ in range(3):
            self.device.bring(2)
        self.up()
        assert told.are("pressed", "released")

    def test_a_device_without_that_key_is_told(self) -> None:
        with pytest.raises(EngineBayError, match=r"no device fits 'pedal' and has KEY_A.*Foot pedal"):
            open_talk_button("key:pedal/KEY_A")

    def test_a_key_that_is_none_is_told(self) -> None:
        with pytest.raises(EngineBayError, match=r"key:pedal/KEY_F13"):
            open_talk_button("key:pedal/KEY_NOTHING")
