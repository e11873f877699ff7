"""The kinds of step in a dialogue: one file each, found by walking this folder. There is no list to edit.

A file states its `KIND`: the class of the step in `procedure/`, and its `QuestionHandler`. Importing this package
fails, naming the kind, when a file states none, or when a kind of the procedure files has no file here.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib import import_module
from pkgutil import iter_modules

from assistant.dialogue.asking import QuestionHandler, StepKind
from assistant.procedure.kinds import KINDS
from assistant.procedure.step import Step


def kind_in(name: str, stated: object) -> StepKind:
    """The kind that a file states.

    name: of the file.
    stated: its `KIND`.
    Errors: ImportError when it states none.
    """
    if not isinstance(stated, StepKind):
        raise ImportError(f"dialogue/kinds/{name}.py states no KIND: a StepKind with its class and its handler")
    return stated


def handlers(files: Mapping[str, StepKind], kinds: Mapping[str, type[Step]]) -> dict[type[Step], QuestionHandler]:
    """The handler of each kind.

    files: the kinds of this folder, by file.
    kinds: those of procedure files, by key.
    Errors: ImportError when a kind has no file, two files, or when a file's kind is no key of procedure files.
    """
    found: dict[type[Step], QuestionHandler] = {}
    for name, kind in files.items():
        if kind.step in found:
            raise ImportError(f"dialogue/kinds/{name}.py is a second file of the kind {kind.step.__name__}")
        if kind.step not in kinds.values():
            raise ImportError(f"dialogue/kinds/{name}.py: no key of procedure files is a {kind.step.__name__}")
        found[kind.step] = kind.handler
    for key, step in kinds.items():
        if step not in found:
            raise ImportError(f'the kind "{key}" ({step.__name__}) has no file in dialogue/kinds')
    return found


KIND_FILES: Mapping[str, StepKind] = {
    module.name: kind_in(module.name, getattr(import_module(f"{__name__}.{module.name}"), "KIND", None))
    for module in iter_modules(__path__)
}
"""Each file of this folder and its kind."""

STEP_KINDS: Mapping[type[Step], QuestionHandler] = handlers(KIND_FILES, KINDS)
"""The class of a step and its handler."""
