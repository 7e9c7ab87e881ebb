"""The QR mark of a verify address as seamless SVG, at a size a phone reads off paper."""

import html
from collections import defaultdict

import segno

QUIET_MODULES = 4
SYMBOL_MM = 26.0

Point = tuple[int, int]


def qr_svg(text: str, *, title: str) -> str:
    """Return an SVG of the text's QR code: level M, symbol 26 mm wide, with a quiet zone of four modules round it.

    The dark modules are one path traced along their outline: modules drawn one by one leave hairline gaps on some
    screens and printers, and a reader may trip over them.
    """
    matrix = [[bool(module) for module in row] for row in segno.make(text, error="m", micro=False).matrix]
    side = len(matrix) + 2 * QUIET_MODULES
    side_mm = SYMBOL_MM / len(matrix) * side
    path = "".join(_loop(points) for points in _outlines(matrix))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="paper-qr" role="img" viewBox="0 0 {side} {side}" '
        f'width="{side_mm:.2f}mm" height="{side_mm:.2f}mm"><title>{html.escape(title)}</title>'
        f'<rect width="{side}" height="{side}" fill="#fff"/>'
        f'<path fill="#000" fill-rule="evenodd" shape-rendering="crispEdges" d="{path}"/></svg>'
    )


def _outlines(matrix: list[list[bool]]) -> list[list[Point]]:
    """Trace the border between dark and light: closed loops of corner points, dark on the right hand."""
    edges = _edges(matrix)
    loops = []
    while edges:
        start = min(edges)
        loop, here = [start], _step(edges, start)
        while here != start:
            loop.append(here)
            here = _step(edges, here)
        loops.append(loop)
    return loops


def _edges(matrix: list[list[bool]]) -> dict[Point, list[Point]]:
    size = len(matrix)
    edges: dict[Point, list[Point]] = defaultdict(list)

    def dark(x: int, y: int) -> bool:
        return 0 <= x < size and 0 <= y < size and matrix[y][x]

    for y in range(size):
        for x in range(size):
            if not matrix[y][x]:
                continue
            corners = ((x, y), (x + 1, y), (x + 1, y + 1), (x, y + 1))
            beyond = ((x, y - 1), (x + 1, y), (x, y + 1), (x - 1, y))
            for side, (nx, ny) in enumerate(beyond):
                if not dark(nx, ny):
                    edges[corners[side]].append(corners[(side + 1) % 4])
    return edges


def _step(edges: dict[Point, list[Point]], here: Point) -> Point:
    # Where two dark modules touch at a corner two edges leave it; even-odd filling makes either choice draw the same.
    ways = edges[here]
    there = ways.pop()
    if not ways:
        del edges[here]
    return there


def _loop(points: list[Point]) -> str:
    kept = [
        point
        for before, point, after in zip(
            points[-1:] + points[:-1], points, points[1:] + points[:1], strict=True
        )
        if not (before[0] == point[0] == after[0] or before[1] == point[1] == after[1])
    ]
    corners = " ".join(f"{x + QUIET_MODULES},{y + QUIET_MODULES}" for x, y in kept)
    return f"M{corners}z"
