"""The plan of a visit, from the files: as text, as JSON for a program, as a page to print with a form to fill in.

Knows where sessions and procedures lie, and how a plan is worded and laid out (`templates/plan.html`). Judges nothing:
what is due, and in which order, was found in `assistant/planning`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from assistant.edge.files.access import write_whole
from assistant.edge.files.histories import sessions_of
from assistant.edge.files.library import equipment_of, folder_of, procedure_in
from assistant.edge.files.shipped_words import english_words
from assistant.errors import EngineBayError, QuantityError, RecordError
from assistant.planning.due import DueStatus
from assistant.planning.past import done_before, in_hours
from assistant.planning.visit import Plan, plan
from assistant.procedure.equipment import Procedure, Supply
from assistant.quantities import parse, plain
from assistant.session.trust import FIRST_DAY, MAX_HOURS, can_be_shown

PAGE = "plan.html"
WIDTH = 100  # of the text
LAST_DAY = date(2199, 12, 31)  # a visit is planned for
SHOWN = 40  # characters of what was typed wrong
MAX_MINUTES_SHOWN = 90  # longer is shown in hours


def make_plan(
    asset: str, hours: str | None, day: str | None, tasks: Sequence[str], sessions: Path, root: Path | None = None
) -> Plan:
    """The plan of a visit, its reasons in words.

    hours, day: as typed, None: estimated, and today.
    tasks: names, also several in one with commas; none: all that are due.
    sessions: folder of sessions, it need not be there.
    root: folder of procedures.

    Errors: EngineBayError for what was typed wrong; ProcedureError for what is not there, and for faults in files.
    """
    equipment = equipment_of(asset, root)
    names = [name.strip() for typed in tasks for name in typed.split(",") if name.strip()]
    read = sessions_of(sessions, asset)
    past = done_before((journal.facts() for journal in read.journals.values()), asset)
    result = english_words().worded(plan(equipment, asset, past, _day(day), _hours(hours), names or None))
    damaged = tuple(f"The session {sentence.removesuffix('.')}" for sentence in read.wrong)
    return replace(result, remarks=(*result.remarks, *damaged), damaged=damaged)


def due_now(asset: str, sessions: Path) -> tuple[str, ...]:
    """The tasks that are due before the next visit, the most urgent first. Errors: as of `make_plan`."""
    made = make_plan(asset, None, None, (), sessions)
    return tuple(due.task for due in made.dues if due.task in made.tasks)


def document(plan: Plan) -> dict[str, object]:
    """The plan for a program. minutes: from the shortest to the longest; an amount is a text that keeps its resolution,
    with its unit beside. due: `standing`, and `hours` on the meter and `date`, null where it has none."""
    return {
        "asset": plan.asset,
        "hours": _number(plan.hours),
        "date": plan.day.isoformat(),
        "tasks": [
            {
                "id": due.task,
                "title": plan.equipment.tasks[due.task].title,
                "due": {
                    "standing": due.standing.value,
                    "hours": _number(due.hours),
                    "date": None if due.day is None else due.day.isoformat(),
                },
                "overdue": due.standing is DueStatus.OVERDUE,
                "reason": str(due.reason),
                "minutes": list(plan.minutes[due.task]),
            }
            for due in plan.dues
        ],
        "order": [
            {
                "kind": "task" if stage.is_task else "change",
                "id": stage.name,
                "title": stage.title,
                "minutes": list(stage.minutes),
                "reason": "; ".join(map(str, stage.reasons)),
            }
            for stage in plan.stages
        ],
        "parts": [{"number": part.number, "name": part.name, "quantity": part.quantity} for part in plan.parts],
        "consumables": [_supply(supply) for supply in plan.consumables],
        "tools": list(plan.tools),
        "waste": [_supply(supply) for supply in plan.waste],
        "people": [{"what": person.what, "why": person.why, "tasks": list(person.tasks)} for person in plan.people],
    }


def in_words(plan: Plan, root: Path | None = None) -> str:
    """The plan as text for a screen. root: folder of procedures. Errors: ProcedureError for faults in procedures."""
    return "\n".join(_lines(plan, root))


def write_page(plan: Plan, file: Path, root: Path | None = None) -> Path:
    """Write the plan as a page for screen and paper, with a form to fill in for each part of it. Returns the file.

    Errors: RecordError when it cannot be written; ProcedureError for faults in procedures.
    """
    try:
        write_whole(file, html(plan, root).encode("utf-8"))
    except OSError as error:
        cause = f"the plan cannot be written ({error.strerror})"
        raise RecordError(str(file), cause, "Name a file in a folder that is there and that you may write") from None
    return file


# --- what it is made of --------------------------------------------------------------------------------------


def _day(typed: str | None) -> date:
    if typed is None:
        return date.today()
    try:
        day = date.fromisoformat(typed)
    except ValueError:
        raise EngineBayError(f"--date {typed[:SHOWN]}", "it is no date", "Write it as 2026-03-02") from None
    if not FIRST_DAY <= day <= LAST_DAY:
        cause = f"no visit is planned for that day: it is not from {FIRST_DAY} to {LAST_DAY}"
        raise EngineBayError(f"--date {typed}", cause, "Correct the year")
    return day


def _hours(typed: str | None) -> Decimal | None:
    if typed is None:
        return None
    try:
        quantity = parse(typed if typed.strip().endswith("h") else f"{typed} h", f"--hours {typed[:SHOWN]}")
    except QuantityError as error:
        raise EngineBayError(error.place, error.cause, "Write run hours, such as 1450.5") from None
    if quantity.unit != "h" or not can_be_shown(quantity.value):
        cause = f"these are no run hours from 0 to {plain(MAX_HOURS)}"
        raise EngineBayError(f"--hours {typed}", cause, "Write what the hour meter shows, such as 1450.5")
    return quantity.value


# --- as data and as text -------------------------------------------------------------------------------------


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(round(value, 1))


def _supply(supply: Supply) -> dict[str, str]:
    return {"name": supply.name, "value": plain(supply.amount.value), "unit": supply.amount.unit}


def _span(minutes: tuple[float, float]) -> str:
    """`20 to 30 min`, `3 h 5 min to 5 h`."""
    low, high = (round(end) for end in minutes)
    if high <= MAX_MINUTES_SHOWN:
        return f"{low} min" if low == high else f"{low} to {high} min"
    shown = [f"{end // 60} h {end % 60} min".replace(" 0 min", "").removeprefix("0 h ") for end in (low, high)]
    return shown[0] if low == high else " to ".join(shown)


def _amount(supply: Supply) -> str:
    return f"{supply.amount}{'' if supply.amount.unit else ' ×'} {supply.name}"


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _head(plan: Plan) -> str:
    hours = "run hours not known" if plan.hours is None else in_hours(plan.hours)
    return (
        f"{_capital(plan.equipment.assets[plan.asset])}, {plan.day}, {hours}{' (estimated)' if plan.estimated else ''}"
    )


def _sections(plan: Plan) -> Iterator[tuple[str, list[str]]]:
    """What to bring, to carry away and to mind: heading and lines, where there are any."""
    yield "Parts", [f"{part.quantity} × {part.name}, {part.number}" for part in plan.parts]
    yield "Consumables", [_amount(supply) for supply in plan.consumables]
    yield "Tools", [_capital(tool) for tool in plan.tools]
    yield "To carry away", [_amount(supply) for supply in plan.waste]
    yield "People", [f"{_capital(person.what)} for {', '.join(person.tasks)}: {person.why}" for person in plan.people]
    yield "Open findings that no task settles", [str(finding) for finding in plan.findings]
    yield "Remarks", [f"{remark}." for remark in plan.remarks]


@dataclass(frozen=True, slots=True)
class VisitPart:
    """A part of the visit, in the order of the work.

    procedure: the one that says how.
    minutes: from the shortest to the longest; None where not known.
    reasons: why it stands where it does.
    """

    procedure: str
    title: str
    is_task: bool
    minutes: tuple[float, float] | None
    reasons: tuple[str, ...]


def _parts(plan: Plan, folder: Path) -> tuple[VisitPart, ...]:
    """The visit from its beginning to its end, as it is gone through; nothing where there is nothing to do."""
    equipment, visit = plan.equipment, plan.equipment.visit
    stages = (
        VisitPart(
            equipment.procedure_of(stage.name),
            stage.title,
            stage.is_task,
            stage.minutes,
            tuple(map(str, stage.reasons)),
        )
        for stage in plan.stages
    )
    if not plan.stages:
        return ()
    opening, ending = (
        () if name is None else (VisitPart(name, _title(plan, name, folder), False, None, ()),)
        for name in (visit.opening, visit.ending)
    )
    return (*opening, *stages, *ending)


def _title(plan: Plan, name: str, folder: Path) -> str:
    """What the procedure of a visit's beginning or end is called."""
    procedure = _procedure(plan, name, folder)
    return _capital(name) if procedure is None else procedure.title


def _procedure(plan: Plan, name: str, folder: Path) -> Procedure | None:
    """None where it is not written yet. folder: of the model. Errors: ProcedureError for faults in it."""
    file = folder / f"{name}.yaml"
    return procedure_in(file, plan.equipment) if file.is_file() else None


def _takes(plan: Plan) -> str:
    """How long the visit takes, and what that leaves out."""
    ends = "" if plan.equipment.visit.opening is None else ", without its beginning and end"
    return f"{_span(plan.takes)} in all{ends}"


def _lines(plan: Plan, root: Path | None) -> Iterator[str]:
    yield _head(plan)
    if plan.equipment.demo:
        yield "Demonstration data: every value is invented."
    yield "\nWhat is due"
    for due in plan.dues:
        yield f"  {_capital(due.standing.value)}: {plan.equipment.tasks[due.task].title}"
        yield textwrap.fill(f"{_capital(str(due.reason))}.", WIDTH, initial_indent="      ", subsequent_indent="      ")
    if plan.stages:
        yield f"\nOrder of the visit, {_takes(plan)}"
    else:
        yield "\nNothing is due before the next visit."
    for number, part in enumerate(_parts(plan, folder_of(plan.asset, root)), start=1):
        minutes = "" if part.minutes is None else f", {_span(part.minutes)}"
        yield f"  {number:>2}. {part.title.upper() if part.is_task else part.title}{minutes}"
        for reason in part.reasons:
            yield textwrap.fill(f"{_capital(reason)}.", WIDTH, initial_indent="      ", subsequent_indent="      ")
    for heading, lines in _sections(plan):
        if lines:
            yield f"\n{heading}"
            for line in lines:
                yield textwrap.fill(line, WIDTH, initial_indent="  ", subsequent_indent="    ")


# --- as a page -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FormRow:
    """A step on the form.

    warnings: signal word and text.
    blanks: what is filled in, with its unit and limits.
    choices: boxes to tick beside the step's own.
    """

    number: int
    title: str
    text: str
    warnings: tuple[tuple[str, str], ...]
    blanks: tuple[tuple[str, str, str], ...]
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PaperForm:
    """The form of one part of the visit. parts: as of `form_parts`; none where the procedure is not written yet."""

    title: str
    is_task: bool
    parts: tuple[tuple[str, tuple[FormRow, ...]], ...]


def html(plan: Plan, root: Path | None = None) -> str:
    """The plan as one HTML file. root: folder of procedures. Errors: ProcedureError for faults in procedures."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("assistant.edge.pages", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["capital"] = _capital
    environment.filters["span"] = _span
    folder = folder_of(plan.asset, root)
    parts = _parts(plan, folder)
    return environment.get_template(PAGE).render(
        plan=plan,
        title=", ".join(plan.equipment.tasks[name].title for name in plan.tasks) or "Nothing is due",
        head=_head(plan),
        tasks=plan.equipment.tasks,
        sections=[(heading, lines) for heading, lines in _sections(plan) if lines],
        to_bring=("Parts", "Consumables", "Tools", "To carry away"),
        parts=parts,
        takes=_takes(plan),
        forms=tuple(_forms(plan, parts, folder)),
    )


def _forms(plan: Plan, parts: tuple[VisitPart, ...], folder: Path) -> Iterator[PaperForm]:
    """Of a planned visit a form for every part, numbered as in its order, else one for each task."""
    whole = plan.equipment.visit.opening is not None
    for number, part in enumerate(parts, start=1):
        if part.is_task or whole:
            procedure = _procedure(plan, part.procedure, folder)
            rows = () if procedure is None else tuple(form_parts(procedure))
            yield PaperForm(f"{number}. {part.title}", part.is_task, rows)


def form_parts(procedure: Procedure) -> Iterator[tuple[str, tuple[FormRow, ...]]]:
    """The form of a procedure: for each of its parts the heading, empty where there is only one, and its rows."""
    from assistant.record.rows import PART_HEADINGS

    number = 0
    sections = [section for section in procedure.sections if section.steps]
    for section in sections:
        rows = []
        for step in section.steps:
            number += 1
            warnings = tuple((word.value.upper(), text) for word, text in step.hazards())
            paper = step.on_paper()
            blanks = tuple((_capital(blank.name), blank.unit, blank.limits) for blank in paper.blanks)
            rows.append(FormRow(number, step.title, step.text, warnings, blanks, paper.boxes))
        yield PART_HEADINGS[section.name] if len(sections) > 1 else "", tuple(rows)
