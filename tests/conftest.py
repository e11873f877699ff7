"""What every test has: the switch `--long`, and a place when the suite runs on several cores."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run also the tests that take minutes")


ONE_AFTER_ANOTHER = {"test_real_sound.py", "test_sound_devices.py", "test_hot_plug.py"}
"""Files whose tests wait for a sound server in real time."""


@pytest.hookimpl(tryfirst=True)  # before the groups are read
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    for item in items:  # a file stays together, for what its tests share
        name = "sound" if item.path.name in ONE_AFTER_ANOTHER else str(item.path)
        item.add_marker(pytest.mark.xdist_group(name))
    if config.getoption("--long"):
        return
    left_out = [item for item in items if item.get_closest_marker("long")]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("long")]
