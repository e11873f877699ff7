"""Hearing inside a graph: the best sentences of a word graph, given a model that scores the next piece.

Knows beams, sums over written forms, and the subtraction of the model's own bias. Refuses to know any engine: a
model is the `NextPieceScores` of one utterance and the `QuietScores` of faint noise.

The score of a sentence is the sum, over its written forms, of log p(pieces | sound) - 0.65 log p(pieces | faint noise):
the second part is the model's own idea of what people say, learnt from other speech (internal language model
subtraction: Meng et al., arXiv 2011.01991). Without it, noise turns everything into short frequent words.
"""

from __future__ import annotations

import heapq
from collections import OrderedDict
from collections.abc import Sequence
from dataclasses import dataclass, field
from math import exp
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from assistant.grammar.forms import EMPTY, Saying, Written, WrittenGraph, added
from assistant.grammar.graph import WordGraph
from assistant.grammar.tagged import sense
from assistant.hearing.pieces import Pieces

Float32 = NDArray[np.float32]
Int64 = NDArray[np.int64]

BIAS_WEIGHT = 0.65
GRAMMAR_WEIGHT = 0.8
BEAM = 8
MAX_SAYINGS = 64
"""How many sentences one written text may stand for; `230` has about a dozen."""

_RAW_RANGE = 18.0
"""A hypothesis this much less likely than the best complete one, before subtraction, is given up."""

_FREE_FLOOR = 2.0
"""How far the free text may fall behind the sentence before it is given up: more tells nothing more."""


class NextPieceScores(Protocol):
    """One utterance that a model is writing down."""

    seconds: float

    def step(self, parents: Sequence[int], pieces: Sequence[int]) -> Float32:
        """Log probabilities of the next piece, float32 [rows, pieces].

        Row i goes on from row `parents[i]` of the call before, with `pieces[i]` written there. The first call has
        the one row [0], [start piece].
        """
        ...


class QuietScores(Protocol):
    """The same model hearing faint noise only."""

    def after(self, prefixes: Sequence[tuple[int, ...]]) -> Float32:
        """Log probabilities of the next piece after each prefix (without the start piece), float32 [rows, pieces]."""
        ...


@dataclass(frozen=True, slots=True)
class HeardPath:
    """One meaning that was heard, in its likeliest words.

    saying: offer, words and tags.
    score: log, bias subtracted, summed over its written forms.
    raw: the same without subtraction.
    written: its likeliest written form.
    pieces: how many pieces that has.
    can_grow: whether more words might follow.
    """

    saying: Saying
    score: float
    raw: float
    written: str
    pieces: int
    can_grow: bool


@dataclass(frozen=True, slots=True)
class Evidence:
    """What speaks for and against the best path.

    free_gap: log score of the model's free writing minus the best path's raw score, not below -2.
    margin: score minus that of the second meaning, at most 20.
    raw_per_piece, score_per_piece: of the best path.
    free_cut: the free writing was cut off because it repeated itself or went on too long.
    seconds: length of the sound.
    voice: mean probability of voice, None when nobody measured it.
    own: the engine's own confidence, 0 to 1, where it gives that instead of scores (the scores mean nothing then).
    """

    free_gap: float
    margin: float
    raw_per_piece: float
    score_per_piece: float
    free_pieces: int
    free_cut: bool
    seconds: float
    voice: float | None = None
    own: float | None = None


@dataclass(frozen=True, slots=True)
class Hearing:
    """What was heard.

    paths: distinct meanings, the best first, empty when nothing fitted.
    free: what the model writes without a grammar, for the record only.
    """

    paths: tuple[HeardPath, ...]
    evidence: Evidence
    free: str = ""

    @property
    def unheard(self) -> int:
        """How many pieces the best path has beyond what the model writes freely: two, and it was probably only begun.

        0 where there is no path, and where the engine gives no scores.
        """
        if not self.paths or self.evidence.own is not None:
            return 0
        return max(0, self.paths[0].pieces - self.evidence.free_pieces)


class Recogniser(Protocol):
    """A speech engine that hears inside a graph. Every adapter passes tests/contracts/test_recognisers.py."""

    name: str

    def prepare(self, graph: WordGraph) -> tuple[str, ...]:
        """Makes ready what hearing this graph needs. Returns the words that the engine cannot hear."""
        ...

    def warm(self, graph: WordGraph, most: int) -> int:
        """Does up to `most` pieces of work ahead of hearing this graph; returns how many were done, 0 when ready."""
        ...

    def hear(self, audio: Float32, graph: WordGraph) -> Hearing:
        """audio: float32 [samples], 16 kHz, mono, -1 to 1; one utterance. No sound is an error.

        Errors: RecogniserError when the engine fails.
        """
        ...


# -- the graph in pieces


@dataclass(slots=True)
class _Branch:
    """A place inside the written arcs of one state. state: set at the root only."""

    children: dict[int, int] = field(default_factory=dict)
    complete: list[Written] = field(default_factory=list)
    state: int | None = None


@dataclass(slots=True)
class _Merged:
    """All places that one written text can be at. weights are relative to the best place."""

    places: tuple[tuple[int, float], ...]
    pieces: Int64
    piece_weights: Float32
    final: float | None
    following: dict[int, tuple[int, float]] = field(default_factory=dict)


class PieceGraph:
    """The written graph in a model's pieces, made deterministic lazily: equal texts are one hypothesis."""

    def __init__(self, written: WrittenGraph, pieces: Pieces) -> None:
        self.written = written
        self.pieces = pieces
        self._branches: list[_Branch] = []
        self._roots: dict[int, int] = {}
        self._silent: dict[int, tuple[tuple[int, Saying, float], ...]] = {}
        self._merged: list[_Merged] = []
        self._numbers: dict[tuple[tuple[int, float], ...], int] = {}
        self.start, _ = self._merge({self._root(s): w for s, _, w in self._closed(written.start)})
        self.frontier: list[tuple[float, tuple[int, ...], int]] = [(0.0, (), self.start)]

    def _root(self, state: int) -> int:
        if state in self._roots:
            return self._roots[state]
        root = self._branch()
        self._branches[root].state = state
        self._roots[state] = root
        for arc in self.written.arcs(state):
            if not arc.text:
                continue
            numbers = self.pieces.split(arc.text)
            if numbers is None:
                continue
            at = root
            for number in numbers:
                children = self._branches[at].children
                if number not in children:
                    children[number] = self._branch()
                at = children[number]
            self._branches[at].complete.append(arc)
        return root

    def _branch(self) -> int:
        self._branches.append(_Branch())
        return len(self._branches) - 1

    def _closed(self, state: int) -> tuple[tuple[int, Saying, float], ...]:
        """The states reached from here without writing, with what that adds."""
        if state not in self._silent:
            found = [(state, EMPTY, 0.0)]
            for here, said, weight in found:
                found.extend(
                    (arc.end, added(said, arc.added), weight + arc.weight)
                    for arc in self.written.arcs(here)
                    if not arc.text
                )
            self._silent[state] = tuple(found)
        return self._silent[state]

    def _merge(self, places: dict[int, float]) -> tuple[int, float]:
        best = max(places.values())
        key = tuple(sorted((place, round(weight - best, 4)) for place, weight in places.items()))
        number = self._numbers.get(key)
        if number is None:
            weights: dict[int, float] = {}
            final: float | None = None
            for place, weight in key:
                branch = self._branches[place]
                for piece in branch.children:
                    weights[piece] = max(weights.get(piece, -np.inf), weight)
                if branch.state is not None:
                    for _, end in self.written.ends(branch.state):
                        final = max(final if final is not None else -np.inf, weight + end)
            number = len(self._merged)
            self._numbers[key] = number
            self._merged.append(
                _Merged(
                    key,
                    np.fromiter(weights.keys(), np.int64, len(weights)),
                    np.fromiter(weights.values(), np.float32, len(weights)),
                    final,
                )
            )
        return number, best

    def at(self, number: int) -> _Merged:
        """What may follow there."""
        return self._merged[number]

    def advance(self, number: int, piece: int) -> tuple[int, float]:
        """Where one is after this piece, and the grammar's weight that this adds (natural logarithm)."""
        merged = self._merged[number]
        if piece not in merged.following:
            places: dict[int, float] = {}

            def reach(place: int, weight: float) -> None:
                if weight > places.get(place, -np.inf):
                    places[place] = weight

            for place, weight in merged.places:
                child = self._branches[place].children.get(piece)
                if child is None:
                    continue
                if self._branches[child].children:
                    reach(child, weight)
                for arc in self._branches[child].complete:
                    for state, _, extra in self._closed(arc.end):
                        reach(self._root(state), weight + arc.weight + extra)
            merged.following[piece] = self._merge(places)
        return merged.following[piece]

    def sayings(self, pieces: Sequence[int]) -> dict[Saying, tuple[float, bool]]:
        """The sentences that this written text may stand for: weight, and whether more words might follow."""
        reached: dict[int, dict[Saying, float]] = {}

        def reach(into: dict[int, dict[Saying, float]], place: int, saying: Saying, weight: float) -> None:
            there = into.setdefault(place, {})
            if weight > there.get(saying, -np.inf):
                there[saying] = weight

        for state, said, weight in self._closed(self.written.start):
            reach(reached, self._root(state), said, weight)
        for piece in pieces:
            following: dict[int, dict[Saying, float]] = {}
            for place, sayings in reached.items():
                child = self._branches[place].children.get(piece)
                if child is None:
                    continue
                branch = self._branches[child]
                for saying, weight in heapq.nlargest(MAX_SAYINGS, sayings.items(), key=lambda item: item[1]):
                    if branch.children:
                        reach(following, child, saying, weight)
                    for arc in branch.complete:
                        longer = added(saying, arc.added)
                        for state, said, extra in self._closed(arc.end):
                            reach(following, self._root(state), added(longer, said), weight + arc.weight + extra)
            reached = following
        found: dict[Saying, tuple[float, bool]] = {}
        for place, sayings in reached.items():
            there = self._branches[place].state
            if there is None:
                continue
            for ending, end in self.written.ends(there):
                for saying, weight in sayings.items():
                    whole = added(saying, ending)
                    best, grows = found.get(whole, (-np.inf, False))
                    found[whole] = (max(best, weight + end), grows or self.written.can_grow(there))
        return found


# -- the model's own bias


class Bias:
    """log p(piece | faint noise) after each prefix, computed once and kept for every graph."""

    def __init__(self, quiet: QuietScores, end: int, most: int = 20_000) -> None:
        self._quiet = quiet
        self._end = end
        self._most = most
        self._kept: OrderedDict[tuple[tuple[int, ...], bytes], Float32] = OrderedDict()

    def after(self, wanted: Sequence[tuple[tuple[int, ...], Int64]]) -> list[Float32]:
        """For each prefix and its pieces: float32 [pieces + 1], the last for the end piece."""
        keys = [(prefix, pieces.tobytes()) for prefix, pieces in wanted]
        missing = [at for at, key in enumerate(keys) if key not in self._kept]
        if missing:
            rows = self._quiet.after([keys[at][0] for at in missing])
            for row, at in zip(rows, missing, strict=True):
                self._kept[keys[at]] = np.append(row[wanted[at][1]], row[self._end])
        for key in keys:
            self._kept.move_to_end(key)
        found = [self._kept[key] for key in keys]
        while len(self._kept) > self._most:
            self._kept.popitem(last=False)
        return found

    def holds(self, prefix: tuple[int, ...], pieces: Int64) -> bool:
        """Whether this is known already."""
        return (prefix, pieces.tobytes()) in self._kept

    def warm(self, graph: PieceGraph, most: int, batch: int = 8) -> int:
        """Computes up to `most` prefixes of the graph, the likeliest first; returns how many were new."""
        done = 0
        while graph.frontier and done < most:
            taken: list[tuple[float, tuple[int, ...], int]] = []
            while graph.frontier and len(taken) < batch:
                taken.append(heapq.heappop(graph.frontier))
            new = sum(not self.holds(prefix, graph.at(node).pieces) for _, prefix, node in taken)
            values = self.after([(prefix, graph.at(node).pieces) for _, prefix, node in taken])
            for (cost, prefix, node), value in zip(taken, values, strict=True):
                merged = graph.at(node)
                if not len(merged.pieces):
                    continue
                scores = value[:-1] + merged.piece_weights
                total = _logsumexp(scores if merged.final is None else np.append(scores, value[-1]))
                for piece, score in zip(merged.pieces.tolist(), scores.tolist(), strict=True):
                    if score - total > -7:
                        following, _ = graph.advance(node, piece)
                        heapq.heappush(graph.frontier, (cost - (score - total), (*prefix, piece), following))
            done += new
        return done


# -- decoding


@dataclass(slots=True)
class _PartialText:
    pieces: tuple[int, ...]
    node: int
    raw: float
    bias: float
    weight: float


@dataclass(slots=True)
class _Complete:
    pieces: tuple[int, ...]
    raw: float
    bias: float
    weight: float

    @property
    def score(self) -> float:
        return self.raw - BIAS_WEIGHT * self.bias + GRAMMAR_WEIGHT * self.weight


@dataclass(slots=True)
class _Free:
    """The model's writing without a grammar, the likeliest piece each time, bounded."""

    most: int
    pieces: list[int] = field(default_factory=list)
    raw: float = 0.0
    open: bool = True
    cut: bool = False

    def take(self, scores: Float32, end: int) -> None:
        piece = int(scores.argmax())
        self.raw += float(scores[piece])
        if piece == end:
            self.open = False
            return
        self.pieces.append(piece)
        if len(self.pieces) >= self.most or _repeats(self.pieces):
            self.open, self.cut = False, True


def _repeats(pieces: Sequence[int]) -> bool:
    """Whether the last one to four pieces stand there three times in a row (four times for a single one)."""
    for size in range(1, 5):
        times = 4 if size == 1 else 3
        tail = pieces[-size * times :]
        if len(tail) == size * times and all(tail[i] == tail[i % size] for i in range(len(tail))):
            return True
    return False


def _logsumexp(values: NDArray[np.float32] | Sequence[float]) -> float:
    array = np.asarray(values, dtype=np.float64)
    best = float(array.max())
    if best == -np.inf:
        return best
    return best + float(np.log(np.exp(array - best).sum()))


def decode(scores: NextPieceScores, graph: PieceGraph, bias: Bias, beam: int = BEAM) -> Hearing:
    """The best meanings of the graph for one utterance. beam: how many hypotheses go on after each piece."""
    end = graph.pieces.end
    most = int(10 * scores.seconds) + 24
    free = _Free(int(8 * scores.seconds) + 8)
    rows = scores.step([0], [graph.pieces.start])
    alive = [_PartialText((), graph.start, 0.0, 0.0, 0.0)]
    free_row = 0
    complete: list[_Complete] = []
    best_raw = -np.inf
    for _ in range(most):
        if free.open:
            free.take(rows[free_row], end)
        biases = bias.after([(hypothesis.pieces, graph.at(hypothesis.node).pieces) for hypothesis in alive])
        totals, raws = [], []
        for row, (hypothesis, own) in enumerate(zip(alive, biases, strict=True)):
            merged = graph.at(hypothesis.node)
            raw = rows[row, merged.pieces] + np.float32(hypothesis.raw)
            totals.append(
                raw
                - BIAS_WEIGHT * (own[:-1] + np.float32(hypothesis.bias))
                + GRAMMAR_WEIGHT * (merged.piece_weights + np.float32(hypothesis.weight))
            )
            raws.append(raw)
            if merged.final is not None and hypothesis.pieces:
                whole = hypothesis.raw + float(rows[row, end])
                whole_bias = hypothesis.bias + float(own[-1])
                weight = hypothesis.weight + merged.final
                complete.append(_Complete(hypothesis.pieces, whole, whole_bias, weight))
                best_raw = max(best_raw, whole)
        lengths = np.cumsum([0, *(len(total) for total in totals)])
        total, raw_all = np.concatenate(totals), np.concatenate(raws)
        total = np.where(raw_all < max(best_raw, float(raw_all.max(initial=-np.inf))) - _RAW_RANGE, -np.inf, total)
        count = min(beam, int(np.isfinite(total).sum()))
        if not count:
            break
        chosen = np.argpartition(-total, count - 1)[:count]
        chosen = chosen[np.argsort(-total[chosen], kind="stable")]
        following, parents = [], []
        for at in chosen.tolist():
            row = int(np.searchsorted(lengths, at, side="right")) - 1
            hypothesis, offset = alive[row], at - int(lengths[row])
            piece = int(graph.at(hypothesis.node).pieces[offset])
            node, weight = graph.advance(hypothesis.node, piece)
            following.append(
                _PartialText(
                    (*hypothesis.pieces, piece),
                    node,
                    float(raws[row][offset]),
                    hypothesis.bias + float(biases[row][offset]),
                    hypothesis.weight + weight,
                )
            )
            parents.append(row)
        alive = following
        written = [hypothesis.pieces[-1] for hypothesis in alive]
        if free.open:
            parents.append(free_row)
            written.append(free.pieces[-1])
            free_row = len(alive)
        rows = scores.step(parents, written)
    best_sentence = max((c.raw for c in complete), default=-np.inf)
    while free.open and free.raw > best_sentence - _FREE_FLOOR:
        rows = scores.step([free_row], [free.pieces[-1]])
        free_row = 0
        free.take(rows[0], end)
    if not complete:
        complete = _finished(alive, graph)
    return _hearing(complete, free, graph, scores.seconds)


_UNHEARD = -10.0
"""What a piece costs that is only added so that a sentence ends."""


def _finished(alive: Sequence[_PartialText], graph: PieceGraph, most: int = 2_000) -> list[_Complete]:
    """The best hypothesis ended in the fewest pieces: what was heard ended no sentence, yet something is owed."""
    waiting = [(hypothesis.node, hypothesis.pieces, hypothesis) for hypothesis in alive[:1]]
    seen = {node for node, _, _ in waiting}
    for node, pieces, hypothesis in waiting:
        merged = graph.at(node)
        if merged.final is not None and pieces:
            lost = _UNHEARD * (len(pieces) - len(hypothesis.pieces) + 1)
            return [_Complete(pieces, hypothesis.raw + lost, hypothesis.bias, hypothesis.weight)]
        for piece in merged.pieces.tolist():
            following, _ = graph.advance(node, piece)
            if following not in seen and len(seen) < most:
                seen.add(following)
                waiting.append((following, (*pieces, piece), hypothesis))
    return []


@dataclass(frozen=True, slots=True)
class _WeightedSaying:
    """One written form as one sentence. share: log of the part of the form that is this sentence."""

    saying: Saying
    form: _Complete
    share: float
    grows: bool


def _score(weighted: Sequence[_WeightedSaying]) -> float:
    """The score of what these sayings share: the sum over the written forms, less the bias of those that were written.

    Each form counts by its part of the sum, else a form that nobody writes would win by its tiny bias.
    """
    raws = [saying.form.raw + GRAMMAR_WEIGHT * saying.form.weight + saying.share for saying in weighted]
    total = _logsumexp(raws)
    bias = sum(exp(raw - total) * saying.form.bias for raw, saying in zip(raws, weighted, strict=True))
    return total - BIAS_WEIGHT * bias


def _hearing(complete: list[_Complete], free: _Free, graph: PieceGraph, seconds: float) -> Hearing:
    expectation = graph.written.graph.expectation
    complete = sorted(complete, key=lambda hypothesis: -hypothesis.score)[:24]
    senses: dict[object, list[_WeightedSaying]] = {}
    for hypothesis in complete:
        ways = graph.sayings(hypothesis.pieces)
        total = _logsumexp([weight for weight, _ in ways.values()])
        for saying, (weight, grows) in ways.items():
            offer = None if expectation is None or saying.offer is None else expectation.offers[saying.offer]
            key = (saying.offer, sense(offer, saying.words, saying.tags))
            # A text that stands for several sentences is shared among them by the grammar's weights.
            senses.setdefault(key, []).append(_WeightedSaying(saying, hypothesis, weight - total, grows))
    paths = []
    for entries in senses.values():
        by_saying: dict[Saying, list[_WeightedSaying]] = {}
        for way in entries:
            by_saying.setdefault(way.saying, []).append(way)
        best = max(by_saying.values(), key=_score)
        likeliest = max(best, key=lambda way: way.form.score + way.share)
        paths.append(
            HeardPath(
                likeliest.saying,
                _score(entries),
                _logsumexp([way.form.raw + way.share for way in entries]),
                graph.pieces.join(likeliest.form.pieces),
                len(likeliest.form.pieces),
                likeliest.grows,
            )
        )
    paths.sort(key=lambda path: -path.score)
    free_text = graph.pieces.join(free.pieces)
    if not paths:
        return Hearing((), Evidence(20.0, 0.0, -20.0, -20.0, len(free.pieces), free.cut, seconds), free_text)
    top = paths[0]
    evidence = Evidence(
        free_gap=max(free.raw - top.raw, -_FREE_FLOOR),
        margin=min(top.score - paths[1].score, 20.0) if len(paths) > 1 else 20.0,
        raw_per_piece=top.raw / (top.pieces + 1),
        score_per_piece=top.score / (top.pieces + 1),
        free_pieces=len(free.pieces),
        free_cut=free.cut,
        seconds=seconds,
    )
    return Hearing(tuple(paths), evidence, free_text)
