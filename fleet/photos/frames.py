"""How the intake and its decoding process talk over a pipe: JSON facts, then byte strings, each behind its length.

A frame is a 4-byte big-endian length and that many bytes of JSON, then any number of parts, each an 8-byte
big-endian length and that many bytes, to the end of the stream.
"""

import json
from typing import Any, BinaryIO


def write_frame(stream: BinaryIO, facts: dict[str, Any], *parts: bytes) -> None:
    """Write one frame and flush it. `facts` holds plain JSON values only."""
    words = json.dumps(facts).encode()
    stream.write(len(words).to_bytes(4, "big") + words)
    for part in parts:
        stream.write(len(part).to_bytes(8, "big"))
        stream.write(part)
    stream.flush()


def read_frame(stream: BinaryIO) -> tuple[dict[str, Any], tuple[bytes, ...]]:
    """Read one frame to the end of the stream. ValueError where it is cut short or its JSON is no object."""
    facts = json.loads(_exactly(stream, int.from_bytes(_exactly(stream, 4), "big")))
    if not isinstance(facts, dict):
        raise ValueError("The frame's facts are not an object.")  # noqa: TRY004
    parts = []
    while length := stream.read(8):
        parts.append(_exactly(stream, int.from_bytes(length, "big")))
    return facts, tuple(parts)


def _exactly(stream: BinaryIO, length: int) -> bytes:
    block = stream.read(length)
    if len(block) != length:
        raise ValueError("The frame is cut short.")
    return block
