"""The kinds of step, one file each: what such a step is made of, and what the rest of the program must know of it.

The classes are the layout of the procedure files too: a key that is not a field is an error there. How a step is asked
and answered is in `dialogue/kinds/`. A kind is found because its file lies in this folder; there is no list of them.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Iterable, Mapping
from importlib import import_module
from types import ModuleType

from assistant.procedure.step import Step


def kinds_of(modules: Iterable[ModuleType]) -> dict[str, type[Step]]:
    """The kind of step that each module holds, by its key.

    Errors: TypeError when a module holds no kind or several, or when two kinds have one key.
    """
    kinds: dict[str, type[Step]] = {}
    for module in modules:
        own = [
            value
            for value in vars(module).values()
            if isinstance(value, type) and issubclass(value, Step) and value.__module__ == module.__name__
        ]
        if len(own) != 1:
            raise TypeError(f"{module.__name__} holds {len(own)} kinds of step; each file holds one")
        (kind,) = own
        other = kinds.setdefault(kind.KEY, kind)
        if other is not kind:
            raise TypeError(f"the step kinds {other.__name__} and {kind.__name__} have one key, {kind.KEY!r}")
    return dict(sorted(kinds.items()))


KINDS: Mapping[str, type[Step]] = kinds_of(
    import_module(f"{__name__}.{file.name}") for file in pkgutil.iter_modules(__path__)
)
"""The key that opens a step in a procedure file, and its class."""
