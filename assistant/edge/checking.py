"""Procedure files on disk, examined: everything that is wrong in them, with file, line and column.

Knows folders and which files belong together. Refuses to judge: what is wrong is said by `assistant/procedure`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from functools import partial
from pathlib import Path

from assistant.edge import places
from assistant.edge.pronouncing import pronounced
from assistant.errors import ProcedureError
from assistant.procedure.checks import Severity, unused
from assistant.procedure.equipment import Procedure
from assistant.procedure.reading import (
    UNNAMED,
    ExaminedEquipment,
    ExaminedProcedure,
    Fault,
    examine_equipment,
    examine_procedure,
)

EQUIPMENT = "equipment.yaml"
MOST_PHRASES = 64  # of one command


@dataclass(frozen=True, slots=True)
class LanguageWords:
    """What a language brings along.

    commands: phrases that mean one; wording: all that the program itself speaks; language: its name.
    """

    commands: tuple[str, ...]
    wording: tuple[str, ...]
    language: str


@dataclass(frozen=True, slots=True)
class Checked:
    """The files that were examined, and what is wrong in them, file by file, each from its top."""

    files: tuple[Path, ...]
    faults: tuple[Fault, ...]

    @property
    def wrong(self) -> int:
        """How many faults are grave."""
        return sum(fault.severity is Severity.WRONG for fault in self.faults)

    @property
    def notes(self) -> int:
        """How many faults are worth a look only."""
        return len(self.faults) - self.wrong


def check(path: Path | None = None, language: str = "en") -> Checked:
    """Examine procedures. path: a file, the folder of a model, or a folder of such folders; None: the shipped ones.

    A procedure is held against the equipment file beside it. What nothing makes use of is noted when the folder of a
    model is examined, or its equipment file. Errors: ProcedureError when there is nothing to examine.
    """
    where = places.procedures() if path is None else path
    known = _words_of(language)
    files: list[Path] = []
    faults: list[Fault] = []
    for folder, only in _folders(where):
        for file, found in _checked(folder, only, known):
            files.append(file)
            faults += sorted(found, key=lambda fault: (fault.line, fault.column))
    return Checked(tuple(files), tuple(faults))


def in_words(checked: Checked) -> str:
    """A line for each fault, with its place as editors read it, and a last one that counts them."""
    lines = [
        f"{fault.file}:{fault.line}:{fault.column}: {fault.severity}: {fault.cause}. {fault.remedy}."
        for fault in checked.faults
    ]
    notes = f"{checked.notes} {'note' if checked.notes == 1 else 'notes'}"
    files = f"{len(checked.files)} {'file' if len(checked.files) == 1 else 'files'}"
    return "\n".join([*lines, f"{checked.wrong} wrong, {notes}, in {files}."])


def document(checked: Checked) -> dict[str, object]:
    """The same for a program."""
    return {
        "files": [str(file) for file in checked.files],
        "wrong": checked.wrong,
        "notes": checked.notes,
        "faults": [asdict(fault) for fault in checked.faults],
    }


def _folders(where: Path) -> Iterator[tuple[Path, Path | None]]:
    """The folders of models, and the one file that is wanted where not all of them are."""
    if where.is_file():
        yield where.parent, None if where.name == EQUIPMENT else where
        return
    found = [where] if (where / EQUIPMENT).is_file() else sorted(file.parent for file in where.glob(f"*/{EQUIPMENT}"))
    if not found:
        cause = "it holds no equipment" if where.is_dir() else "it is not there"
        raise ProcedureError(str(where), cause, f"Name a procedure file, or a folder with {EQUIPMENT} in it")
    for folder in found:
        yield folder, None


def _checked(folder: Path, only: Path | None, known: LanguageWords) -> Iterator[tuple[Path, Iterable[Fault]]]:
    """Each file of a model's folder that is wanted, and what is wrong in it."""
    equipment_file = folder / EQUIPMENT
    if not equipment_file.is_file():
        raise ProcedureError(str(folder), f"it holds no {EQUIPMENT}", "Put the procedure beside its equipment file")
    kept = _examined_equipment(equipment_file)
    wanted = [only] if only else sorted(file for file in folder.glob("*.yaml") if file.name != EQUIPMENT)
    read = [(file, _examined_procedure(file, kept, known)) for file in wanted]
    if only is None:
        procedures = [one.procedure for _, one in read if isinstance(one, ExaminedProcedure) and one.procedure]
        references = {pair for _, one in read if isinstance(one, ExaminedProcedure) for pair in one.references}
        _note_unused(kept, procedures, references, every=len(procedures) == len(read) > 0)
        yield equipment_file, _faults(kept)
    for file, one in read:
        yield file, _faults(one)


def _examined_equipment(file: Path) -> ExaminedEquipment | Fault:
    text = _text(file)
    if isinstance(text, Fault):
        return text
    examined = examine_equipment(text, str(file))
    if examined.equipment and examined.equipment.model != file.parent.resolve().name:
        cause = f"the model {examined.equipment.model!r} lies in the folder {file.parent.resolve().name!r}"
        examined.tree.add(("model",), cause, "Give the folder the model's name", Severity.NOTE)
    return examined


def _examined_procedure(file: Path, kept: ExaminedEquipment | Fault, known: LanguageWords) -> ExaminedProcedure | Fault:
    text = _text(file)
    if isinstance(text, Fault):
        return text
    if isinstance(kept, Fault) or kept.equipment is None:
        cause = f"this file was not checked, because the {EQUIPMENT} beside it does not read"
        return Fault(str(file), 1, 1, Severity.WRONG, cause, f"Put {EQUIPMENT} right first, and check again")
    pronounce = partial(pronounced, known.language)
    examined = examine_procedure(text, kept.equipment, str(file), known.commands, known.wording, pronounce)
    if examined.procedure and examined.procedure.procedure not in (file.stem, UNNAMED):
        cause = f"the procedure {examined.procedure.procedure!r} lies in the file {file.name!r}"
        examined.tree.add(("procedure",), cause, "Give the file the procedure's name, and `.yaml`")
    return examined


def _note_unused(
    kept: ExaminedEquipment | Fault, procedures: list[Procedure], references: set[tuple[str, str]], every: bool
) -> None:
    """Only where every procedure of the model could be read: another one might make use of it."""
    if every and isinstance(kept, ExaminedEquipment) and kept.equipment:
        kept.tree.add_all(unused(kept.equipment, procedures, references))


def _faults(examined: ExaminedEquipment | ExaminedProcedure | Fault) -> list[Fault]:
    return [examined] if isinstance(examined, Fault) else examined.tree.faults


def _text(file: Path) -> str | Fault:
    try:
        return file.read_bytes().decode("utf-8")
    except UnicodeDecodeError as error:
        before = error.object[: error.start]
        line, column = before.count(b"\n") + 1, error.start - before.rfind(b"\n")
        return Fault(str(file), line, column, Severity.WRONG, "it is not UTF-8 text", "Save it as UTF-8")
    except OSError as error:
        raise ProcedureError(str(file), f"it cannot be read ({error.strerror})", "Look at its permissions") from None


def _words_of(language: str) -> LanguageWords:
    from assistant.dialogue.commands import COMMANDS
    from assistant.edge.grammars import read_table
    from assistant.edge.language import Language
    from assistant.grammar.expectation import Expectation, Offer, Risk
    from assistant.meanings import Answer

    spoken = Language(language)
    commands = []
    for command in COMMANDS.values():
        graph = spoken.graph(Expectation((Offer(command.rule, Answer, Risk.COMMAND, "any"),)))
        commands += [" ".join(words) for words, _ in graph.sentences(MOST_PHRASES)]
    table = read_table(places.grammars() / language / "wording.yaml")
    wording = tuple(str(text) for text in table.values()) if isinstance(table, dict) else ()
    return LanguageWords(tuple(commands), wording, language)
