"""The encoder's weights as plain arrays: read out of the shipped int8 file, kept in an .npz, mixed.

Names are those of `network.Encoder`; a matrix is [outputs, inputs]. Refuses to know torch and ONNX.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

Weights = dict[str, NDArray[np.float32]]
_TYPES: dict[int, type] = {1: np.float32, 2: np.uint8, 3: np.int8, 7: np.int64}
WIDTH, HEADS, SIZE, TURNED = 288, 8, 36, 32
HALVES = np.array(
    [
        head * SIZE + place
        for head in range(HEADS)
        for place in (*range(0, TURNED, 2), *range(1, TURNED, 2), *range(TURNED, SIZE))
    ]
)
"""Rows of a query or key projection as `export` orders them: of each head first the even ones that turn, then the odd
ones. The product of queries and keys is the same, and a turn becomes four products of halves."""
_COUNT, _DECODER_COUNT = 7_681_248, 28_848_672
"""Numbers in all of them; a file that gives another count is of another model."""


def shipped(path: Path) -> Weights:
    """The weights in an encoder_model.ort of moonshine-voice 0.0.54, dequantised.

    Errors: ValueError when it is another model.
    """
    graph = _graph(path)
    arrays = _arrays(graph)
    found = {name.strip("/").replace("/", "."): matrix for name, matrix in _matrices(graph, arrays)}
    for name, array in arrays.items():
        plain = name.replace("_add_tensor", "")
        if (
            plain.startswith(("layers", "conv", "layer_norm"))
            and plain.endswith(("weight", "bias"))
            and array.dtype == np.float32
        ):
            found[plain] = array.copy()
    for plain, name in (("groupnorm.weight", "onnx::Mul_2080"), ("groupnorm.bias", "onnx::Add_2081")):
        if name in arrays:
            found[plain] = arrays[name].ravel().copy()
    return _counted(found, _COUNT, path)


def shipped_decoder(path: Path) -> Weights:
    """The weights in a decoder_model_merged.ort of the same, by the names of `network.Decoder`. Errors: ValueError."""
    whole = _graph(path)
    branches = (
        whole.Nodes(node).Attributes(at)
        for node in range(whole.NodesLength())
        for at in range(whole.Nodes(node).AttributesLength())
    )
    first = next(branch.G() for branch in branches if branch.Name().decode() == "else_branch")  # without a past
    arrays = _arrays(whole) | _arrays(first)
    within = "model.decoder."
    found = {name.strip("/").replace("/", ".").replace(within, ""): matrix for name, matrix in _matrices(first, arrays)}
    for name, array in arrays.items():
        plain = name.replace("_merged_0", "").replace(within, "")
        if plain.startswith(("layers", "norm")) and array.dtype == np.float32 and array.ndim == 1:
            found[plain] = array.copy()
    found["embed_tokens.weight"] = _dequantised(f"{within}embed_tokens.weight_merged_0", arrays)
    return _counted(found, _DECODER_COUNT, path)


def _graph(path: Path) -> Any:
    from onnxruntime.tools.ort_format_model.ort_flatbuffers_py.fbs.InferenceSession import InferenceSession

    return InferenceSession.GetRootAs(bytearray(path.read_bytes()), 0).Model().Graph()


def _arrays(graph: Any) -> dict[str, NDArray[Any]]:
    """The constants of a graph by name."""
    arrays: dict[str, NDArray[Any]] = {}
    for number in range(graph.InitializersLength()):
        tensor = graph.Initializers(number)
        if tensor.DataType() in _TYPES and tensor.RawDataLength():
            data: NDArray[Any] = np.frombuffer(tensor.RawDataAsNumpy().tobytes(), _TYPES[tensor.DataType()])
            arrays[tensor.Name().decode()] = data.reshape([tensor.Dims(axis) for axis in range(tensor.DimsLength())])
    return arrays


def _matrices(graph: Any, arrays: dict[str, NDArray[Any]]) -> Iterator[tuple[str, NDArray[np.float32]]]:
    """(name, [outputs, inputs]) of each product with a quantised matrix."""
    for number in range(graph.NodesLength()):
        node = graph.Nodes(number)
        if node.OpType().decode() in ("MatMulIntegerToFloat", "DynamicQuantizeMatMul"):
            inputs = [node.Inputs(place).decode() for place in range(node.InputsLength())]
            base = next(name for name in inputs if name.endswith("_quantized") and name in arrays)[: -len("_quantized")]
            name = node.Name().decode().replace("/MatMul_quant", ".weight")
            yield name, np.ascontiguousarray(_dequantised(base, arrays).T)


def _dequantised(base: str, arrays: dict[str, NDArray[Any]]) -> NDArray[np.float32]:
    zero = arrays[f"{base}_zero_point"].astype(np.float32)
    return np.asarray((arrays[f"{base}_quantized"].astype(np.float32) - zero) * arrays[f"{base}_scale"], np.float32)


def _counted(found: Weights, wanted: int, path: Path) -> Weights:
    count = sum(array.size for array in found.values())
    if count != wanted:
        raise ValueError(f"{path.name} holds {count} weights and not {wanted}: it is of another model")
    return found


def exported(path: Path) -> Weights:
    """The weights in an .onnx of `export`, dequantised. Errors: ValueError when it is another model."""
    import onnx

    arrays: dict[str, NDArray[Any]] = {
        tensor.name: onnx.numpy_helper.to_array(tensor) for tensor in onnx.load(str(path)).graph.initializer
    }
    found: Weights = {}
    for name, array in arrays.items():
        if name.endswith("_quantized"):
            base = name.removesuffix("_quantized")
            matrix = np.ascontiguousarray(_dequantised(base, arrays).T)
            found[base] = matrix[np.argsort(HALVES)] if base.endswith(("q_proj.weight", "k_proj.weight")) else matrix
        elif name.startswith(("layers", "conv", "layer_norm")) and name.endswith(("weight", "bias")):
            found[name] = array
        elif name.startswith("groupnorm"):
            found[name] = array.ravel()
    return _counted(found, _COUNT, path)


def load(path: Path) -> Weights:
    """The weights of an .npz, of a shipped .ort, or of an exported .onnx. Errors: ValueError as `shipped`; OSError."""
    if path.suffix == ".ort":
        return shipped(path)
    if path.suffix == ".onnx":
        return exported(path)
    with np.load(path) as kept:
        return {name: kept[name].astype(np.float32) for name in kept.files}


def student(named: str, shipped: Weights) -> Weights:
    """The student's weights in a file, by its name; `FILE@0.7` when only this share of them is the student's, the rest
    the shipped ones'. Errors: as `load`, and ValueError for a share that is no number."""
    path, _, share = named.partition("@")
    found = load(Path(path))
    return mixed(shipped, found, 1 / float(share)) if share else found


def save(weights: Weights, path: Path) -> None:
    """As half-precision numbers, 15 MB."""
    np.savez(path, **{name: array.astype(np.float16) for name, array in weights.items()})  # type: ignore[arg-type]  # the stub takes `allow_pickle` for one of these


def mean(several: Sequence[Weights]) -> Weights:
    """The mean of some sets of weights. Errors: ValueError when they name different things."""
    found = several[0]
    for count, other in enumerate(several[1:], start=2):
        found = mixed(found, other, 1 / count)
    return found


def mixed(first: Weights, second: Weights, share: float) -> Weights:
    """(1 - share) of the first and share of the second. Errors: ValueError when they name different things."""
    if first.keys() != second.keys():
        raise ValueError("the two sets of weights are of different models")
    return {name: ((1 - share) * first[name] + share * second[name]).astype(np.float32) for name in first}
