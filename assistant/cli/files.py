"""The commands that look at files and write others: sound, procedures, languages, sessions."""

from __future__ import annotations

import json

import typer

from assistant.cli import options as o
from assistant.cli.reporting import DAMAGED, errors_in_words, show, warn_of_damage
from assistant.errors import EngineBayError


@errors_in_words()
def hear(
    wavs: o.Wavs,
    grammar: o.GrammarFile,
    rule: o.Rule = None,
    engine: o.Engine = "bundled",
    model: o.Model = None,
    as_json: o.AsLines = False,
) -> None:
    """What was said in sound files, inside a grammar."""
    from assistant.edge.sound.hear import hear_files

    for answer in hear_files(grammar, rule, engine, model, wavs):
        print(json.dumps(answer, ensure_ascii=False) if as_json else _in_words(answer), flush=True)


def _in_words(answer: dict[str, object]) -> str:
    if answer.get("error"):
        return f"{answer['error']}"
    mark = "accepted" if answer["accepted"] else "not accepted"
    return f"{answer['file']}: {answer['text']!r} {answer['tags']} {mark}, confidence {answer['confidence']}"


@errors_in_words()
def check(path: o.Checked = None, as_json: o.AsDocument = False) -> None:
    """Everything that is wrong in procedures, or in a language's wording and grammars. Work refuses what is wrong."""
    from assistant.edge.checking.models import check as examine
    from assistant.edge.checking.models import document, in_words

    checked = examine(path)
    show(lambda: document(checked), lambda: in_words(checked), as_json)
    if checked.wrong:
        raise typer.Exit(1)


@errors_in_words()
def words(
    asset: o.AnyAsset = None,
    procedure: o.Procedure = None,
    state: o.State = None,
    measured: o.Measured = None,
    top: o.Top = 3,
    pronounce: o.Pronounce = False,
    as_json: o.AsDocument = False,
) -> None:
    """What sounds most alike among what may be said at one moment. Fails where two phrases are too near."""
    from assistant.edge.checking.words import compare_phrases, confusions, document, every_phrase, in_words

    if pronounce:
        from assistant.edge.checking.pronouncing import write_table

        print(write_table("en", every_phrase()))
        return
    heard = None
    if measured is not None:
        from assistant.rehearsal.measuring.engines import OURS
        from assistant.rehearsal.measuring.report import read_rows

        parts = read_rows(measured)
        if not parts:
            raise EngineBayError(f"--measured {measured}", "it holds no rows", "Name a folder of `bench hearing`")
        heard = confusions((row for rows in parts.values() for row in rows), OURS)
    states = compare_phrases(asset, procedure, state)
    show(lambda: document(states, top, heard), lambda: in_words(states, top, heard), as_json)
    if any(looked_at.too_near for looked_at in states):
        raise typer.Exit(1)


@errors_in_words()
def export(session: o.Exported = None, to: o.Form = "html") -> None:
    """The record of a session: a page for screen and paper, a JSON document, a table. Written into its folder."""
    from assistant.edge.files.evidence import faults_of
    from assistant.edge.pages.exports import export_csv, export_json, schema
    from assistant.edge.pages.record_page import export_html

    forms = {"html": export_html, "json": export_json, "csv": export_csv}
    if to == "schema":
        print(schema(), end="")
    elif to not in forms:
        raise EngineBayError(f"--to {to}", "there is no such form", f"Use one of {', '.join(forms)}, schema")
    elif session is None:
        raise EngineBayError(f"--to {to}", "no session is named", "Name the folder of a session")
    else:
        print(forms[to](session))
        warn_of_damage(faults_of(session))


@errors_in_words()
def salvage(session: o.Damaged, as_json: o.AsJson = False) -> None:
    """Keep what still holds of a damaged session, in a new session beside it that says so. Nothing is changed in it."""
    from assistant.edge.files.salvaging import salvage as keep_what_holds

    kept = keep_what_holds(session)
    document = {"session": str(kept.folder), "lines": kept.lines, "gaps": kept.gaps, "left": kept.left}
    show(lambda: document, kept.in_words, as_json)
    if kept.left:
        raise typer.Exit(DAMAGED)
