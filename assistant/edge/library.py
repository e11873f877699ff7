"""The folder of procedures: one folder an equipment model, `equipment.yaml` and its procedures in it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from assistant.dialogue.visiting import can_be_planned, planned, procedures_of
from assistant.dialogue.work import Work, lay_out
from assistant.edge import places
from assistant.errors import ProcedureError
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.session.inputs import Order, ProcedureCopy

EQUIPMENT = "equipment.yaml"


@dataclass(frozen=True, slots=True)
class OrderedWork:
    """Work that can be taken up. files: the exact bytes in use, by name."""

    work: Work
    order: Order
    files: dict[str, bytes]


def assets(root: Path | None = None) -> dict[str, Path]:
    """Every asset that the equipment files know, with its model's folder."""
    found: dict[str, Path] = {}
    for path in sorted((root or places.procedures()).glob(f"*/{EQUIPMENT}")):
        for asset in read_equipment(_text(path), _name(path)).assets:
            found[asset] = path.parent
    return found


def order_work(asset: str, procedures: tuple[str, ...], technician: str, root: Path | None = None) -> OrderedWork:
    """Procedures on an asset, one after another. asset: identifier; procedures: their names; technician: the role.

    Errors: ProcedureError for an asset or procedure that is not there, and for every fault in its files.
    """
    folder = folder_of(asset, root)
    equipment, read, files = _read(folder, asset, procedures)
    order = Order(asset, equipment.model, technician, procedures, _copies(files), equipment.demo)
    return OrderedWork(lay_out(equipment, asset, read), order, files)


def order_visit(asset: str, tasks: tuple[str, ...], technician: str, root: Path | None = None) -> OrderedWork:
    """A planned visit. tasks: identifiers of the equipment file, the most urgent first; other arguments and errors as
    of `order_work`, and ProcedureError for a task that is not there, and when no order of the tasks is possible.

    Every procedure that the visit may come to is taken along: a task may be added while it goes on.
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
    there = _names(folder)
    others = (task for task in equipment.tasks if equipment.procedure_of(task) in there)
    equipment, read, files = _read(folder, asset, procedures_of(equipment, (*tasks, *others)))
    _told_apart(read, folder.name)
    work = lay_out(equipment, asset, read)
    order = Order(asset, equipment.model, technician, tasks, _copies(files), equipment.demo, planned=True)
    return OrderedWork(work.as_planned(planned(work, tasks)), order, files)


def folder_of(asset: str, root: Path | None = None) -> Path:
    """The folder of an asset's model. Errors: ProcedureError when no equipment file knows it."""
    known = assets(root)
    if not known:
        place = str(root or places.procedures())
        raise ProcedureError(place, "it holds no equipment", "Name a folder with <model>/equipment.yaml in it")
    if asset not in known:
        raise ProcedureError(f"asset {asset!r}", "no equipment file knows it", f"Use one of {', '.join(known)}")
    return known[asset]


def equipment_of(asset: str, root: Path | None = None) -> Equipment:
    """The equipment file of an asset. Errors: as of `folder_of`, and for faults in the file."""
    return _equipment(folder_of(asset, root))


def procedure_in(file: Path, equipment: Equipment) -> Procedure:
    """A procedure from its file. Errors: ProcedureError for faults in it."""
    return read_procedure(_text(file), equipment, _name(file))


def plans_visits(asset: str, root: Path | None = None) -> bool:
    """Whether visits to an asset are planned. Errors: as of `folder_of`, and for faults in the equipment file."""
    return can_be_planned(equipment_of(asset, root))


def _read(
    folder: Path, asset: str, names: tuple[str, ...]
) -> tuple[Equipment, tuple[Procedure, ...], dict[str, bytes]]:
    files = {EQUIPMENT: (folder / EQUIPMENT).read_bytes()}
    there = _names(folder)
    for name in names:
        if name not in there:
            raise ProcedureError(f"procedure {name!r}", f"there is none for {asset}", f"Use one of {', '.join(there)}")
        files[f"{name}.yaml"] = (folder / f"{name}.yaml").read_bytes()
    equipment, read = read_files(files, folder.name)
    return equipment, read, files


def _names(folder: Path) -> list[str]:
    return sorted(file.stem for file in folder.glob("*.yaml") if file.name != EQUIPMENT)


def _copies(files: dict[str, bytes]) -> tuple[ProcedureCopy, ...]:
    return tuple(ProcedureCopy(name, hashlib.sha256(data).hexdigest()) for name, data in files.items())


def _told_apart(procedures: tuple[Procedure, ...], model: str) -> None:
    """Timers and calculations name a step of a visit by its identifier alone."""
    found: dict[str, str] = {}
    for procedure in procedures:
        for step in procedure.steps():
            other = found.setdefault(step.id, procedure.procedure)
            if other != procedure.procedure:
                place, cause = f"{model}/{procedure.procedure}.yaml", f"{other}.yaml has a step {step.id!r} too"
                raise ProcedureError(place, cause, "Give one of the two another identifier")


def _equipment(folder: Path) -> Equipment:
    return read_equipment(_text(folder / EQUIPMENT), _name(folder / EQUIPMENT))


def read_files(files: dict[str, bytes], where: str) -> tuple[Equipment, tuple[Procedure, ...]]:
    """Equipment and procedures from their bytes, `equipment.yaml` first. Errors: ProcedureError."""
    equipment = read_equipment(_decoded(files[EQUIPMENT], f"{where}/{EQUIPMENT}"), f"{where}/{EQUIPMENT}")
    procedures = tuple(
        read_procedure(_decoded(data, f"{where}/{name}"), equipment, f"{where}/{name}")
        for name, data in files.items()
        if name != EQUIPMENT
    )
    return equipment, procedures


def _text(path: Path) -> str:
    return _decoded(path.read_bytes(), _name(path))


def _decoded(data: bytes, name: str) -> str:
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        raise ProcedureError(name, "it is not UTF-8 text", "Save it as UTF-8") from None


def _name(path: Path) -> str:
    return f"{path.parent.name}/{path.name}"
