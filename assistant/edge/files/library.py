"""The folder of procedures: one folder an equipment model, `equipment.yaml` and its procedures in it.

Knows which files an asset and an order need, and reads no other model's. Refuses to judge them: `checking.py` does.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from assistant.dialogue.visiting import can_be_planned, planned, procedures_of
from assistant.dialogue.work import Work, lay_out
from assistant.edge import places
from assistant.edge.checking.models import (
    ENDING,
    EQUIPMENT,
    MAX_BYTES,
    ExaminedModel,
    examine_model,
    models_in,
    procedures_in,
    refusal,
    words_for_work,
)
from assistant.edge.files.access import read_file
from assistant.errors import ProcedureError
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.session.inputs import Order, ProcedureCopy


@dataclass(frozen=True, slots=True)
class OrderedWork:
    """Work that can be taken up.

    files: the exact bytes in use, by name.
    left_out: the procedures of further tasks that are wrong, so that these cannot be added, each with its first fault.
    """

    work: Work
    order: Order
    files: dict[str, bytes]
    left_out: tuple[ProcedureError, ...] = ()


def assets(root: Path | None = None) -> dict[str, Path]:
    """Every asset that the equipment files name, as far as they can be read, with its model's folder."""
    return {asset: folder for folder, named in models_in(_root(root)).items() for asset in named.assets}


def order_work(
    asset: str, procedures: tuple[str, ...], technician: str, root: Path | None = None, as_it_is: bool = False
) -> OrderedWork:
    """Procedures on an asset, one after another.

    asset: identifier.
    procedures: their names.
    technician: the role.
    as_it_is: only to look at it, so that what a check calls wrong is no hindrance as long as the files read.

    Errors: ProcedureError for an asset or procedure that is not there, and when anything is wrong in its files.
    """
    folder = folder_of(asset, root)
    _there(folder, asset, procedures)
    equipment, read, files = _as_it_is(folder, procedures) if as_it_is else _right(_examined(folder, asset, procedures))
    order = Order(asset, equipment.model, technician, procedures, _copies(files), equipment.demo)
    return OrderedWork(lay_out(equipment, asset, read), order, files)


def order_visit(
    asset: str, tasks: tuple[str, ...], technician: str, root: Path | None = None, as_it_is: bool = False
) -> OrderedWork:
    """A planned visit. tasks: identifiers of the equipment file, the most urgent first; other arguments and errors as
    of `order_work`, and ProcedureError for a task that is not there, and when no order of the tasks is possible.

    Every procedure that the visit may come to is taken along: a task may be added while it goes on. Where something is
    wrong in one of a task that was not ordered, it is left out.
    """
    folder = folder_of(asset, root)
    equipment = _equipment(folder)
    if not can_be_planned(equipment):
        cause = "its equipment file does not say how a visit begins, so none can be planned"
        raise ProcedureError(f"asset {asset!r}", cause, "Write `visit: {opening: ...}` in equipment.yaml")
    for name in tasks:
        if name not in equipment.tasks:
            raise ProcedureError(
                f"task {name!r}", f"there is none for {asset}", f"Use one of {', '.join(equipment.tasks)}"
            )
    there = procedures_in(folder)
    needed = procedures_of(equipment, tasks)
    _there(folder, asset, needed)
    others = dict.fromkeys(map(equipment.procedure_of, equipment.tasks))
    further = tuple(name for name in others if name in there and name not in needed)
    left_out: tuple[ProcedureError, ...] = ()
    if as_it_is:
        equipment, read, files = _as_it_is(folder, (*needed, *further))
    else:
        examined, left_out = _examined_as_far_as_right(folder, asset, needed, further)
        equipment, read, files = _right(examined)
        missing = (_misnamed(folder, name) for name in others if name not in there)
        left_out = (*left_out, *(error for error in missing if error is not None))
    work = lay_out(equipment, asset, read)
    order = Order(asset, equipment.model, technician, tasks, _copies(files), equipment.demo, planned=True)
    return OrderedWork(work.as_planned(planned(work, tasks)), order, files, left_out)


def folder_of(asset: str, root: Path | None = None) -> Path:
    """The folder of an asset's model, whatever is wrong in other models'. Errors: ProcedureError when no equipment
    file knows it, or two do."""
    models = models_in(_root(root))
    if not models:
        remedy = f"Name a folder with <model>/{EQUIPMENT} in it"
        raise ProcedureError(str(_root(root)), "it holds no equipment", remedy)
    found = [folder for folder, named in models.items() if asset in named.assets]
    if len(found) > 1:
        cause = f"the models in the folders {' and '.join(folder.name for folder in found)} both have it"
        raise ProcedureError(f"asset {asset!r}", cause, f"Take it out of the {EQUIPMENT} of one of them")
    if found:
        return found[0]
    known = ", ".join(name for named in models.values() for name in named.assets)
    remedy = f"Use one of {known}" if known else f"Write it under `assets` in an {EQUIPMENT}"
    for folder in (folder for folder, named in models.items() if not named.whole):
        try:
            _equipment(folder)
        except ProcedureError as error:  # what it is of is not known
            remedy += f". Or put right what is wrong in {str(error).removesuffix('.')}"
    raise ProcedureError(f"asset {asset!r}", "no equipment file knows it", remedy)


def equipment_of(asset: str, root: Path | None = None) -> Equipment:
    """The equipment file of an asset. Errors: as of `folder_of`, and for faults in the file."""
    return _equipment(folder_of(asset, root))


def procedure_in(file: Path, equipment: Equipment) -> Procedure:
    """A procedure from its file. Errors: ProcedureError for faults in it."""
    return read_procedure(_text(file), equipment, _name(file))


def plans_visits(asset: str, root: Path | None = None) -> bool:
    """Whether visits to an asset are planned. Errors: as of `folder_of`, and for faults in the equipment file."""
    return can_be_planned(equipment_of(asset, root))


def _root(root: Path | None) -> Path:
    return root or places.procedures()


def _there(folder: Path, asset: str, names: Iterable[str]) -> None:
    """Errors: ProcedureError for a procedure that is not there."""
    there = procedures_in(folder)
    for name in names:
        if name in there:
            continue
        misnamed = _misnamed(folder, name)
        if misnamed is not None:
            raise misnamed
        raise ProcedureError(f"procedure {name!r}", f"there is none for {asset}", f"Use one of {', '.join(there)}")


def _misnamed(folder: Path, name: str) -> ProcedureError | None:
    """What is wrong with a file that is meant to be this procedure, and is not read because of how it is called."""
    alike = (file for file in sorted(folder.glob("*.[yY]*")) if file.name not in (EQUIPMENT, f"{name}{ENDING}"))
    beside = next((file for file in alike if file.stem.lower() == name), None)
    if beside is None:
        return None
    return ProcedureError(_name(beside), "by its name it is not read as a procedure", f"Rename it to {name}{ENDING}")


def _examined(folder: Path, asset: str, names: tuple[str, ...]) -> ExaminedModel:
    return examine_model(folder, words_for_work(), names, asset, together=len(names) > 1)


def _examined_as_far_as_right(
    folder: Path, asset: str, needed: tuple[str, ...], further: tuple[str, ...]
) -> tuple[ExaminedModel, tuple[ProcedureError, ...]]:
    """The procedures needed, those of the further ones with which nothing is wrong, and what is with the others.

    Errors: ProcedureError when something is wrong with those that are needed.
    """
    examined = _examined(folder, asset, (*needed, *further))
    if not examined.wrong:
        return examined, ()
    examined = _examined(folder, asset, needed)
    examined.refuse()
    kept, left_out = needed, []
    for name in further:
        tried = _examined(folder, asset, (*kept, name))
        if tried.wrong:
            left_out.append(refusal(tried.wrong, folder))
        else:
            examined, kept = tried, (*kept, name)
    return examined, tuple(left_out)


_Read = tuple[Equipment, tuple[Procedure, ...], dict[str, bytes]]
"""The equipment, the procedures of an order, and the bytes of both by the names of their files."""


def _right(examined: ExaminedModel) -> _Read:
    """Errors: ProcedureError when anything is wrong."""
    return examined.refuse(), tuple(examined.procedures.values()), dict(examined.bytes)


def _as_it_is(folder: Path, names: tuple[str, ...]) -> _Read:
    """Errors: ProcedureError for what does not read."""
    files = {file: _bytes(folder / file) for file in (EQUIPMENT, *(f"{name}{ENDING}" for name in names))}
    return *read_files(files, folder.name), files


def _copies(files: dict[str, bytes]) -> tuple[ProcedureCopy, ...]:
    return tuple(ProcedureCopy(name, hashlib.sha256(data).hexdigest()) for name, data in files.items())


def _equipment(folder: Path) -> Equipment:
    return _equipment_in(_text(folder / EQUIPMENT), _name(folder / EQUIPMENT))


_equipment_in = lru_cache(maxsize=4)(read_equipment)  # the same text gives the same; one order asks several times


def read_files(files: dict[str, bytes], where: str) -> tuple[Equipment, tuple[Procedure, ...]]:
    """Equipment and procedures from their bytes, `equipment.yaml` first. Errors: ProcedureError.

    A session that broke off is taken up again by its own copies, and these are read here, by the rules of reading
    alone: what a check has learned to call wrong since then must keep nobody from ending the work that was begun.
    """
    equipment = read_equipment(_decoded(files[EQUIPMENT], f"{where}/{EQUIPMENT}"), f"{where}/{EQUIPMENT}")
    procedures = tuple(
        read_procedure(_decoded(data, f"{where}/{name}"), equipment, f"{where}/{name}")
        for name, data in files.items()
        if name != EQUIPMENT
    )
    return equipment, procedures


def _text(path: Path) -> str:
    return _decoded(_bytes(path), _name(path))


def _bytes(path: Path) -> bytes:
    try:
        return read_file(path, MAX_BYTES)
    except OSError as error:
        cause = f"it cannot be read ({error.strerror})"
        raise ProcedureError(_name(path), cause, "Look at its permissions, and at what it is") from None


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise ProcedureError(name, "it is not UTF-8 text", "Save it as UTF-8") from None


def _name(path: Path) -> str:
    return f"{path.parent.name}/{path.name}"
