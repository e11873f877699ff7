"""Every option and argument of the command line, each declared once, and how several of them are one bundle.

Knows their names, their help and their defaults. Refuses to know what a command does with them.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, get_type_hints

import typer

# --- of several commands ---------------------------------------------------------------------------------------------

Asset = Annotated[str, typer.Argument(help="The asset, such as marram-auxiliary.")]
Engine = Annotated[str, typer.Option(help="Speech engine: bundled, or vosk with --model.")]
Model = Annotated[Path | None, typer.Option(help="Folder of a Vosk model.")]
Typed = Annotated[bool, typer.Option("--typed", help="Keyboard and screen instead of microphone and loudspeaker.")]
AsJson = Annotated[bool, typer.Option("--json", help="End with one line of JSON for a program to read.")]
AsDocument = Annotated[bool, typer.Option("--json", help="One JSON document.")]
Sessions = Annotated[Path | None, typer.Option(help="Where session folders are made.")]
Seed = Annotated[int, typer.Option(help="Gives the technician's voice, readings and mistakes.")]


@dataclasses.dataclass(frozen=True, slots=True)
class VisitOptions:
    """What demo, work and resume are told of this machine.

    as_json: the result is one line of JSON.
    engine, model, voice: by which it hears and speaks.
    microphone, loudspeaker: number or part of the name; None: the system's choice.
    headset: the microphone does not hear the loudspeaker.
    button: a talk button; None: there is none.
    beside: also when somebody else is at work on the asset.
    """

    as_json: AsJson = False
    engine: Engine = "bundled"
    model: Model = None
    voice: Annotated[str, typer.Option("--voice", help="Voice: pyttsx3 or espeak-ng.")] = "pyttsx3"
    microphone: Annotated[str | None, typer.Option(help="Number or part of the name of the device.")] = None
    loudspeaker: Annotated[str | None, typer.Option(help="Number or part of the name of the device.")] = None
    headset: Annotated[
        bool, typer.Option("--headset", help="The microphone does not hear the loudspeaker: speak whenever you like.")
    ] = False
    button: Annotated[str | None, typer.Option(help="Talk button: pin:17, or key:pedal/KEY_F13.")] = None
    beside: Annotated[
        bool, typer.Option("--beside", help="Also when somebody else is at work on the asset; the record says so.")
    ] = False


AS_USUAL = VisitOptions()


def bundled(command: Callable[..., None]) -> Callable[..., None]:
    """A command for typer: a parameter that is a bundle, such as `VisitOptions`, stands there as all its options."""
    parameters: list[inspect.Parameter] = []
    bundles: dict[str, Any] = {}
    for parameter in inspect.signature(command, eval_str=True).parameters.values():
        if not dataclasses.is_dataclass(parameter.annotation):
            parameters.append(parameter)
            continue
        bundles[parameter.name] = parameter.annotation
        hints = get_type_hints(parameter.annotation, include_extras=True)
        parameters += [
            inspect.Parameter(field.name, parameter.kind, default=field.default, annotation=hints[field.name])
            for field in dataclasses.fields(parameter.annotation)
        ]

    def run(**given: object) -> None:
        for name, bundle in bundles.items():
            given[name] = bundle(**{field.name: given.pop(field.name) for field in dataclasses.fields(bundle)})
        command(**given)

    run.__name__, run.__doc__ = command.__name__, command.__doc__
    run.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]  # what typer reads
    run.__annotations__ = {parameter.name: parameter.annotation for parameter in parameters}
    return run


# --- demo, work, resume ----------------------------------------------------------------------------------------------

NoiseDb = Annotated[float, typer.Option(help="Speech above the engine's noise, in decibels.")]
WholeVisit = Annotated[
    bool, typer.Option("--visit", help="A whole visit of four tasks, rather than oil and filter alone.")
]
Live = Annotated[bool, typer.Option("--live", help="You are the technician: microphone, real time.")]
Aloud = Annotated[bool, typer.Option("--aloud", help="Play both voices; pauses are left out.")]
Interrupt = Annotated[
    bool, typer.Option("--interrupt", help="The power is cut in the middle; the work is taken up again.")
]
Tasks = Annotated[
    list[str] | None,
    typer.Argument(
        metavar="[TASK]...",
        help="Tasks, such as oil-and-filter; without them those that are due.",
        show_default=False,
    ),
]
Technician = Annotated[str, typer.Option(help="The role that does the work.")]
BrokenSession = Annotated[Path, typer.Argument(help="The folder of a session that broke off.")]
NextTechnician = Annotated[
    str | None, typer.Option(help="The role that goes on; without it the one that worked last.", show_default=False)
]

# --- hear, check, words ----------------------------------------------------------------------------------------------

Wavs = Annotated[list[Path], typer.Argument(metavar="WAV...", help="Sound files, one utterance each.")]
GrammarFile = Annotated[Path, typer.Option(help="JSGF file; its imports are looked for beside it.")]
Rule = Annotated[str | None, typer.Option(help="One rule; without it every public rule.")]
AsLines = Annotated[bool, typer.Option("--json", help="One line of JSON a file.")]
Checked = Annotated[
    Path | None,
    typer.Argument(
        help="A procedure file, a model's folder, or a language's; without it all that is shipped.",
        show_default=False,
    ),
]
AnyAsset = Annotated[str | None, typer.Argument(help="An asset; without it every shipped one.", show_default=False)]
Procedure = Annotated[str | None, typer.Argument(help="A procedure; without it all of the asset.", show_default=False)]
State = Annotated[
    str | None, typer.Option(metavar="STEP", help="Only what may be said at this step.", show_default=False)
]
Measured = Annotated[
    Path | None,
    typer.Option(help="A folder of `bench hearing`: how often one was heard for the other.", show_default=False),
]
Top = Annotated[int, typer.Option(min=1, help="How many pairs of each state.")]
Pronounce = Annotated[
    bool, typer.Option("--pronounce", help="Write the shipped table of pronunciations anew, by espeak-ng.")
]

# --- export, salvage -------------------------------------------------------------------------------------------------

Exported = Annotated[Path | None, typer.Argument(help="A session's folder; none for --to schema.", show_default=False)]
Form = Annotated[str, typer.Option(help="The form: html, json, csv, or schema for the JSON Schema of json.")]
Damaged = Annotated[Path, typer.Argument(help="The folder of a session whose journal is damaged.")]

# --- calc, trend, plan, bring-in -------------------------------------------------------------------------------------

Calculation = Annotated[
    str | None, typer.Argument(help="The calculation; without it all are listed.", show_default=False)
]
Inputs = Annotated[
    list[str] | None,
    typer.Argument(metavar="[KEY=VALUE]...", help='Its inputs, such as force="30 N".', show_default=False),
]
Reading = Annotated[
    str | None,
    typer.Argument(help="The reading, such as 'oil pressure'; without it all are listed.", show_default=False),
]
KeptSessions = Annotated[Path | None, typer.Option(help="Where session folders lie.")]
Plot = Annotated[Path | None, typer.Option(help="Draw the trend of the reading into this SVG file.")]
Hours = Annotated[
    str | None, typer.Option(help="What the hour meter shows; without it an estimate.", show_default=False)
]
Date = Annotated[
    str | None, typer.Option(help="Day of the visit, such as 2026-03-02; without it today.", show_default=False)
]
PlannedTasks = Annotated[
    list[str] | None,
    typer.Option(help="Only these tasks, with commas between; without it all that are due.", show_default=False),
]
EarlierSessions = Annotated[Path | None, typer.Option(help="Folder of earlier sessions.", show_default=False)]
Html = Annotated[
    Path | None,
    typer.Option(help="Write a page to print into this file, with forms to fill in.", show_default=False),
]
HistoryFile = Annotated[Path, typer.Argument(help="CSV file with the columns date, hours, task; a line for each task.")]

# --- bench hearing ---------------------------------------------------------------------------------------------------

Out = Annotated[Path, typer.Option(help="Where rows, report, JSON and plot go.")]
Short = Annotated[bool, typer.Option("--short", help="Some minutes on one core instead of two core hours.")]
Workers = Annotated[int, typer.Option(min=1, help="Processes, one core each.")]
BenchSeed = Annotated[int, typer.Option(help="Gives voices, numbers, noise.")]
Part = Annotated[list[str] | None, typer.Option(help="Only these parts; others stay as they lie in --out.")]
Render = Annotated[
    Path | None, typer.Option(help="Only render the speech into this folder, for a machine without synthesisers.")
]
Rendered = Annotated[Path | None, typer.Option(help="Speech that was rendered before.")]
MeasuredGrammar = Annotated[Path | None, typer.Option(help="JSGF file; its sentences are measured too.")]
People = Annotated[Path | None, typer.Option(help="Folder for Debian's recordings; fetched when missing.")]
Speech = Annotated[Path | None, typer.Option(help="Folder of WAV files, each with a text of the same name.")]
Noise = Annotated[Path | None, typer.Option(help="WAV file of noise.")]
StreamHours = Annotated[
    float | None, typer.Option(min=0.01, help="Of each of the four streams; what lies in --out is not heard again.")
]
Encoder = Annotated[str, typer.Option(help="shipped, adapted, or a file.")]
Neural = Annotated[Path | None, typer.Option(help="Folder of neural voices, for the tuning side.")]
