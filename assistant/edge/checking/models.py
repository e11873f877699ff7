"""Procedure files on disk, examined: everything that is wrong in them, with file, line and column.

The one gate: `enginebay check` and every new order of work go through `examine_model`, so that no work goes by what a
check would call wrong. Knows folders and which files belong together, and what a language brings along. Refuses to
judge: what is wrong is said by `assistant/procedure`, and of a language's own files by `languages.py`.
"""

from __future__ import annotations

import shlex
import unicodedata
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import lru_cache, partial
from pathlib import Path

from assistant.dialogue.commands import COMMANDS, WHILE_ASKING, When, allowed_when, rule_of
from assistant.dialogue.exchange import question
from assistant.dialogue.messages import Details
from assistant.dialogue.work import lay_out
from assistant.edge import places
from assistant.edge.checking.languages import examine_language, spoken_texts
from assistant.edge.checking.open_questions import at_step
from assistant.edge.checking.pronouncing import pronounced
from assistant.edge.files.access import read_file
from assistant.edge.files.grammars import read_table
from assistant.edge.files.language import Language
from assistant.edge.files.shipped_words import WORDING
from assistant.errors import EngineBayError, ProcedureError
from assistant.grammar.expectation import Expectation, Offer, Risk
from assistant.grammar.spoken import spoken
from assistant.meanings import Amount, Answer, CommandName
from assistant.procedure.checks.between_files import problems_between, unused
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.problem import Path as TreePath
from assistant.procedure.problem import Severity
from assistant.procedure.reading import (
    UNNAMED,
    ExaminedEquipment,
    ExaminedProcedure,
    Fault,
    Named,
    Tree,
    examine_equipment,
    examine_procedure,
    named_in,
)
from assistant.quantities import counted

EQUIPMENT = "equipment.yaml"
ENDING = ".yaml"
MAX_BYTES = 1_000_000  # of a file; the longest shipped one has 12,000
MAX_PHRASES = 64  # of one command
FAULTS_NAMED = 3  # of those for which work is refused


@dataclass(frozen=True, slots=True)
class LanguageWords:
    """What a language brings along.

    commands: phrases that mean a command.
    while_asking: those that are not obeyed while a step's prompt speaks them.
    wording: all that the program itself speaks.
    language: its name, or its folder.
    spoken: the language itself.
    """

    commands: tuple[str, ...]
    while_asking: tuple[str, ...]
    wording: tuple[str, ...]
    language: str
    spoken: Language


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


@dataclass(frozen=True, slots=True)
class ExaminedModel:
    """A model's equipment and procedures, and all that is wrong in them.

    equipment: None when it does not read.
    procedures, bytes: by the names of the files, as far as they read.
    faults: by file, each from its top.
    """

    folder: Path
    equipment: Equipment | None
    procedures: Mapping[str, Procedure]
    bytes: Mapping[str, bytes]
    faults: Mapping[Path, tuple[Fault, ...]]

    @property
    def wrong(self) -> tuple[Fault, ...]:
        """The grave faults."""
        return tuple(fault for found in self.faults.values() for fault in found if fault.severity is Severity.WRONG)

    def refuse(self) -> Equipment:
        """The equipment, where nothing is wrong. Errors: ProcedureError that names the first faults."""
        if self.wrong:
            raise refusal(self.wrong, self.folder)
        assert self.equipment is not None  # else that is a grave fault
        return self.equipment


def refusal(wrong: tuple[Fault, ...], folder: Path) -> ProcedureError:
    """The error for grave faults: the first ones, and how many more there are. folder: which to check."""
    first, *others = wrong[:FAULTS_NAMED]
    more = [f"Also {_short(fault)}: {fault.cause}. {fault.remedy}" for fault in others]
    if len(wrong) > FAULTS_NAMED:
        more.append(f"And {len(wrong) - FAULTS_NAMED} more: run `enginebay check {shlex.quote(str(folder))}`")
    return ProcedureError(_short(first), first.cause, ". ".join((first.remedy, *more)))


def _short(fault: Fault) -> str:
    """The file with its folder, and the place in it."""
    return f"{'/'.join(Path(fault.file).parts[-2:])}, line {fault.line}, column {fault.column}"


def check(path: Path | None = None, language: str = "en") -> Checked:
    """Examine procedures, or a language. path: a file, the folder of a model or a language, or a folder of such
    folders; None: all that is shipped. language: whose words procedures are held against.

    A file is held against those beside it. What nothing makes use of is noted when the folder of a model is examined,
    or its equipment file. Errors: ProcedureError when there is nothing to examine.
    """
    found: dict[Path, tuple[Fault, ...]] = {}
    for where in (places.grammars(), places.procedures()) if path is None else (path,):
        languages = _languages(where)
        for folder in languages:
            found |= examine_language(folder)
        if languages:
            continue
        folders = _folders(where)
        try:
            known = words_of(language)
        except EngineBayError:  # procedures are held against it, so it is what has to be put right first
            found |= examine_language(places.grammars() / language)
            continue
        for folder in folders:
            found |= examine_model(folder, known, whole=True).faults
    if path is not None and path.is_file() and path.name not in (EQUIPMENT, WORDING):
        if path not in found and any(each.severity is Severity.WRONG for faults in found.values() for each in faults):
            return Checked(tuple(found), tuple(fault for faults in found.values() for fault in faults))
        if path not in found:
            raise ProcedureError(str(path), "it is no file of a model or a language", "Name one that is")
        found = {path: found[path]}
    return Checked(tuple(found), tuple(fault for faults in found.values() for fault in faults))


def in_words(checked: Checked) -> str:
    """A line for each fault, with its place as editors read it, and a last one that counts them."""
    lines = [
        f"{fault.file}:{fault.line}:{fault.column}: {fault.severity}: {fault.cause}. {fault.remedy}."
        for fault in checked.faults
    ]
    notes, files = counted(checked.notes, "note"), counted(len(checked.files), "file")
    return "\n".join([*lines, f"{checked.wrong} wrong, {notes}, in {files}."])


def document(checked: Checked) -> dict[str, object]:
    """The same for a program."""
    return {
        "files": [str(file) for file in checked.files],
        "wrong": checked.wrong,
        "notes": checked.notes,
        "faults": [asdict(fault) for fault in checked.faults],
    }


def _languages(where: Path) -> list[Path]:
    """The folders of languages at a place: itself, the one that the file is in, or those in it."""
    folder = where.parent if where.is_file() else where
    if (folder / WORDING).is_file():
        return [folder]
    return [] if where.is_file() else sorted(file.parent for file in folder.glob(f"*/{WORDING}"))


def _folders(where: Path) -> list[Path]:
    """The folders of models at a place: itself, the one that the file is in, or those in it."""
    if where.is_file():
        if not (where.parent / EQUIPMENT).is_file():
            cause, remedy = f"it holds no {EQUIPMENT}", "Put the procedure beside its equipment file"
            raise ProcedureError(str(where.parent), cause, remedy)
        return [where.parent]
    if where.is_dir() and _yaml_files(where):
        return [where]
    found = [folder for folder in sorted(where.glob("*")) if folder.is_dir() and _yaml_files(folder)]
    if not found:
        cause = "it holds no equipment" if where.is_dir() else "it is not there"
        raise ProcedureError(str(where), cause, f"Name a procedure file, or a folder with {EQUIPMENT} in it")
    return found


def _yaml_files(folder: Path) -> list[Path]:
    """All that may be meant as a file of a model, however its ending is written."""
    return sorted(file for file in folder.glob("*") if file.suffix.lower() in (".yaml", ".yml") and not file.is_dir())


# --- a model -----------------------------------------------------------------------------------------------------


def procedures_in(folder: Path) -> list[str]:
    """The names of a model's procedures: of its files, without their ending."""
    return sorted(file.stem for file in folder.glob(f"*{ENDING}") if file.name != EQUIPMENT)


def examine_model(
    folder: Path,
    known: LanguageWords,
    names: Iterable[str] | None = None,
    asset: str | None = None,
    together: bool = False,
    whole: bool = False,
) -> ExaminedModel:
    """The equipment file of a model and these procedures of it, and everything that is wrong with them.

    names: as of `procedures_in`; None: all. What lies beside them is not looked at.
    known: the language that they are spoken in.
    asset: the one that is wanted; None: all of them.
    together: the procedures are ordered together, as of `problems_between`.
    whole: also what nothing makes use of.

    No file raises an error: what cannot be read is a fault.
    """
    wanted = procedures_in(folder) if names is None else list(names)
    data = {file: _bytes(folder / file) for file in (EQUIPMENT, *(f"{name}{ENDING}" for name in wanted))}
    kept = _examined_equipment(folder / EQUIPMENT, data[EQUIPMENT])
    read = {
        file: _examined_procedure(folder / file, content, kept, known)
        for file, content in data.items()
        if file != EQUIPMENT
    }
    procedures = {file: each.procedure for file, each in read.items() if isinstance(each, ExaminedProcedure)}
    there = {file: procedure for file, procedure in procedures.items() if procedure is not None}
    equipment = kept.equipment if isinstance(kept, ExaminedEquipment) else None
    if isinstance(kept, ExaminedEquipment) and equipment is not None:
        _beside(folder, kept, asset)
        named = {file: procedure for file, procedure in there.items() if procedure.procedure != UNNAMED}
        for file, problem in problems_between(equipment, named, together):
            of_file = read[file]
            assert isinstance(of_file, ExaminedProcedure)  # a fault alone has no procedure
            of_file.tree.add_all((problem,))
        laid_out = [examined for examined in read.values() if isinstance(examined, ExaminedProcedure)]
        for examined in laid_out:
            _spoken(examined, equipment, known)
        if whole and len(there) == len(read) > 0:  # else one that does not read might make use of it
            references = {pair for examined in laid_out for pair in examined.references}
            kept.tree.add_all(unused(equipment, list(there.values()), references))
    faults = {folder / EQUIPMENT: _faults(kept), **{folder / file: _faults(each) for file, each in read.items()}}
    for fault in _badly_named(folder, None if names is None else {Path(EQUIPMENT).stem, *wanted}):
        faults.setdefault(Path(fault.file), []).append(fault)
    return ExaminedModel(
        folder,
        equipment,
        there,
        {file: content for file, content in data.items() if isinstance(content, bytes)},
        {file: tuple(sorted(found, key=_place)) for file, found in faults.items()},
    )


def _place(fault: Fault) -> tuple[int, int]:
    return fault.line, fault.column


def _examined_equipment(file: Path, data: bytes | Fault) -> ExaminedEquipment | Fault:
    text = _text(file, data)
    if isinstance(text, Fault):
        return text
    examined = examine_equipment(text, str(file))
    if examined.equipment and examined.equipment.model != file.parent.resolve().name:
        cause = f"the model {examined.equipment.model!r} lies in the folder {file.parent.resolve().name!r}"
        examined.tree.add(("model",), cause, "Give the folder the model's name", Severity.NOTE)
    return examined


def _examined_procedure(
    file: Path, data: bytes | Fault, kept: ExaminedEquipment | Fault, known: LanguageWords
) -> ExaminedProcedure | Fault:
    text = _text(file, data)
    if isinstance(text, Fault):
        return text
    if isinstance(kept, Fault) or kept.equipment is None:
        cause = f"this file was not checked, because the {EQUIPMENT} beside it does not read"
        return Fault(str(file), 1, 1, Severity.WRONG, cause, f"Put {EQUIPMENT} right first, and check again")
    pronounce = partial(pronounced, known.language)
    examined = examine_procedure(
        text, kept.equipment, str(file), known.commands, known.wording, pronounce, known.while_asking
    )
    if examined.procedure and examined.procedure.procedure not in (file.stem, UNNAMED):
        cause = f"the procedure {examined.procedure.procedure!r} lies in the file {file.name!r}"
        examined.tree.add(("procedure",), cause, f"Give the file the procedure's name, and `{ENDING}`")
    return examined


def _beside(folder: Path, kept: ExaminedEquipment, asset: str | None) -> None:
    """What an equipment file says of itself, and another model's beside it says too. asset: as of `examine_model`."""
    equipment = kept.equipment
    assert equipment is not None  # it is asked for one that reads
    here = folder.resolve()
    for other, named in models_in(here.parent).items():
        if other == here:
            continue
        if named.model == equipment.model:
            cause = f"the folder {other.name!r} has the model {named.model!r} too"
            kept.tree.add(("model",), cause, "Take one of the two away, or give it another name")
        for name in equipment.assets:
            if name in named.assets and asset in (None, name):
                cause = f"the model in the folder {other.name!r} has the asset {name!r} too"
                kept.tree.add(("assets", name), cause, "Take it out of one of the two")


def models_in(root: Path) -> dict[Path, Named]:
    """The folders of models that lie in a folder, and what each is of, whatever else is wrong in it."""
    found = {}
    for file in sorted(root.glob(f"*/{EQUIPMENT}")):
        data = _bytes(file)
        text = _text(file, data)
        named = Named(None, (), False) if isinstance(data, Fault) else named_in(data.decode(errors="replace"))
        found[file.parent] = replace(named, whole=False) if isinstance(text, Fault) else named
    return found


def _badly_named(folder: Path, used: set[str] | None) -> Iterator[Fault]:
    """Files that are not read because of their names, and those that differ by the writing of their names alone.

    used: the names that matter, without ending; None: all.
    """
    first: dict[str, Path] = {}
    matter = None if used is None else {name.casefold() for name in used}
    for file in _yaml_files(folder):
        name = file.stem.casefold()
        if matter is not None and name not in matter:
            continue
        if file.suffix != ENDING:
            cause = f"its name ends in {file.suffix!r}, so it is not read"
            yield Fault(str(file), 1, 1, Severity.WRONG, cause, f"Rename it to {file.stem}{ENDING}")
        other = first.setdefault(name, file)
        if other != file:
            cause = f"{other.name} beside it is called the same"
            yield Fault(str(file), 1, 1, Severity.WRONG, cause, "Keep one of the two, or give it another name")


def _spoken(examined: ExaminedProcedure, equipment: Equipment, known: LanguageWords) -> None:
    """All that can be said at a step compiles, and all that is spoken there has words. Numbers with their units are
    the language's own, and were looked at with it."""
    procedure, tree = examined.procedure, examined.tree
    if procedure is None or not equipment.assets or any(fault.severity is Severity.WRONG for fault in tree.faults):
        return
    work = lay_out(equipment, next(iter(equipment.assets)), (procedure,))
    paths = ((section.name, index) for section in procedure.sections for index in range(len(section.steps)))
    for path, placed in zip(paths, work.steps, strict=True):
        step = placed.step
        answers = {own.answer: own.at for own in step.answer_phrases()}
        done: set[object] = set()
        for _, turn in at_step(work, placed):
            asked = question(turn)
            for offer in asked.offers:
                where: TreePath = (*path, *answers.get(offer.key, ())) if offer.meaning is Answer else path
                if offer.meaning is not Amount and offer not in done:
                    done.add(offer)
                    _tried(tree, where, partial(known.spoken.graph, Expectation((offer,))))
            messages = (*asked.full, *asked.short, *asked.choices, *asked.digits_message, *map(Details, step.prompts()))
            for message in messages:
                if message not in done:
                    done.add(message)
                    _tried(tree, path, partial(known.spoken.wording.aloud, message))
        for text in step.prompts():
            for sign in sorted(set(filter(_is_symbol, spoken(text, known.spoken.wording.forms)))):
                cause = f"the sign {sign!r} has no words, so the voice says it in its own way or not at all"
                tree.add(path, cause, "Write it in words, or add it under `symbols` in spoken.yaml", Severity.NOTE)


def _is_symbol(sign: str) -> bool:
    return sign in "#§†‡@\\|_*~^<>{}[]" or unicodedata.category(sign)[0] == "S"


def _tried(tree: Tree, path: TreePath, action: Callable[[], object]) -> None:
    try:
        action()
    except EngineBayError as error:
        tree.add(path, f"{error.place}: {error.cause}", error.remedy)


def _faults(examined: ExaminedEquipment | ExaminedProcedure | Fault) -> list[Fault]:
    return [examined] if isinstance(examined, Fault) else list(examined.tree.faults)


def _bytes(file: Path) -> bytes | Fault:
    try:
        return read_file(file, MAX_BYTES)
    except FileNotFoundError:
        return Fault(str(file), 1, 1, Severity.WRONG, "it is not there", "Write it, or correct the name")
    except OSError as error:
        cause = f"it cannot be read ({error.strerror})"
        return Fault(str(file), 1, 1, Severity.WRONG, cause, "Look at its permissions, and at what it is")


def _text(file: Path, data: bytes | Fault) -> str | Fault:
    if isinstance(data, Fault):
        return data
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        before = error.object[: error.start]
        line, column = before.count(b"\n") + 1, error.start - before.rfind(b"\n")
        return Fault(str(file), line, column, Severity.WRONG, "it is not UTF-8 text", "Save it as UTF-8")


# --- a language --------------------------------------------------------------------------------------------------


def words_for_work(language: str = "en") -> LanguageWords:
    """What a language brings along, where nothing is wrong in its files. Errors: EngineBayError that names the first
    faults."""
    folder = places.grammars() / language
    _refuse_language(folder, _stamp(folder))
    return words_of(language)


@lru_cache(maxsize=4)
def _refuse_language(folder: Path, stamp: tuple[object, ...]) -> None:
    found = (fault for faults in examine_language(folder).values() for fault in faults)
    wrong = tuple(fault for fault in found if fault.severity is Severity.WRONG)
    if wrong:
        raise refusal(wrong, folder)


def words_of(language: str) -> LanguageWords:
    """What a language brings along. language: as of `Language`. Errors: EngineBayError when its files do not read."""
    return _words_of(language, _stamp(places.grammars() / language))


def _stamp(folder: Path) -> tuple[object, ...]:
    """What tells that a file of the folder was changed meanwhile."""
    files = (file for file in sorted(folder.glob("*")) if file.is_file())
    return tuple((file.name, file.stat().st_mtime_ns, file.stat().st_size) for file in files)


@lru_cache(maxsize=4)
def _words_of(language: str, stamp: tuple[object, ...]) -> LanguageWords:
    spoken = Language(language)

    def phrases(names: Iterable[CommandName]) -> tuple[str, ...]:
        found = []
        for name in names:
            graph = spoken.graph(Expectation((Offer(rule_of(name), Answer, Risk.COMMAND, "any"),)))
            found += [" ".join(words) for words, _ in graph.sentences(MAX_PHRASES)]
        return tuple(found)

    open_ = (name for name in (*WHILE_ASKING, *allowed_when(When.PLANNED)) if COMMANDS[name].risk is Risk.COMMAND)
    meanwhile = [name for name in open_ if name is not CommandName.STOP]  # that is obeyed whoever may have said it
    table = read_table(places.grammars() / language / WORDING)
    return LanguageWords(phrases(CommandName), phrases(meanwhile), spoken_texts(table), language, spoken)
