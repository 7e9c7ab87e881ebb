"""A drawn signature as the signature pad writes it. Pure."""

from __future__ import annotations

import json


def is_drawing(strokes: str) -> bool:
    """Whether the text is strokes as the signature pad writes them: lists of [x, y, milliseconds] in whole numbers."""
    try:
        drawn = json.loads(strokes)
    except (ValueError, RecursionError):
        return False
    return (
        isinstance(drawn, list)
        and any(drawn)
        and all(isinstance(stroke, list) for stroke in drawn)
        and all(
            isinstance(point, list) and len(point) == 3 and all(type(part) is int for part in point)
            for stroke in drawn
            for point in stroke
        )
    )
