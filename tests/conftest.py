"""What every test has: the switch `--long`."""

from __future__ import annotations

import pytest

pytest.register_assert_rewrite("tests.dialogues.playing", "app.breaks", "app.room")  # they assert for several tests


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="run also the tests that take minutes")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if config.getoption("--long"):
        return
    left_out = [item for item in items if item.get_closest_marker("long")]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if not item.get_closest_marker("long")]
