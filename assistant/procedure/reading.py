"""Procedure and equipment files: YAML text to checked data, with the line of everything that is wrong.

Text in, data out; files are the edge's business. Scalars stay text until their field says what they are, so `no`
is a word and `7.50` keeps its resolution. `{group.name}` stands for a value of the equipment's `data`.

`read_equipment` and `read_procedure` refuse a file at the first thing that is wrong in it, and know only what a session
may be taken up again with. `examine_equipment` and `examine_procedure` go on and gather everything; before new work
they have the last word.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar, get_args

from assistant.errors import ProcedureError, QuantityError
from assistant.procedure.checks import more_problems, problems, step_by_step
from assistant.procedure.checks.equipment import equipment_problems
from assistant.procedure.checks.sound import Pronounce
from assistant.procedure.equipment import SECTIONS, Equipment, Procedure, ProcedureHeader, Section
from assistant.procedure.fields import IDENTIFIER, WORDS, FileModel
from assistant.procedure.kinds import KINDS
from assistant.procedure.problem import Path, Problem, Severity
from assistant.procedure.step import Step
from assistant.yaml_text import MAX_CHARACTERS, MAX_DEPTH, YamlFault, compose

if TYPE_CHECKING:
    import yaml

Data = str | list["Data"] | dict[str, "Data"] | None
Values = Mapping[str, Mapping[str, Data]]
"""The equipment's `data`: group -> name -> value."""
_Part = TypeVar("_Part", bound=FileModel)
UNNAMED = "unnamed"
"""What a procedure is called whose header does not read."""
MAX_VALUE = 500
"""Characters of a value that `{group.name}` stands for."""
_NO_TEXT = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff]")
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
class Fault:
    """Something to put right in a file.

    line, column: from 1.
    cause: what is wrong.
    remedy: what would be right.
    """

    file: str
    line: int
    column: int
    severity: Severity
    cause: str
    remedy: str

    def error(self) -> ProcedureError:
        """The fault as an error."""
        return ProcedureError(f"{self.file}, line {self.line}, column {self.column}", self.cause, self.remedy)


@dataclass(slots=True)
class Tree:
    """A YAML file as plain data, and what was found wrong with it so far.

    data: None where it has no layout.
    places: line and column, from 1, of the value (and key) at each path.
    wrong_at: the paths of the faults.
    """

    name: str
    data: Data = None
    places: dict[Path, tuple[int, int]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    wrong_at: set[Path] = field(default_factory=set)

    def place(self, path: Path) -> tuple[int, int]:
        """Line and column of the path or of the nearest thing around it."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places.get(path, (1, 1))

    def add(self, path: Path, cause: str, remedy: str, severity: Severity = Severity.WRONG) -> None:
        """Something is wrong at the path."""
        self.faults.append(Fault(self.name, *self.place(path), severity, cause, remedy))
        self.wrong_at.add(path)

    def is_wrong(self, path: Path) -> bool:
        """Whether a fault is named already at the path or around it."""
        return any(path[:length] in self.wrong_at for length in range(len(path) + 1))

    def add_all(self, found: Iterable[Problem]) -> None:
        """What the checks found."""
        for problem in found:
            self.add(problem.path, problem.cause, problem.remedy, problem.severity)

    def mapping(self, data: Data, path: Path, what: str) -> dict[str, Data] | None:
        """The data as a mapping of its own; None, and a fault, when it is none."""
        if isinstance(data, dict):
            return dict(data)
        self.add(path, f"{what} must be written as `key: value` lines", "Look at the indent")
        return None

    def refuse(self) -> None:
        """Errors: ProcedureError of the first thing that is wrong, when there is one."""
        for fault in self.faults:
            if fault.severity is Severity.WRONG:
                raise fault.error()


@dataclass(frozen=True, slots=True)
class ExaminedEquipment:
    """An equipment file with all that is wrong in it. equipment: None when it does not read."""

    equipment: Equipment | None
    tree: Tree


@dataclass(frozen=True, slots=True)
class ExaminedProcedure:
    """A procedure file with all that is wrong in it.

    procedure: with the steps that read; None when there is no layout.
    references: group and name of the data it uses.
    """

    procedure: Procedure | None
    tree: Tree
    references: frozenset[tuple[str, str]]


def read_equipment(text: str, name: str = "equipment.yaml") -> Equipment:
    """An equipment file. Errors: ProcedureError with file, line, column, cause and remedy."""
    tree = _tree(text, name)
    equipment = _equipment(tree)
    tree.refuse()
    assert equipment is not None
    return equipment


def read_procedure(text: str, equipment: Equipment, name: str) -> Procedure:
    """A procedure file, its references to the equipment's data filled in, structure and safety checked.

    Errors: ProcedureError with file, line, column, cause and remedy.
    """
    tree = _tree(text, name)
    procedure = _procedure(tree, equipment, set())
    tree.refuse()
    assert procedure is not None
    tree.add_all(problems(procedure, equipment))
    tree.refuse()
    return procedure


def examine_equipment(text: str, name: str = "equipment.yaml") -> ExaminedEquipment:
    """An equipment file, and everything that is wrong in it."""
    tree = _tree(text, name)
    _odd_signs(tree, tree.data, ())
    equipment = _equipment(tree)
    if equipment is not None:
        tree.add_all(equipment_problems(equipment))
    return ExaminedEquipment(equipment, tree)


def examine_procedure(
    text: str,
    equipment: Equipment,
    name: str,
    commands: Iterable[str] = (),
    wording: Iterable[str] = (),
    pronounce: Pronounce | None = None,
    while_asking: Iterable[str] = (),
) -> ExaminedProcedure:
    """A procedure file, and everything that is wrong in it.

    commands, wording, pronounce, while_asking: see `checks.more_problems`.

    Where a step does not read, what depends on the order of the steps is not checked, and a note says so.
    """
    tree = _tree(text, name)
    _odd_signs(tree, tree.data, ())
    references: set[tuple[str, str]] = set()
    procedure = _procedure(tree, equipment, references)
    if procedure is not None:
        whole = not tree.faults
        tree.add_all((problems if whole else step_by_step)(procedure, equipment))
        tree.add_all(more_problems(procedure, equipment, whole, commands, wording, pronounce, while_asking))
        if not whole:
            cause = "the way through the steps was not checked, because some of this file does not read"
            tree.add((), cause, "Put the rest right first, and check again", Severity.NOTE)
    return ExaminedProcedure(procedure, tree, frozenset(references))


@dataclass(frozen=True, slots=True)
class Named:
    """What an equipment file is of, as far as it could be read. whole: both were found, or the file has ended."""

    model: str | None
    assets: tuple[str, ...]
    whole: bool


def named_in(text: str) -> Named:
    """The model and the assets of an equipment file, whatever else is wrong in it; as far as the bounds allow."""
    import yaml

    text = text[:MAX_CHARACTERS]

    model: str | None = None
    assets: list[str] = []
    done: set[str | None] = set()
    around: list[str | None] = []  # for each layout that is open the key at hand; None: a key comes next
    in_mapping: list[bool] = []
    try:
        for event in yaml.parse(text, Loader=yaml.SafeLoader):
            ends = isinstance(event, yaml.MappingEndEvent | yaml.SequenceEndEvent)
            if ends:
                around.pop()
                in_mapping.pop()
            elif isinstance(event, yaml.CollectionStartEvent):
                if len(around) >= MAX_DEPTH:
                    return Named(model, tuple(assets), False)
                around.append(None)
                in_mapping.append(isinstance(event, yaml.MappingStartEvent))
                continue
            elif not isinstance(event, yaml.ScalarEvent | yaml.AliasEvent):
                continue
            if not around or not in_mapping[-1]:
                continue
            if around[-1] is None:  # a key
                key = event.value if isinstance(event, yaml.ScalarEvent) else ""
                if around[:-1] == ["assets"]:
                    assets.append(key)
                around[-1] = key
                continue
            if len(around) == 1:
                done.add(around[0])
                if around[0] == "model" and isinstance(event, yaml.ScalarEvent):
                    model = event.value
                if done >= {"model", "assets"}:
                    break
            around[-1] = None
    except yaml.YAMLError:
        return Named(model, tuple(assets), False)
    return Named(model, tuple(assets), True)


# --- layout --------------------------------------------------------------------------------------------------


def _tree(text: str, name: str) -> Tree:
    """YAML text as a tree; without data when its layout is wrong."""
    tree = Tree(name)
    try:
        root = compose(text)
        if root is not None:
            tree.data = _built(tree, root, ())
    except YamlFault as fault:
        tree.places[()] = (fault.line, fault.column)
        tree.add((), fault.cause, fault.remedy)
    return tree


def _built(tree: Tree, node: yaml.Node, path: Path) -> Data:
    """The data of a node, which is within the bounds of `yaml_text`."""
    import yaml

    tree.places.setdefault(path, (node.start_mark.line + 1, node.start_mark.column + 1))
    if isinstance(node, yaml.MappingNode):
        result: dict[str, Data] = {}
        for key_node, value_node in node.value:
            where = (key_node.start_mark.line + 1, key_node.start_mark.column + 1)
            if not isinstance(key_node, yaml.ScalarNode):
                tree.places[(*path, "")] = where
                tree.add((*path, ""), "a key must be a plain text", "Put a text with a brace or bracket in quotes")
                continue
            key = str(key_node.value)
            if key in result:
                first = tree.places[(*path, key)]
                tree.places[(*path, key)] = where
                tree.add((*path, key), f"the key {key!r} stands here a second time", "Remove one")
                tree.places[(*path, key)] = first
                continue
            tree.places[(*path, key)] = where
            result[key] = _built(tree, value_node, (*path, key))
        return result
    if isinstance(node, yaml.SequenceNode):
        return [_built(tree, item, (*path, index)) for index, item in enumerate(node.value)]
    return None if node.tag == "tag:yaml.org,2002:null" else str(node.value)


def _odd_signs(tree: Tree, data: Data, path: Path) -> None:
    """Signs that can be escaped in quotes, and neither be shown nor be written down: a bell, half of a pair."""
    if isinstance(data, dict):
        for key, value in data.items():
            _odd_signs(tree, value, (*path, key))
    elif isinstance(data, list):
        for index, value in enumerate(data):
            _odd_signs(tree, value, (*path, index))
    elif data is not None and (odd := odd_sign(data)):
        tree.add(path, f"the sign U+{ord(odd):04X} in it is no text", "Take it out")


def odd_sign(text: str) -> str | None:
    """The first sign of a text that is none: of control, or half of a pair; line ends and tabs are right."""
    found = _NO_TEXT.search(text)
    return None if found is None else found[0]


def _equipment(tree: Tree) -> Equipment | None:
    if tree.faults and tree.data is None:
        return None
    data = tree.mapping(tree.data, (), "an equipment file")
    if data is None:
        return None
    if "tasks" in data:
        data["tasks"] = _filled(tree, data["tasks"], ("tasks",), _values(data.get("data")), set())
    return _validated(tree, (), Equipment, data)


def _values(data: Data) -> Values:
    """The values of an equipment file that is not yet validated."""
    groups = data.items() if isinstance(data, dict) else ()
    return {name: {**group} for name, group in groups if isinstance(group, dict)}


def _procedure(tree: Tree, equipment: Equipment, references: set[tuple[str, str]]) -> Procedure | None:
    """The procedure with the steps that read; whether that is all of them, the tree's faults say."""
    if tree.faults and tree.data is None:
        return None
    data = tree.mapping(_filled(tree, tree.data, (), equipment.data, references), (), "a procedure file")
    if data is None:
        return None
    sections: list[Section] = []
    for section in SECTIONS:
        items = data.pop(section, [])
        if not isinstance(items, list):
            tree.add((section,), f"{section!r} must be a list of steps", 'Begin each step with "- "')
            items = []
        steps = (_step(tree, (section, index), item) for index, item in enumerate(items))
        sections.append(Section(name=section, steps=tuple(step for step in steps if step is not None)))
    header = _validated(tree, (), ProcedureHeader, data, also_known=SECTIONS)
    if header is None:  # the steps are worth a look all the same
        header = ProcedureHeader(format=1, procedure=UNNAMED, title=UNNAMED)
    return Procedure(format=header.format, procedure=header.procedure, title=header.title, sections=tuple(sections))


def _filled(tree: Tree, data: Data, path: Path, values: Values, references: set[tuple[str, str]]) -> Data:
    """The data with every `{group.name}` replaced by the equipment's value. references: what was asked for is added."""
    if isinstance(data, dict):
        return {key: _filled(tree, value, (*path, key), values, references) for key, value in data.items()}
    if isinstance(data, list):
        return [_filled(tree, value, (*path, index), values, references) for index, value in enumerate(data)]
    if data is None:
        return None

    def value(match: re.Match[str]) -> str:
        group, separator, name = match[1].partition(".")
        if not separator:
            tree.add(path, f"{match[0]} is no reference", "Write it as {group.name}, such as {oil.grade}")
            return match[0]
        references.add((group, name))
        try:
            text = str(values[group][name])
        except KeyError:
            tree.add(
                path,
                f"{match[0]} refers to nothing in the equipment's data",
                f"Add {name!r} under {group!r} in equipment.yaml, or correct the name",
            )
            return match[0]
        if len(text) > MAX_VALUE:
            tree.add(path, f"{match[0]} stands for more than {MAX_VALUE:,} characters", "Shorten it in equipment.yaml")
            return match[0]
        return text

    return _REFERENCE.sub(value, data)


def _step(tree: Tree, path: Path, item: Data) -> Step | None:
    data = tree.mapping(item, path, "a step")
    if data is None:
        return None
    kinds = [key for key in data if key in KINDS]
    if len(kinds) != 1:
        tree.add(
            path,
            "a step has exactly one kind"
            + (f", this one has {' and '.join(kinds)}" if kinds else ", this one has none"),
            f"Begin it with one of {', '.join(KINDS)} and its identifier, such as `instruction: drain`",
        )
        return None
    kind = kinds[0]
    if "id" in data:
        tree.add((*path, "id"), "the key 'id' is not known here", f"The identifier stands after `{kind}:`")
    data["id"] = data.pop(kind)
    return _validated(tree, path, KINDS[kind], data, kind)


# --- fields --------------------------------------------------------------------------------------------------


def _validated(
    tree: Tree,
    path: Path,
    model: type[_Part],
    data: dict[str, Data],
    kind: str = "",
    also_known: tuple[str, ...] = (),
) -> _Part | None:
    """The data as a part; None, and a fault for each field, when it is none.

    kind: the key of a step's identifier.
    also_known: keys that were taken out before.
    """
    from pydantic import ValidationError

    try:
        return model.model_validate(data)
    except ValidationError as error:
        guessed: set[Path] = set()  # keys that are missing because they were misspelt
        details = (
            (tuple(kind if kind and key == "id" else key for key in each["loc"]), each) for each in error.errors()
        )
        found = [(at, each) for at, each in details if not tree.is_wrong((*path, *at))]  # else it is named already
        # a key that is not known is often why another one is missing: it is named first
        for at, detail in sorted(found, key=lambda pair: pair[1]["type"] != "extra_forbidden"):
            here = (*path, *at)
            if detail["type"] == "extra_forbidden":
                known = sorted({*_fields(model, at[:-1]), *also_known} - {"id"})
                near = difflib.get_close_matches(str(at[-1]), known, n=1)
                guessed |= {(*at[:-1], name) for name in near}
                remedy = f"Did you mean {near[0]!r}" if near else f"Known here: {', '.join(known)}"
                tree.add(here, f"the key {at[-1]!r} is not known here", remedy)
            elif detail["type"] == "missing":
                if at not in guessed:
                    tree.add(here[:-1], f"the key {at[-1]!r} is missing", "Add it")
            else:
                key = str(at[-1]) if at else kind or "the file"
                _add_value(tree, here, key, detail["type"], detail["msg"], detail.get("ctx", {}))
        return None


def _add_value(tree: Tree, path: Path, key: str, kind: str, message: str, context: Mapping[str, object]) -> None:
    """A key is known, and its value is wrong. kind, message, context: what pydantic says of it."""
    cause = context.get("error")
    if isinstance(cause, QuantityError):
        tree.add(path, f"{key!r}: {cause.cause}", cause.remedy)
        return
    plain = _PLAIN.get(kind) or _PLAIN_PATTERNS.get(str(context.get("pattern")))
    if plain is not None:
        tree.add(path, f"{key!r} is not right: {plain[0]}", plain[1])
        return
    if isinstance(cause, ValueError):  # raised by a check of ours
        message = str(cause)
    named = re.match(r'"(\w+)" ', message)  # a check of several keys says first which one to look at
    if named:
        path, key = (*path, named[1]), named[1]
    tree.add(path, f"{key!r} is not right: {message}", "Correct this line")


def _fields(model: type[FileModel], at: Path) -> Iterable[str]:
    """The keys that are known in the part at the end of the path."""
    for key in at:
        field = model.model_fields.get(str(key))
        inner = None if field is None else next(_parts(field.annotation), None)
        model = inner or model
    return model.model_fields


def _parts(annotation: object) -> Iterator[type[FileModel]]:
    """Every part that an annotation mentions."""
    if isinstance(annotation, type) and issubclass(annotation, FileModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _parts(inner)
