"""A dynamically quantised ONNX graph with its weights as floats again: several times faster.

Dynamic quantisation saves room, not time: at every run the inputs are turned to 8 bit, multiplied
and turned back. Each such chain (DynamicQuantizeLinear, ConvInteger or MatMulInteger, Cast, Mul)
becomes one Conv or MatMul with constant weights. The numbers differ by the rounding of the inputs.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path
from typing import Any, Final

import numpy as np

_INTEGER: Final = {"ConvInteger": "Conv", "MatMulInteger": "MatMul"}


class _Graph:
    def __init__(self, graph: Any) -> None:
        from onnx import numpy_helper

        self.nodes = list(graph.node)
        self.constants = {i.name: numpy_helper.to_array(i) for i in graph.initializer}
        self.made_by = {name: node for node in self.nodes for name in node.output}
        self.used_by: defaultdict[str, list[Any]] = defaultdict(list)
        for node in self.nodes:
            for name in node.input:
                self.used_by[name].append(node)

    def only_user(self, node: Any, kind: str) -> Any | None:
        users = self.used_by[node.output[0]]
        return users[0] if len(users) == 1 and users[0].op_type == kind else None

    def other_input(self, node: Any, name: str) -> str:
        return str(next(i for i in node.input if i != name))

    def float_behind(self, name: str) -> str:
        """The constant of floats that an integer bias was made of."""
        while name not in self.constants or self.constants[name].dtype != np.float32:
            name = self.made_by[name].input[0]
        return name


def to_floats(source: Path, target: Path) -> int:
    """Write the graph of `source` to `target` with float weights; how many were turned back."""
    import onnx
    from onnx import numpy_helper

    model: Any = onnx.load(source)
    graph = _Graph(model.graph)
    replaced: dict[str, Any] = {}
    weights: dict[str, Any] = {}
    for node in graph.nodes:
        if node.op_type in _INTEGER and node.input[1] in graph.constants:
            found = _as_float(graph, node)
            if found is not None:
                fresh, weight = found
                replaced[fresh.output[0]] = fresh
                name = str(fresh.input[1])
                weights[name] = numpy_helper.from_array(np.ascontiguousarray(weight), name)
    nodes = [replaced.get(node.output[0], node) for node in graph.nodes]
    nodes = _needed(nodes, {output.name for output in model.graph.output})
    used = {name for node in nodes for name in node.input}
    kept = [i for i in model.graph.initializer if i.name in used]
    for field, value in (("node", nodes), ("initializer", kept + list(weights.values()))):
        model.graph.ClearField(field)
        getattr(model.graph, field).extend(value)
    model.graph.ClearField("value_info")
    onnx.save(model, str(target))
    return len(weights)


def _as_float(graph: _Graph, node: Any) -> tuple[Any, Any] | None:
    """The chain that begins with an integer node, as one float node, and its weights."""
    from onnx import helper

    quantised = graph.made_by[node.input[0]]
    last = graph.only_user(node, "Add")
    bias = [graph.float_behind(graph.other_input(last, node.output[0]))] if last is not None else []
    cast = graph.only_user(last or node, "Cast")
    scaled = graph.only_user(cast, "Mul") if cast is not None else None
    if cast is None or scaled is None:
        return None
    scales = graph.made_by[graph.other_input(scaled, cast.output[0])]
    scale = next(graph.constants[i] for i in scales.input if i in graph.constants)
    weight = graph.constants[node.input[1]].astype(np.float32)
    zero = (
        graph.constants[node.input[3]].astype(np.float32)
        if len(node.input) > 3
        else np.zeros((), np.float32)
    )
    if node.op_type == "ConvInteger":  # one scale for each output channel, the first axis
        shape = (-1, *[1] * (weight.ndim - 1))
        scale = scale.reshape(shape) if scale.size > 1 else scale
        zero = zero.reshape(shape) if zero.size > 1 else zero
    fresh = helper.make_node(
        _INTEGER[node.op_type],
        [quantised.input[0], f"{node.input[1]}_float", *bias],
        [scaled.output[0]],
    )
    fresh.attribute.extend(node.attribute)
    return fresh, ((weight - zero) * scale).astype(np.float32)


def _needed(nodes: list[Any], outputs: set[str]) -> list[Any]:
    while True:
        used = {name for node in nodes for name in node.input} | outputs
        kept = [node for node in nodes if used.intersection(node.output)]
        if len(kept) == len(nodes):
            return kept
        nodes = kept
