"""The network's file, cut down to what one of its outputs needs.

The file follows ONNX, a protocol-buffer message (``onnx.proto`` of the ONNX standard): fields of
a number, a kind and a value one after the other.
"""

from collections.abc import Iterator

# Fields of ModelProto, GraphProto, ValueInfoProto and NodeProto that are read here.
_MODEL_GRAPH = 7
_GRAPH_NODE, _GRAPH_OUTPUT = 1, 12
_VALUE_NAME = 1
_NODE_INPUT, _NODE_OUTPUT = 1, 2
# How a value is stored: a number of any length, 8 bytes, a length and its bytes, 4 bytes.
_VARINT, _FIXED_8, _BYTES, _FIXED_4 = 0, 1, 2, 5


def only_for(model: bytes, output: str) -> bytes:
    """Leave out all outputs but one, and every step that it does not need.

    Parameters
    ----------
    model : bytes
        An ONNX file.
    output : str
        Name of the output that is kept.

    Returns
    -------
    bytes
        The file; unchanged if it is no such message or has no such output.
    """
    try:
        return _pruned(model, output.encode())
    except (IndexError, ValueError, StopIteration):
        return model


def _pruned(model: bytes, output: bytes) -> bytes:
    graph = list(
        _fields(next(value for field, value, _ in _fields(model) if field == _MODEL_GRAPH))
    )
    wanted = {output}
    # Steps stand in the order in which they are done, so each comes after all that it needs.
    for field, value, _ in reversed(graph):
        if field == _GRAPH_NODE and not wanted.isdisjoint(_values(value, _NODE_OUTPUT)):
            wanted.update(_values(value, _NODE_INPUT))
    is_kept = {
        _GRAPH_NODE: lambda value: not wanted.isdisjoint(_values(value, _NODE_OUTPUT)),
        _GRAPH_OUTPUT: lambda value: _values(value, _VALUE_NAME) == [output],
    }
    kept = [f for f in graph if f[0] not in is_kept or is_kept[f[0]](f[1])]
    if not any(field == _GRAPH_OUTPUT for field, _, _ in kept):
        return model
    return _with_graph(model, b"".join(whole for _, _, whole in kept))


def _with_graph(model: bytes, graph: bytes) -> bytes:
    parts = (
        _message(_MODEL_GRAPH, graph) if field == _MODEL_GRAPH else whole
        for field, _, whole in _fields(model)
    )
    return b"".join(parts)


def _values(message: bytes, wanted: int) -> list[bytes]:
    return [value for field, value, _ in _fields(message) if field == wanted]


def _fields(message: bytes) -> Iterator[tuple[int, bytes, bytes]]:
    """Yield each field's number, its value's bytes, and the whole of it as stored."""
    at = 0
    while at < len(message):
        key, begin = _varint(message, at)
        kind = key & 7
        if kind == _VARINT:
            end = _varint(message, begin)[1]
        elif kind == _BYTES:
            length, begin = _varint(message, begin)
            end = begin + length
        elif kind in (_FIXED_8, _FIXED_4):
            end = begin + (8 if kind == _FIXED_8 else 4)
        else:
            msg = f"kind must be 0, 1, 2 or 5, got {kind}"
            raise ValueError(msg)
        if end > len(message):
            msg = f"a field must end within its message of {len(message)} bytes, got {end}"
            raise ValueError(msg)
        yield key >> 3, message[begin:end], message[at:end]
        at = end


def _varint(message: bytes, at: int) -> tuple[int, int]:
    """Return the number stored from ``at`` on, 7 bits a byte, and where it ends."""
    number, shift = 0, 0
    while message[at] & 0x80:
        number |= (message[at] & 0x7F) << shift
        at, shift = at + 1, shift + 7
    return number | message[at] << shift, at + 1


def _message(field: int, value: bytes) -> bytes:
    """Return a field that holds bytes, as stored."""
    stored = bytearray()
    for number in (field << 3 | _BYTES, len(value)):
        while number > 0x7F:
            stored.append(number & 0x7F | 0x80)
            number >>= 7
        stored.append(number)
    return bytes(stored) + value
