"""The measurements, on this machine or from speech that was rendered on another."""

from __future__ import annotations

import sys
from pathlib import Path

from assistant.cli import options as o
from assistant.cli.reporting import errors_in_words


@errors_in_words()
def hearing(
    out: o.Out = Path("hearing"),
    short: o.Short = False,
    workers: o.Workers = 1,
    seed: o.BenchSeed = 1,
    part: o.Part = None,
    render: o.Render = None,
    rendered: o.Rendered = None,
    grammar: o.MeasuredGrammar = None,
    people: o.People = None,
    speech: o.Speech = None,
    noise: o.Noise = None,
    hours: o.StreamHours = None,
    model: o.Model = None,
    encoder: o.Encoder = "adapted",
    neural: o.Neural = None,
) -> None:
    """How much is understood, beside other engines on the same sound: voices, noise, false accepts, time, memory."""
    from dataclasses import replace

    from assistant.rehearsal.measuring.command import measure
    from assistant.rehearsal.measuring.run import LONG, PARTS, SHORT, Options

    form = SHORT if short else LONG
    options = Options(
        form=form if hours is None else replace(form, hours=hours),
        seed=seed,
        workers=workers,
        parts=tuple(part or PARTS),
        rendered=rendered,
        grammar=grammar,
        people=people,
        speech=speech,
        noise=noise,
        vosk=model,
        encoder=encoder,
        neural=neural,
    )
    measure(options, out, render, sys.argv[1:])
