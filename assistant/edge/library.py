"""The folder of procedures: one folder an equipment model, `equipment.yaml` and its procedures in it."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from assistant.dialogue.work import Work, lay_out
from assistant.edge import places
from assistant.errors import ProcedureError
from assistant.procedure.equipment import Equipment, Procedure
from assistant.procedure.reading import read_equipment, read_procedure
from assistant.session.inputs import Order, ProcedureCopy


@dataclass(frozen=True, slots=True)
class OrderedWork:
    """Work that can be taken up. files: the exact bytes in use, by name."""

    work: Work
    order: Order
    files: dict[str, bytes]


def assets(root: Path | None = None) -> dict[str, Path]:
    """Every asset that the equipment files know, with its model's folder."""
    found: dict[str, Path] = {}
    for path in sorted((root or places.procedures()).glob("*/equipment.yaml")):
        for asset in read_equipment(_text(path), _name(path)).assets:
            found[asset] = path.parent
    return found


def order_work(asset: str, procedures: tuple[str, ...], technician: str, root: Path | None = None) -> OrderedWork:
    """The work on an asset. asset: identifier; procedures: their names, in order; technician: the role.

    Errors: ProcedureError for an asset or procedure that is not there, and for every fault in its files.
    """
    known = assets(root)
    if not known:
        place = str(root or places.procedures())
        raise ProcedureError(place, "it holds no equipment", "Name a folder with <model>/equipment.yaml in it")
    if asset not in known:
        raise ProcedureError(f"asset {asset!r}", "no equipment file knows it", f"Use one of {', '.join(known)}")
    folder = known[asset]
    files = {"equipment.yaml": (folder / "equipment.yaml").read_bytes()}
    there = sorted(file.stem for file in folder.glob("*.yaml") if file.stem != "equipment")
    for name in procedures:
        if name not in there:
            raise ProcedureError(f"procedure {name!r}", f"there is none for {asset}", f"Use one of {', '.join(there)}")
        files[f"{name}.yaml"] = (folder / f"{name}.yaml").read_bytes()
    equipment, read = read_files(files, folder.name)
    copies = tuple(ProcedureCopy(name, hashlib.sha256(data).hexdigest()) for name, data in files.items())
    order = Order(asset, equipment.model, technician, procedures, copies, equipment.demo)
    return OrderedWork(lay_out(equipment, asset, read), order, files)


def read_files(files: dict[str, bytes], where: str) -> tuple[Equipment, tuple[Procedure, ...]]:
    """Equipment and procedures from their bytes, `equipment.yaml` first. Errors: ProcedureError."""
    equipment = read_equipment(_decoded(files["equipment.yaml"], f"{where}/equipment.yaml"), f"{where}/equipment.yaml")
    procedures = tuple(
        read_procedure(_decoded(data, f"{where}/{name}"), equipment, f"{where}/{name}")
        for name, data in files.items()
        if name != "equipment.yaml"
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
