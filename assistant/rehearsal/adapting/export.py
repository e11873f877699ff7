"""Mixing weights and writing the int8 encoder that the package carries. Needs `onnx`; no torch.

    python -m assistant.rehearsal.adapting.export SHIPPED RESULT ADAPTED [ADAPTED ...] [--share 0.5]

SHIPPED: encoder_model.ort; ADAPTED: the .npz of `train`, or an .onnx of an earlier export with its share, FILE@0.7; of
several the mean is taken. RESULT: an .onnx with the inputs and the output of the shipped one. The matrices are held as
8-bit numbers, inputs are quantised while it runs; convolutions stay in float.
"""

from __future__ import annotations

import argparse
import hashlib
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from assistant.rehearsal.adapting import weights
from assistant.rehearsal.adapting.weights import HEADS, SIZE, TURNED, WIDTH, Weights

_LAYERS = 6


class _Graph:
    """Nodes in order and constants by name."""

    def __init__(self) -> None:
        self.nodes: list[Any] = []
        self.constants: dict[str, NDArray[Any]] = {}

    def constant(self, name: str, value: NDArray[Any]) -> str:
        self.constants[name] = value
        return name

    def add(self, operation: str, *inputs: str, result: str | None = None, **attributes: Any) -> str:
        from onnx import helper

        name = result or f"{operation}_{len(self.nodes)}"
        self.nodes.append(helper.make_node(operation, list(inputs), [name], name=name, **attributes))
        return name

    def gelu(self, value: str) -> str:
        scaled = self.add("Div", value, "root_two")
        return self.add("Mul", self.add("Mul", value, self.add("Add", self.add("Erf", scaled), "one")), "half")


def float_model(given: Weights) -> Any:
    """The encoder as an ONNX model in float: `input_values` [batch, samples], `attention_mask` (not read)."""
    from onnx import TensorProto, helper, numpy_helper

    graph = _Graph()
    constants = {
        "root_two": np.float32(2**0.5), "one": np.float32(1), "half": np.float32(0.5), "tiny": np.float32(1e-5),
        "root_size": np.float32(SIZE**-0.5), "axis1": np.array([1]), "axes12": np.array([1, 2]),
        "zero": np.array(0), "step": np.array(1), "place1": np.array(1),
        "split_heads": np.array([0, 0, HEADS, SIZE]), "join_heads": np.array([0, 0, WIDTH]),
        "parts": np.array([TURNED // 2, TURNED // 2, SIZE - TURNED]),
        "turns": (1 / 10000 ** (np.arange(0, TURNED, 2) / TURNED)).astype(np.float32)[None],
    }  # fmt: skip
    for name, value in constants.items():
        graph.constant(name, np.asarray(value))
    for name, value in given.items():
        if name.endswith("_proj.weight") or (".mlp.fc" in name and name.endswith("weight")):
            turned = value[weights.HALVES] if name.endswith(("q_proj.weight", "k_proj.weight")) else value
            graph.constant(name, np.ascontiguousarray(turned.T))
        elif name.startswith("groupnorm"):
            graph.constant(name, value[:, None])
        else:
            graph.constant(name, value)

    sound = graph.add("Conv", graph.add("Unsqueeze", "input_values", "axis1"), "conv1.weight", strides=[64])
    sound = graph.add("Tanh", sound)
    centred = graph.add("Sub", sound, graph.add("ReduceMean", sound, axes=[1, 2]))
    spread = graph.add("ReduceMean", graph.add("Mul", centred, centred), axes=[1, 2])
    sound = graph.add("Div", centred, graph.add("Sqrt", graph.add("Add", spread, "tiny")))
    sound = graph.add("Add", graph.add("Mul", sound, "groupnorm.weight"), "groupnorm.bias")
    sound = graph.gelu(graph.add("Conv", sound, "conv2.weight", "conv2.bias", strides=[3]))
    sound = graph.gelu(graph.add("Conv", sound, "conv3.weight", "conv3.bias", strides=[2]))
    sound = graph.add("Transpose", sound, perm=[0, 2, 1])
    frames = graph.add("Gather", graph.add("Shape", sound), "place1")
    places = graph.add("Cast", graph.add("Range", "zero", frames, "step"), to=TensorProto.FLOAT)
    angle = graph.add("Mul", graph.add("Unsqueeze", places, "axis1"), "turns")
    cosine, sine = graph.add("Cos", angle), graph.add("Sin", angle)

    def projected(name: str, value: str) -> str:
        product = graph.add("Reshape", graph.add("MatMul", value, name), "split_heads")
        return graph.add("Transpose", product, perm=[0, 2, 1, 3])

    def turned_in_time(value: str) -> str:
        from onnx import helper as make

        even, odd, fixed = (f"{value}_{part}" for part in ("even", "odd", "fixed"))
        graph.nodes.append(make.make_node("Split", [value, "parts"], [even, odd, fixed], name=f"{value}_split", axis=3))
        first = graph.add("Sub", graph.add("Mul", even, cosine), graph.add("Mul", odd, sine))
        second = graph.add("Add", graph.add("Mul", odd, cosine), graph.add("Mul", even, sine))
        return graph.add("Concat", first, second, fixed, axis=3)

    for layer in range(_LAYERS):
        name = f"layers.{layer}"
        calm = graph.add("LayerNormalization", sound, f"{name}.input_layernorm.weight", axis=-1, epsilon=1e-5)
        query, key, content = (projected(f"{name}.self_attn.{part}_proj.weight", calm) for part in "qkv")
        query, key = turned_in_time(query), turned_in_time(key)
        likeness = graph.add("MatMul", query, graph.add("Transpose", key, perm=[0, 1, 3, 2]))
        share = graph.add("Softmax", graph.add("Mul", likeness, "root_size"), axis=-1)
        heard = graph.add("Transpose", graph.add("MatMul", share, content), perm=[0, 2, 1, 3])
        heard = graph.add("Reshape", heard, "join_heads")
        sound = graph.add("Add", sound, graph.add("MatMul", heard, f"{name}.self_attn.o_proj.weight"))
        calm = graph.add("LayerNormalization", sound, f"{name}.post_attention_layernorm.weight", axis=-1, epsilon=1e-5)
        inner = graph.add("Add", graph.add("MatMul", calm, f"{name}.mlp.fc1.weight"), f"{name}.mlp.fc1.bias")
        inner = graph.add("MatMul", graph.gelu(inner), f"{name}.mlp.fc2.weight")
        sound = graph.add("Add", sound, graph.add("Add", inner, f"{name}.mlp.fc2.bias"))
    graph.add("LayerNormalization", sound, "layer_norm.weight", result="last_hidden_state", axis=-1, epsilon=1e-5)

    made = helper.make_graph(
        graph.nodes,
        "encoder",
        [
            helper.make_tensor_value_info("input_values", TensorProto.FLOAT, ["batch", "samples"]),
            helper.make_tensor_value_info("attention_mask", TensorProto.INT64, ["batch", "samples"]),
        ],
        [helper.make_tensor_value_info("last_hidden_state", TensorProto.FLOAT, ["batch", "frames", WIDTH])],
        [numpy_helper.from_array(value, name) for name, value in graph.constants.items()],
    )
    model = helper.make_model(made, opset_imports=[helper.make_opsetid("", 17)], producer_name="engine-bay-assistant")
    model.ir_version = 8
    return model


def write_int8(given: Weights, path: Path) -> str:
    """The quantised model; answers its SHA-256."""
    import onnx
    from onnxruntime.quantization import QuantType, quantize_dynamic

    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder) / "float.onnx"
        onnx.save(float_model(given), str(whole))
        # Unsigned and a scale for each output: exact on processors without 8-bit dot products too, and closest.
        quantize_dynamic(
            str(whole), str(path), op_types_to_quantize=["MatMul"], per_channel=True, weight_type=QuantType.QUInt8
        )
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("shipped", type=Path)
    parser.add_argument("result", type=Path)
    parser.add_argument("adapted", nargs="+")
    parser.add_argument("--share", type=float, default=0.5, help="of the adapted weights in the mix")
    options = parser.parse_args()
    shipped = weights.load(options.shipped)
    adapted = weights.mean([weights.student(named, shipped) for named in options.adapted])
    mix = weights.mixed(shipped, adapted, options.share)
    print(f"{options.result.name}  {write_int8(mix, options.result)}  {options.result.stat().st_size} bytes")


if __name__ == "__main__":
    main()
