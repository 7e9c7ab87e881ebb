"""The QR code of a cart's plate, as SVG that needs no style of its own."""

from __future__ import annotations

import html
from io import BytesIO

import segno
from django.conf import settings


def plate_address(path: str) -> str:
    """The whole address a phone's camera opens."""
    return f"{settings.PUBLIC_ADDRESS}{path}"


def qr_svg(address: str, *, label: str) -> str:
    """A QR code of the address as one <svg>: correction level Q, so that a muddy or scratched plate still reads, with the
    quiet zone of four modules the standard asks for (ISO/IEC 18004, from memory)."""
    code = segno.make(address, error="q", micro=False)
    out = BytesIO()
    code.save(
        out,
        kind="svg",
        border=4,
        xmldecl=False,
        svgns=True,
        omitsize=True,
        svgclass="qr",
        lineclass="qr-ink",
        nl=False,
    )
    drawing = out.getvalue().decode()
    title = f"<title>{html.escape(label)}</title>"
    return drawing.replace("<svg ", '<svg role="img" ', 1).replace(">", f">{title}", 1)
