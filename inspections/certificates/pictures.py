"""The pictures of a paper's page: photos, drawn signatures, the lap drawing."""

import html
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe

from inspections.certificates import words
from inspections.certificates.content import Paper
from inspections.certificates.parts import Photo, Signature


@dataclass(frozen=True, slots=True)
class Signed:
    """A signature with the picture of its strokes, or no picture where it was typed."""

    signature: Signature
    who: str
    when: str
    drawing: SafeString | None


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo on the page."""

    photo: Photo
    url: str
    alt: str
    heading: str
    line: str
    taken: str
    short_hash: str


def picture_rows(paper: Paper, urls: Mapping[str, str]) -> tuple[tuple[Picture, ...], ...]:
    """Return the paper's photos in rows of three, in their order; KeyError for one without an address."""
    pictures = tuple(_picture(photo, urls[photo.print_sha256]) for photo in paper.photos)
    return tuple(pictures[start : start + 3] for start in range(0, len(pictures), 3))


def _picture(photo: Photo, url: str) -> Picture:
    return Picture(
        photo=photo,
        url=url,
        alt=words.photo_alt(photo),
        heading=f"{photo.number}. {photo.item}",
        line="".join(
            (f", {photo.place}" if photo.place else "", f". {photo.caption}" if photo.caption else "")
        ),
        taken=words.moment(photo.taken_at),
        short_hash=words.short_hash(photo.sha256),
    )


def signed(signature: Signature) -> Signed:
    """Return a signature ready for the page; a drawn one with the picture of its strokes."""
    drawing = strokes_svg(signature.strokes, name=signature.name) if signature.kind == "drawn" else None
    who = words.joined(signature.role, signature.organisation)
    return Signed(signature=signature, who=who, when=words.moment(signature.signed_at), drawing=drawing)


def strokes_svg(strokes: Sequence[Sequence[Sequence[int]]], *, name: str) -> SafeString:
    """Return the picture of a drawn signature: strokes of (x, y, milliseconds) points."""
    points = [point for stroke in strokes for point in stroke]
    left, top = min(p[0] for p in points), min(p[1] for p in points)
    wide, high = max(p[0] for p in points) - left, max(p[1] for p in points) - top
    edge = max(wide, high, 20) // 20
    # A stroke of one point is a dot; drawn to itself, round ends make it seen.
    paths = "".join(
        "M"
        + " ".join(
            f"{x - left + edge},{y - top + edge}"
            for x, y, *_ in ([*stroke, *stroke] if len(stroke) == 1 else stroke)
        )
        for stroke in strokes
        if stroke
    )
    title = html.escape(f"Signature drawn by {name}")
    return mark_safe(  # noqa: S308 -- numbers and one escaped name
        f'<svg xmlns="http://www.w3.org/2000/svg" class="paper-strokes" role="img" '
        f'viewBox="0 0 {wide + 2 * edge} {high + 2 * edge}"><title>{title}</title>'
        f'<path d="{paths}" fill="none" stroke="#000" stroke-width="{max(edge // 2, 1)}" '
        f'stroke-linecap="round" stroke-linejoin="round"/></svg>'
    )


def lap(lap_svg: str, fleet_number: str) -> SafeString:
    """Return the lap drawing, trusted markup of our own, with a spoken name where it has none."""
    # The tag tree takes a drawing's spoken name from its title; without one the file would not be accessible.
    if lap_svg and "<title" not in lap_svg:
        title = html.escape(f"{fleet_number} seen from above, with the stops of the walk-round numbered")
        lap_svg = re.sub(r"(<svg\b[^>]*>)", lambda m: f"{m[1]}<title>{title}</title>", lap_svg, count=1)
    return mark_safe(lap_svg)  # noqa: S308 -- drawn by this program


def lap_shape(lap_svg: str) -> str:
    """Say how a drawing lies on the page by its viewBox: tall, wide, or none where there is no drawing."""
    box = re.search(r'viewBox="([^"]+)"', lap_svg)
    if box is None:
        return "none"
    _, _, wide, high = (float(part) for part in box[1].replace(",", " ").split())
    return "wide" if wide > high else "tall"
