"""The bundled English model, decoded inside a word graph. Runs of onnxruntime only; the search is in `hearing`.

Knows the shapes of the model that the wheel `moonshine-voice` carries. Refuses to know grammars and judgement.
"""

from __future__ import annotations

import importlib.util
from collections import OrderedDict
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from assistant.errors import EngineBayError, RecogniserError
from assistant.grammar.forms import Forms, WrittenGraph
from assistant.grammar.graph import WordGraph
from assistant.hearing.decoding import BEAM, Bias, Float32, Hearing, PieceGraph, decode
from assistant.hearing.pieces import Pieces

RATE = 16_000
_LAYERS, _HEADS, _SIZE, _WIDTH = 6, 8, 36, 288
_MIN_SECONDS = 0.5
_QUIET_SECONDS, _QUIET_LEVEL = 0.5, 0.001
_KEPT_PREFIXES = 2_500  # 13.8 kB each
_KEPT_GRAPHS = 16  # in pieces, about 27 MB each for numbers; each holds its word graph, so weak keys would free none
_FILES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")
ENCODER = "adapted"
"""Which encoder hears when none is named: `shipped` is that of the wheel, `adapted` that of `weights/card.md`."""
_ADAPTED = Path(__file__).parent / "weights" / "encoder_adapted.onnx"
_REMEDY = "Install it again with `pip install moonshine-voice==0.0.54`"


def model_folder() -> Path:
    """Where the wheel put the model. Errors: RecogniserError when the wheel or one of its files is missing."""
    found = importlib.util.find_spec("moonshine_voice")
    if found is None or not found.submodule_search_locations:
        raise RecogniserError("bundled engine", "the package moonshine-voice is not installed", _REMEDY)
    folder = Path(found.submodule_search_locations[0]) / "assets" / "tiny-en"
    for name in _FILES:
        if not (folder / name).is_file():
            raise RecogniserError("bundled engine", f"{name} is missing in {folder}", _REMEDY)
    return folder


def encoder_file(encoder: str | Path, folder: Path) -> Path:
    """The file of this encoder: `shipped` (in this model folder), `adapted`, or a path of one's own.

    Errors: RecogniserError when there is no such file.
    """
    path = {"shipped": folder / _FILES[0], "adapted": _ADAPTED}.get(str(encoder), Path(encoder))
    if not path.is_file():
        raise RecogniserError("bundled engine", f"the encoder {path} is missing", _REMEDY)
    return path


def read_pieces(data: bytes) -> Pieces:
    """The pieces of a tokenizer file: each a length (two bytes above 127) and its bytes.

    Errors: ValueError when the file is cut.
    """
    pieces, at = [], 0
    while at < len(data):
        length = data[at]
        at += 1
        if length > 127:
            if at >= len(data):
                raise ValueError("the file ends inside a length")
            length += data[at] * 128 - 128
            at += 1
        if at + length > len(data):
            raise ValueError("the file ends inside a piece")
        pieces.append(data[at : at + length])
        at += length
    return Pieces(pieces)


class _Model:
    """The two sessions, and one decoder run."""

    def __init__(self, folder: Path, encoder: Path) -> None:
        import onnxruntime  # heavy; loaded when hearing is set up

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        try:
            self._encoder, self._decoder = (
                onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
                for path in (encoder, folder / _FILES[1])
            )
        except Exception as wrong:  # onnxruntime has no common class for a damaged file
            raise RecogniserError("bundled engine", f"the model does not load ({wrong})", _REMEDY) from None
        cells = [f"{layer}.{{}}.{part}" for layer in range(_LAYERS) for part in ("key", "value")]
        self._past = [f"past_key_values.{cell.format('decoder')}" for cell in cells]
        self._heard = [f"past_key_values.{cell.format('encoder')}" for cell in cells]
        self._present = ["logits", *(f"present.{cell.format('decoder')}" for cell in cells)]
        self._first = [*self._present, *(f"present.{cell.format('encoder')}" for cell in cells)]

    def encode(self, audio: Float32) -> Float32:
        """audio float32 [samples] -> float32 [1, frames, 288]."""
        mask = np.ones((1, len(audio)), dtype=np.int64)
        encoded: Float32 = self._encoder.run(None, {"input_values": audio[None], "attention_mask": mask})[0]
        return encoded

    def first(self, encoded: Float32, samples: int, piece: int) -> tuple[Float32, list[Float32], list[Float32]]:
        """The start piece: log probabilities [1, pieces], cells of the writing, cells of the sound."""
        empty = np.zeros((1, _HEADS, 0, _SIZE), dtype=np.float32)
        feed: dict[str, Any] = dict.fromkeys((*self._past, *self._heard), empty)  # arrays of two types
        feed |= {
            "input_ids": np.array([[piece]], dtype=np.int64),
            "encoder_hidden_states": encoded,
            "encoder_attention_mask": np.ones((1, samples), dtype=np.int64),
            "use_cache_branch": np.array([False]),
        }
        logits, *cells = self._decoder.run(self._first, feed)
        return _log_softmax(logits[:, -1]), cells[: 2 * _LAYERS], cells[2 * _LAYERS :]

    def next(self, sound: _Sound, past: Sequence[Float32], pieces: Sequence[int]) -> tuple[Float32, list[Float32]]:
        """One more piece on each row: log probabilities [rows, pieces], cells of the writing, one position longer."""
        rows = len(pieces)
        encoded, mask, heard = sound.rows(rows)
        feed: dict[str, Any] = dict(zip(self._past, past, strict=True))  # arrays of two types
        feed |= zip(self._heard, heard, strict=True)
        feed |= {
            "input_ids": np.array(pieces, dtype=np.int64)[:, None],
            "encoder_hidden_states": encoded,
            "encoder_attention_mask": mask,
            "use_cache_branch": np.array([True]),
        }
        logits, *cells = self._decoder.run(self._present, feed)
        return _log_softmax(logits[:, -1]), cells


def _log_softmax(logits: Float32) -> Float32:
    shifted = logits - logits.max(axis=-1, keepdims=True)
    result: Float32 = shifted - np.log(np.exp(shifted).sum(axis=-1, keepdims=True))
    return result


class _Sound:
    """What the decoder needs of one encoded sound, repeated for as many rows as were ever asked for."""

    def __init__(self, encoded: Float32, samples: int, cells: Sequence[Float32]) -> None:
        self._encoded, self._cells, self._samples = encoded, list(cells), samples
        self._mask = np.ones((1, samples), dtype=np.int64)

    def rows(self, count: int) -> tuple[Float32, np.ndarray[Any, np.dtype[np.int64]], list[Float32]]:
        have = len(self._mask)
        if count > have:
            self._encoded = np.repeat(self._encoded[:1], count, axis=0)
            self._cells = [np.repeat(cell[:1], count, axis=0) for cell in self._cells]
            self._mask = np.ones((count, self._samples), dtype=np.int64)
        return self._encoded[:count], self._mask[:count], [cell[:count] for cell in self._cells]


class _PieceScores:
    """One utterance being written: `NextPieceScores` of the decoding."""

    def __init__(self, model: _Model, audio: Float32) -> None:
        self.seconds = len(audio) / RATE
        self._model = model
        self._samples = len(audio)
        self._encoded = model.encode(audio)
        self._sound: _Sound | None = None
        self._past: list[Float32] = []

    def step(self, parents: Sequence[int], pieces: Sequence[int]) -> Float32:
        if self._sound is None:
            scores, self._past, heard = self._model.first(self._encoded, self._samples, pieces[0])
            self._sound = _Sound(self._encoded, self._samples, heard)
            return scores
        past = self._past
        if list(parents) != list(range(len(past[0]))):
            past = [cell[list(parents)] for cell in past]
        scores, self._past = self._model.next(self._sound, past, pieces)
        return scores


class _Quiet:
    """The model hearing faint noise: `QuietScores` of the decoding.

    Each prefix keeps only the cells of its own last position, so that prefixes share what they begin with.
    """

    def __init__(self, model: _Model, start: int) -> None:
        self._model = model
        noise = np.random.default_rng(1).standard_normal(int(_QUIET_SECONDS * RATE)).astype(np.float32)
        encoded = model.encode(noise * np.float32(_QUIET_LEVEL))
        self._start_scores, cells, heard = model.first(encoded, len(noise), start)
        self._sound = _Sound(encoded, len(noise), heard)
        self._start_cells = np.stack([cell[0, :, -1] for cell in cells])
        self._kept: OrderedDict[tuple[int, ...], Float32] = OrderedDict()

    def after(self, prefixes: Sequence[tuple[int, ...]]) -> Float32:
        found = np.empty((len(prefixes), self._start_scores.shape[1]), dtype=np.float32)
        lengths: dict[int, list[int]] = {}
        for at, prefix in enumerate(prefixes):
            lengths.setdefault(len(prefix), []).append(at)
        for length in sorted(lengths):
            places = lengths[length]
            if length == 0:
                found[places] = self._start_scores[0]
            else:
                found[places] = self._run([prefixes[at] for at in places])
        while len(self._kept) > _KEPT_PREFIXES:
            self._kept.popitem(last=False)
        return found

    def _run(self, prefixes: list[tuple[int, ...]]) -> Float32:
        length = len(prefixes[0])
        for size in range(1, length):
            lost = list(dict.fromkeys(p[:size] for p in prefixes if p[:size] not in self._kept))
            if lost:
                self._run(lost)
        rows = []
        for prefix in prefixes:
            chain = [self._start_cells]
            for size in range(1, length):
                chain.append(self._kept[prefix[:size]])
                self._kept.move_to_end(prefix[:size])
            rows.append(chain)
        stacked = np.array(rows, dtype=np.float32)  # [rows, positions, cells, heads, size]
        past = list(np.ascontiguousarray(stacked.transpose(2, 0, 3, 1, 4)))
        scores, cells = self._model.next(self._sound, past, [prefix[-1] for prefix in prefixes])
        last = np.stack([cell[:, :, -1] for cell in cells], axis=1)  # [rows, cells, heads, size]
        for prefix, cell in zip(prefixes, last, strict=True):
            self._kept[prefix] = cell
        return scores


@contextmanager
def _failing() -> Iterator[None]:
    """What the model's runtime throws is a failure of the engine. Errors: RecogniserError."""
    try:
        yield
    except EngineBayError:
        raise
    except Exception as wrong:  # onnxruntime's errors have no common class, and memory may run out
        remedy = "Say it once more. If it stays so, close other programs or start the assistant again"
        raise RecogniserError("bundled engine", f"it failed while hearing ({wrong})", remedy) from wrong


class BundledRecogniser:
    """Hears English inside a word graph. Errors: RecogniserError when the model is missing or damaged.

    encoder: as `encoder_file`.
    """

    name = "bundled"

    def __init__(
        self, forms: Forms, folder: Path | None = None, beam: int = BEAM, encoder: str | Path = ENCODER
    ) -> None:
        folder = model_folder() if folder is None else folder
        try:
            self._pieces = read_pieces((folder / _FILES[2]).read_bytes())
        except (OSError, ValueError) as wrong:
            raise RecogniserError("bundled engine", f"{_FILES[2]} cannot be read ({wrong})", _REMEDY) from None
        self._model = _Model(folder, encoder_file(encoder, folder))
        self._forms = forms
        self._beam = beam
        self._bias = Bias(_Quiet(self._model, self._pieces.start), self._pieces.end)
        self._graphs: OrderedDict[WordGraph, PieceGraph] = OrderedDict()

    def _graph(self, graph: WordGraph) -> PieceGraph:
        if graph not in self._graphs:
            self._graphs[graph] = PieceGraph(WrittenGraph(graph, self._forms), self._pieces)
            if len(self._graphs) > _KEPT_GRAPHS:
                self._graphs.popitem(last=False)
        self._graphs.move_to_end(graph)
        return self._graphs[graph]

    def prepare(self, graph: WordGraph) -> tuple[str, ...]:
        self._graph(graph)
        return tuple(word for word in graph.words if self._pieces.split(word) is None)

    def warm(self, graph: WordGraph, most: int) -> int:
        with _failing():
            return self._bias.warm(self._graph(graph), most)

    def hear(self, audio: Float32, graph: WordGraph) -> Hearing:
        audio = np.nan_to_num(np.ascontiguousarray(audio, dtype=np.float32))
        missing = int(_MIN_SECONDS * RATE) - len(audio)
        if missing > 0:
            audio = np.pad(audio, (missing // 2, missing - missing // 2))
        with _failing():
            return decode(_PieceScores(self._model, audio), self._graph(graph), self._bias, self._beam)
