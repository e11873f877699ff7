"""The talk button: a push button on a pin, a key of the kernel's, or one that a test presses.

Knows when it goes down and when it goes up. Refuses to know what that means: the world that watches does.
"""

from __future__ import annotations

import contextlib
import os
import select
import threading
import warnings
from collections.abc import Callable
from typing import Any, Protocol

from assistant.errors import EngineBayError

BOUNCE_SECONDS = 0.02  # a contact that opens for less is still closed
INSTALL = "Install it with `pip install 'engine-bay-assistant[board]'`, or leave --button out and use Enter"

Action = Callable[[], None]
Loss = Callable[[str], None]


def _nobody(detail: str) -> None:
    """Who watches does not ask whether the button is lost."""


class TalkButton(Protocol):
    """A talk button. The actions come from a thread of the panel's, each press before its release."""

    def watch(self, pressed: Action, released: Action, lost: Loss = _nobody) -> None:
        """Tells of every press and release from now on, and when the button is lost, with what the system said.

        Errors: EngineBayError when the button is not there.
        """
        ...

    def close(self) -> None:
        """Gives the button back; nothing is told any more. Closing twice is closing once."""
        ...


class HandButton:
    """A button for tests that is pressed by calling `press` and `release`; a second press without a release is none."""

    def __init__(self) -> None:
        self._actions: tuple[Action, Action] | None = None
        self._down = False

    def watch(self, pressed: Action, released: Action, lost: Loss = _nobody) -> None:
        """As the port says. It is never lost."""
        self._actions = pressed, released

    def press(self) -> None:
        """It goes down."""
        if not self._down:
            self._down = True
            if self._actions is not None:
                self._actions[0]()

    def release(self) -> None:
        """It goes up."""
        if self._down:
            self._down = False
            if self._actions is not None:
                self._actions[1]()

    def close(self) -> None:
        """As the port says."""
        self._actions = None


class PinButton:
    """A push button between a pin of the board and ground. pin: as gpiozero names it, such as `17` or `BOARD11`."""

    def __init__(self, pin: str) -> None:
        """Errors: EngineBayError without gpiozero, without pins, or when the pin is no pin or taken."""
        place = f"--button pin:{pin}"
        try:
            import gpiozero
        except ImportError:
            raise EngineBayError(place, "the package gpiozero is not installed", INSTALL) from None
        try:
            with warnings.catch_warnings():  # of each way to the pins that it tries in vain
                warnings.simplefilter("ignore")
                self._button: Any = gpiozero.Button(int(pin) if pin.isdecimal() else pin, bounce_time=None)
        except (gpiozero.GPIOZeroError, OSError, RuntimeError, ValueError) as error:
            cause = f"the button cannot be used ({str(error).strip()})"
            raise EngineBayError(place, cause, "Name a free pin of this board, or leave --button out") from None

    def watch(self, pressed: Action, released: Action, lost: Loss = _nobody) -> None:
        """As the port says. A pin is never lost."""
        steady = _Steady(pressed, released)
        self._button.when_pressed = lambda: steady.changed(True)
        self._button.when_released = lambda: steady.changed(False)
        self._steady = steady

    def close(self) -> None:
        """As the port says."""
        self._button.close()
        if hasattr(self, "_steady"):
            self._steady.close()


class KeyButton:
    """A key that the kernel reports: a pedal, a button on a cable. wanted: `part of the device's name/KEY_NAME`."""

    def __init__(self, wanted: str) -> None:
        """Errors: EngineBayError without evdev, when no device fits that may be read, or it has no such key."""
        place = f"--button key:{wanted}"
        try:
            import evdev
        except ImportError:
            raise EngineBayError(place, "the package evdev is not installed", INSTALL) from None
        name, _, key = wanted.rpartition("/")
        self._code = evdev.ecodes.ecodes.get(key)
        if not name or self._code is None:
            raise EngineBayError(place, "a device and a key are needed", "Write it as --button 'key:pedal/KEY_F13'")
        self._device: Any = None
        there = []
        for path in evdev.list_devices():
            with contextlib.suppress(OSError):
                device = evdev.InputDevice(path)
                there.append(device.name)
                keys = device.capabilities().get(evdev.ecodes.EV_KEY, [])
                if self._device is None and name.lower() in device.name.lower() and self._code in keys:
                    self._device = device
                else:
                    device.close()
        if self._device is None:
            has = f"Choose one of: {'; '.join(there)}" if there else "Join the group `input` to read such devices"
            raise EngineBayError(place, f"no device fits {name!r} and has {key}", f"{has}, or leave --button out")
        self._wake, self._woken = os.pipe()
        self._thread: threading.Thread | None = None

    def watch(self, pressed: Action, released: Action, lost: Loss = _nobody) -> None:
        """As the port says. A device that is pulled tells of a release if its key was down, and that it is lost."""
        self._thread = threading.Thread(target=self._read, args=(pressed, released, lost), daemon=True)
        self._thread.start()

    def _read(self, pressed: Action, released: Action, lost: Loss) -> None:
        down = False
        try:
            while self._wake not in select.select([self._device.fd, self._wake], [], [])[0]:
                for event in self._device.read():
                    if event.code == self._code and event.value in (0, 1) and bool(event.value) is not down:
                        down = bool(event.value)
                        (pressed if down else released)()
        except Exception as error:  # it was pulled, or its driver failed
            if down:
                released()
            lost(getattr(error, "strerror", None) or str(error))

    def close(self) -> None:
        """As the port says."""
        if self._device is None:
            return
        os.write(self._woken, b"x")
        if self._thread is not None:
            self._thread.join(5)
        self._device.close()
        self._device = None
        os.close(self._wake)
        os.close(self._woken)


class _Steady:
    """Tells of a press at once, and of a release only when the contact stayed open: a bouncing contact is one press."""

    def __init__(self, pressed: Action, released: Action) -> None:
        self._pressed, self._released = pressed, released
        self._lock = threading.Lock()
        self._down = False
        self._opening: threading.Timer | None = None

    def changed(self, closed: bool) -> None:
        """The contact closed or opened."""
        with self._lock:
            if self._opening is not None:
                self._opening.cancel()
                self._opening = None
            if closed and not self._down:
                self._down = True
                self._pressed()
            elif not closed and self._down:
                self._opening = threading.Timer(BOUNCE_SECONDS, self._open)
                self._opening.daemon = True
                self._opening.start()

    def _open(self) -> None:
        with self._lock:
            if threading.current_thread() is self._opening:  # it did not close again meanwhile
                self._opening, self._down = None, False
                self._released()

    def close(self) -> None:
        """Nothing is told any more."""
        with self._lock:
            if self._opening is not None:
                self._opening.cancel()
                self._opening = None


def open_talk_button(named: str) -> PinButton | KeyButton:
    """The button that is meant. named: `pin:17` or `key:pedal/KEY_F13`. Errors: EngineBayError."""
    kind, _, which = named.partition(":")
    if kind == "pin" and which:
        return PinButton(which)
    if kind == "key" and which:
        return KeyButton(which)
    raise EngineBayError(f"--button {named}", "it names no button", "Write pin:17, or key:pedal/KEY_F13")
