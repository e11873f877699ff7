"""Procedure and equipment files: YAML text to checked data, with the line of everything that is wrong.

Text in, data out; files are the edge's business. Scalars stay text until their field says what they are, so `no`
is a word and `7.50` keeps its resolution. `{group.name}` stands for a value of the equipment's `data`.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar, get_args

from assistant.errors import ProcedureError, QuantityError
from assistant.procedure.checks import Path, problems
from assistant.procedure.equipment import SECTIONS, Equipment, Header, Procedure, Section
from assistant.procedure.steps import IDENTIFIER, KINDS, WORDS, Part, Step

Data = str | list["Data"] | dict[str, "Data"] | None
_Part = TypeVar("_Part", bound=Part)
_REFERENCE = re.compile(r"\{([^{}]*)\}")
_PLAIN = {  # what pydantic found -> cause and remedy in a trainer's words
    "string_type": ("it is empty, or no text", "Write a text; one with a colon or a brace goes in quotes"),
    "string_too_short": ("it is empty", "Write a text"),
    "tuple_type": ("it must be a list", 'Write it in brackets, such as ["Hot oil burns."]'),
    "dict_type": ("it must be written as `key: value` lines", "Look at the indent"),
    "model_type": ("it must be written as `key: value` lines", "Look at the indent"),
    "too_short": ("it has too few entries", "Give two or more"),
    "bool_parsing": ("it is neither yes nor no", "Write yes or no"),
}
_PLAIN_PATTERNS = {
    IDENTIFIER: ("it is no identifier", "Write small letters, digits and hyphens, such as `oil-out`"),
    WORDS: ("it is not written as it is said", "Write small letters without stops, such as `seal is off`"),
}


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
            "Look at the indent and the colons of this line and the one before; a text with a colon goes in quotes",
        ) from None
    except yaml.YAMLError as error:
        raise ProcedureError(name, f"this is no YAML text: {error}", "Save the file as UTF-8 text") from None
    places: dict[Path, tuple[int, int]] = {}
    around: list[yaml.Node] = []

    def build(node: yaml.Node, path: Path) -> Data:
        here = (node.start_mark.line + 1, node.start_mark.column + 1)
        places.setdefault(path, here)
        if any(node is outer for outer in around):
            raise ProcedureError(
                f"{name}, line {here[0]}, column {here[1]}",
                "what begins here contains itself",
                "Write it out instead of using `*`",
            )
        around.append(node)
        try:
            return content(node, path)
        finally:
            around.pop()

    def content(node: yaml.Node, path: Path) -> Data:
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
    header = _validated(tree, (), Header, data, also_known=SECTIONS)
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
        group, separator, name = match[1].partition(".")
        if not separator:
            raise ProcedureError(
                tree.place(path), f"{match[0]} is no reference", "Write it as {group.name}, such as {oil.grade}"
            )
        try:
            return equipment.data[group][name]
        except KeyError:
            raise ProcedureError(
                tree.place(path),
                f"{match[0]} refers to nothing in the equipment's data",
                f"Add {name!r} under {group!r} in equipment.yaml, or correct the name",
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
    if "id" in data:
        raise ProcedureError(
            tree.place((*path, "id")), "the key 'id' is not known here", f"The identifier stands after `{kinds[0]}:`"
        )
    data["id"] = data.pop(kinds[0])
    return _validated(tree, path, KINDS[kinds[0]], data, kinds[0])


def _validated(
    tree: Tree,
    path: Path,
    model: type[_Part],
    data: dict[str, Data],
    kind: str = "",
    also_known: tuple[str, ...] = (),
) -> _Part:
    """The data as a part. kind: the key of a step's identifier; also_known: keys that were taken out before."""
    from pydantic import ValidationError

    try:
        return model.model_validate(data)
    except ValidationError as error:
        # a key that is not known is often why another one is missing: it is named first
        first = min(error.errors(), key=lambda one: one["type"] != "extra_forbidden")
        at: Path = tuple(kind if kind and key == "id" else key for key in first["loc"])
        key = str(at[-1]) if at else kind or "the file"
        place = tree.place((*path, *at))
        if first["type"] == "extra_forbidden":
            known = sorted({*_fields(model, at[:-1]), *also_known} - {"id"})
            near = difflib.get_close_matches(key, known, n=1)
            remedy = f"Did you mean {near[0]!r}" if near else f"Known here: {', '.join(known)}"
            raise ProcedureError(place, f"the key {key!r} is not known here", remedy) from None
        if first["type"] == "missing":
            raise ProcedureError(tree.place((*path, *at[:-1])), f"the key {key!r} is missing", "Add it") from None
        context = first.get("ctx", {})
        cause = context.get("error")
        if isinstance(cause, QuantityError):
            raise ProcedureError(place, f"{key!r}: {cause.cause}", cause.remedy) from None
        plain = _PLAIN.get(first["type"]) or _PLAIN_PATTERNS.get(str(context.get("pattern")))
        if plain is not None:
            raise ProcedureError(place, f"{key!r} is not right: {plain[0]}", plain[1]) from None
        message = str(first["msg"]).removeprefix("Value error, ")
        named = re.match(r'"(\w+)" ', message)
        if named:  # a check of several keys says first which one to look at
            place = tree.place((*path, *at, named[1]))
        raise ProcedureError(place, f"{key!r} is not right: {message}", "Correct this line") from None


def _fields(model: type[Part], at: Path) -> Iterable[str]:
    """The keys that are known in the part at the end of the path."""
    for key in at:
        field = model.model_fields.get(str(key))
        inner = None if field is None else next(_parts(field.annotation), None)
        model = inner or model
    return model.model_fields


def _parts(annotation: object) -> Iterator[type[Part]]:
    """Every part that an annotation mentions."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        yield annotation
    for inner in get_args(annotation):
        yield from _parts(inner)
