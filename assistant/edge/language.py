"""A language's folder: grammars, written forms, spoken forms and wording, read once and compiled when needed."""

from __future__ import annotations

from pathlib import Path

from assistant.dialogue.wording import Wording, read_wording
from assistant.edge import places
from assistant.errors import EngineBayError, GrammarError
from assistant.grammar.expectation import Expectation
from assistant.grammar.forms import Forms, forms_table, parse_text
from assistant.grammar.graph import WordGraph, compile_expectation
from assistant.grammar.jsgf import Grammar
from assistant.grammar.spoken import spoken_forms
from assistant.grammar.tagged import meaning
from assistant.session.inputs import Hypothesis

GRAPHS_KEPT = 48


class Language:
    """What the program hears and says in one language. folder: such as `grammars/en`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.forms: Forms = forms_table(read_yaml(folder / "forms.yaml"), "forms.yaml")
        self.wording: Wording = read_wording(
            read_yaml(folder / "wording.yaml"), spoken_forms(read_yaml(folder / "spoken.yaml"))
        )
        self._grammars: dict[str, Grammar] = {}
        self._graphs: dict[Expectation, WordGraph] = {}

    def source(self, name: str) -> str:
        """The text of one of the language's grammars. Errors: GrammarError when there is none of this name."""
        path = self.folder / f"{name}.jsgf"
        if not path.is_file():
            known = ", ".join(sorted(file.stem for file in self.folder.glob("*.jsgf")))
            raise GrammarError(str(path), f"there is no grammar {name!r}", f"Use one of {known}")
        return path.read_text(encoding="utf-8")

    def graph(self, expectation: Expectation) -> WordGraph:
        """What may be said now, compiled; the same expectation gives the same graph again."""
        found = self._graphs.get(expectation)
        if found is None:
            if len(self._graphs) >= GRAPHS_KEPT:
                self._graphs.pop(next(iter(self._graphs)))
            found = compile_expectation(expectation, self.source, self._grammars)
            self._graphs[expectation] = found
        return found

    def typed(self, graph: WordGraph, text: str) -> tuple[Hypothesis, ...]:
        """What a typed line may mean, distinct meanings only; empty when it is nothing that may be said now."""
        found: dict[object, Hypothesis] = {}
        for parsed in parse_text(graph, text, self.forms):
            saying = parsed.saying
            if graph.expectation is None or saying.offer is None:
                continue
            means = meaning(graph.expectation.offers[saying.offer], saying.tags)
            found.setdefault(means, Hypothesis(means, " ".join(saying.words), 1.0))
        return tuple(found.values())


def read_yaml(path: Path) -> object:
    """The content of a YAML file. Errors: EngineBayError when it cannot be read."""
    import yaml

    try:
        content: object = yaml.safe_load(path.read_text(encoding="utf-8"))
    except (OSError, yaml.YAMLError) as error:
        raise EngineBayError(str(path), f"it cannot be read ({error})", "Restore the file") from None
    return content


def english() -> Language:
    """The shipped English."""
    return Language(places.grammars() / "en")
