"""The guide's tables are those of the code."""

from tests.guide import GUIDE, exchange, floor, layers, written


def test_generated_parts_are_up_to_date() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    assert written(text) == text, "run python -m tests.guide --write"


def test_every_part_of_a_table_is_shown() -> None:
    assert "asking --> confirming: reading heard, set complete" in exchange()
    assert "speaking --> hushed: utterance heard, line typed, enter pressed, button down" in floor()
    assert "| `session` |" in layers()


def test_a_changed_table_is_noticed() -> None:
    text = GUIDE.read_text(encoding="utf-8")
    assert written(text.replace("stateDiagram-v2", "stateDiagram")) == text
