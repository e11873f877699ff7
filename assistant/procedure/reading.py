"""Procedure and equipment files: YAML text to checked data, with the line of everything that is wrong.

Text in, data out; files are the edge's business. Scalars stay text until their field says what they are, so `no`
is a word and `7.50` keeps its resolution. `{group.name}` stands for a value of the equipment's `data`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

from assistant.errors import ProcedureError, QuantityError
from assistant.procedure.checks import Path, problems
from assistant.procedure.equipment import SECTIONS, Equipment, Header, Procedure, Section
from assistant.procedure.steps import KINDS, Part, Step

Data = str | list["Data"] | dict[str, "Data"] | None
_Part = TypeVar("_Part", bound=Part)
_REFERENCE = re.compile(r"\{([a-z_]+)\.([a-z_]+)\}")


@dataclass(frozen=True, slots=True)
class Tree:
    """A YAML file as plain data. places: line and column, from 1, of the value (and key) at each path."""

    name: str
    data: Data
    places: Mapping[Path, tuple[int, int]]

    def place(self, path: Path) -> str:
        """`file, line 3, column 5` of the path or of the nearest thing around it."""
        while path and path not in self.places:
            path = path[:-1]
        line, column = self.places.get(path, (1, 1))
        return f"{self.name}, line {line}, column {column}"


def read_tree(text: str, name: str) -> Tree:
    """YAML text as a tree. Errors: ProcedureError for wrong layout and for a key that stands twice."""
    import yaml

    try:
        root = yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = f"{name}, line {mark.line + 1}, column {mark.column + 1}" if mark else name
        raise ProcedureError(
            place,
            f"the layout is wrong here: {error.problem}",
            "Look at the indent and the colons of this line and the one before",
        ) from None
    except yaml.YAMLError as error:
        raise ProcedureError(name, f"this is no YAML text: {error}", "Save the file as UTF-8 text") from None
    places: dict[Path, tuple[int, int]] = {}

    def build(node: yaml.Node, path: Path) -> Data:
        places.setdefault(path, (node.start_mark.line + 1, node.start_mark.column + 1))
        if isinstance(node, yaml.MappingNode):
            result: dict[str, Data] = {}
            for key_node, value_node in node.value:
                key = str(key_node.value)
                where = (key_node.start_mark.line + 1, key_node.start_mark.column + 1)
                if key in result:
                    raise ProcedureError(
                        f"{name}, line {where[0]}, column {where[1]}",
                        f"the key {key!r} stands here a second time",
                        "Remove one",
                    )
                places[(*path, key)] = where
                result[key] = build(value_node, (*path, key))
            return result
        if isinstance(node, yaml.SequenceNode):
            return [build(item, (*path, index)) for index, item in enumerate(node.value)]
        return None if node.tag == "tag:yaml.org,2002:null" else str(node.value)

    return Tree(name, None if root is None else build(root, ()), places)


def read_equipment(text: str, name: str = "equipment.yaml") -> Equipment:
    """An equipment file. Errors: ProcedureError with file, line, column, cause and remedy."""
    tree = read_tree(text, name)
    return _validated(tree, (), Equipment, _mapping(tree, tree.data, (), "an equipment file"))


def read_procedure(text: str, equipment: Equipment, name: str) -> Procedure:
    """A procedure file, its references to the equipment's data filled in, structure and safety checked.

    Errors: ProcedureError with file, line, column, cause and remedy.
    """
    tree = read_tree(text, name)
    data = dict(_mapping(tree, _filled(tree, tree.data, (), equipment), (), "a procedure file"))
    sections: list[Section] = []
    for section in SECTIONS:
        steps = data.pop(section, [])
        if not isinstance(steps, list):
            raise ProcedureError(
                tree.place((section,)), f"{section!r} must be a list of steps", 'Begin each step with "- "'
            )
        read = tuple(_step(tree, (section, index), item) for index, item in enumerate(steps))
        sections.append(Section(name=section, steps=read))
    header = _validated(tree, (), Header, data)
    procedure = Procedure(
        format=header.format, procedure=header.procedure, title=header.title, sections=tuple(sections)
    )
    for problem in problems(procedure, equipment):
        raise ProcedureError(tree.place(problem.path), problem.cause, problem.remedy)
    return procedure


def _mapping(tree: Tree, data: Data, path: Path, what: str) -> dict[str, Data]:
    if not isinstance(data, dict):
        raise ProcedureError(tree.place(path), f"{what} must be written as `key: value` lines", "Look at the indent")
    return data


def _filled(tree: Tree, data: Data, path: Path, equipment: Equipment) -> Data:
    """The data with every `{group.name}` replaced by the equipment's value."""
    if isinstance(data, dict):
        return {key: _filled(tree, value, (*path, key), equipment) for key, value in data.items()}
    if isinstance(data, list):
        return [_filled(tree, value, (*path, index), equipment) for index, value in enumerate(data)]
    if data is None:
        return None

    def value(match: re.Match[str]) -> str:
        try:
            return equipment.data[match[1]][match[2]]
        except KeyError:
            raise ProcedureError(
                tree.place(path),
                f"{match[0]} refers to nothing in the equipment's data",
                f"Add {match[2]!r} under {match[1]!r} in equipment.yaml, or correct the name",
            ) from None

    return _REFERENCE.sub(value, data)


def _step(tree: Tree, path: Path, item: Data) -> Step:
    data = dict(_mapping(tree, item, path, "a step"))
    kinds = [key for key in data if key in KINDS]
    if len(kinds) != 1:
        raise ProcedureError(
            tree.place(path),
            "a step has exactly one kind"
            + (f", this one has {' and '.join(kinds)}" if kinds else ", this one has none"),
            f"Begin it with one of {', '.join(KINDS)} and its identifier, such as `instruction: drain`",
        )
    data["id"] = data.pop(kinds[0])
    return _validated(tree, path, KINDS[kinds[0]], data, {"id": kinds[0]})


def _validated(
    tree: Tree,
    path: Path,
    model: type[_Part],
    data: dict[str, Data],
    renamed: Mapping[str, str] | None = None,
) -> _Part:
    from pydantic import ValidationError

    try:
        return model.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        at = tuple(renamed.get(str(key), key) if renamed else key for key in first["loc"])
        key = str(at[-1]) if at else model.__name__.lower()
        place = tree.place((*path, *at))
        if first["type"] == "extra_forbidden":
            near = difflib.get_close_matches(key, model.model_fields, n=1)
            remedy = f"Did you mean {near[0]!r}" if near else f"Known here: {', '.join(sorted(model.model_fields))}"
            raise ProcedureError(place, f"the key {key!r} is not known here", remedy) from None
        if first["type"] == "missing":
            raise ProcedureError(tree.place(path), f"the key {key!r} is missing", "Add it") from None
        cause = first.get("ctx", {}).get("error")
        if isinstance(cause, QuantityError):
            raise ProcedureError(place, f"{key!r}: {cause.cause}", cause.remedy) from None
        message = str(first["msg"]).removeprefix("Value error, ")
        raise ProcedureError(place, f"{key!r} is not right: {message}", "Correct this line") from None
