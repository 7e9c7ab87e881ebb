"""Why a photo was not taken in: one class a reason, its facts as attributes, one sentence a person can act on."""

from typing import ClassVar

_MILLION = 1_000_000


class PhotoRefused(Exception):
    """A photo was not taken in. `sentence` says why and what to do; `code` names the reason to a program."""

    code: ClassVar[str] = "photo-refused"

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class TooManyBytes(PhotoRefused):
    """The file is bigger than the yard takes: `size_bytes` against `most_bytes`."""

    code = "photo-too-many-bytes"

    def __init__(self, *, size_bytes: int, most_bytes: int) -> None:
        self.size_bytes = size_bytes
        self.most_bytes = most_bytes
        # Rounded up, so that a file a byte over never reads as big as what is allowed.
        tenths = -(-size_bytes * 10 // _MILLION)
        super().__init__(
            f"This photo is {tenths / 10:.1f} MB and the most that can be taken in is {most_bytes / _MILLION:g} MB. "
            "Take it again with the camera set to a smaller size."
        )


class HashDiffers(PhotoRefused):
    """The bytes that came are not the bytes that were announced: `announced_sha256` against `found_sha256`."""

    code = "photo-hash-differs"

    def __init__(self, *, announced_sha256: str, found_sha256: str) -> None:
        self.announced_sha256 = announced_sha256
        self.found_sha256 = found_sha256
        super().__init__(
            "This photo was changed on its way here: what came is not what was sent. Send it again."
        )


class NotAPicture(PhotoRefused):
    """The file is no JPEG, PNG or WebP, whatever its name says; `found` is what it looks like, in words."""

    code = "photo-not-a-picture"

    def __init__(self, *, found: str) -> None:
        self.found = found
        super().__init__(f"This file is {found}, not a photo. Send a JPEG, PNG or WebP picture.")


class TwoFilesInOne(PhotoRefused):
    """A picture that other programs would open as something else; `found` is what, in words."""

    code = "photo-two-files-in-one"

    def __init__(self, *, found: str) -> None:
        self.found = found
        super().__init__(
            f"This picture has {found} hidden in it. Take the photo again with the camera itself."
        )


class CutShort(PhotoRefused):
    """The file breaks off before its own end; `size_bytes` came."""

    code = "photo-cut-short"

    def __init__(self, *, size_bytes: int) -> None:
        self.size_bytes = size_bytes
        super().__init__("This photo was cut short on its way here: its end is missing. Send it again.")


class TooManyPixels(PhotoRefused):
    """The picture is `width` x `height`, more than `most_pixels`; nothing of it was decoded."""

    code = "photo-too-many-pixels"

    def __init__(self, *, width: int, height: int, most_pixels: int) -> None:
        self.width = width
        self.height = height
        self.most_pixels = most_pixels
        super().__init__(
            f"This photo is {width} x {height} pixels and the most that can be taken in is "
            f"{most_pixels / _MILLION:g} million. Take it again with the camera set to a smaller size."
        )


class CouldNotBeRead(PhotoRefused):
    """The decoder gave up on the picture; `how` is for the log: an error's class, a signal or a bad answer."""

    code = "photo-damaged"

    def __init__(self, *, how: str) -> None:
        self.how = how
        super().__init__("This photo is damaged and can't be read. Take it again.")


class TookTooLong(PhotoRefused):
    """Decoding was stopped after `cpu_seconds` of work or `wall_seconds` by the clock."""

    code = "photo-took-too-long"

    def __init__(self, *, cpu_seconds: int, wall_seconds: float) -> None:
        self.cpu_seconds = cpu_seconds
        self.wall_seconds = wall_seconds
        super().__init__("This photo took too long to read. Send it again, or take it again as a plain JPEG.")


class TookTooMuchMemory(PhotoRefused):
    """Decoding needs, or ran into, more than `most_bytes` of memory."""

    code = "photo-took-too-much-memory"

    def __init__(self, *, width: int, height: int, most_bytes: int) -> None:
        self.width = width
        self.height = height
        self.most_bytes = most_bytes
        super().__init__(
            f"This photo of {width} x {height} pixels needs too much memory to read. Take it again as a plain JPEG, "
            "or with the camera set to a smaller size."
        )


class PartTooLarge(PhotoRefused):
    """A part of a photo is `size_bytes`, more than the `most_bytes` taken at once."""

    code = "photo-part-too-large"

    def __init__(self, *, size_bytes: int, most_bytes: int) -> None:
        self.size_bytes = size_bytes
        self.most_bytes = most_bytes
        super().__init__(
            f"This part of a photo is {size_bytes} bytes and the most that is taken at once is {most_bytes}. "
            "Send it in smaller parts."
        )


class WrongOffset(PhotoRefused):
    """A part does not begin where the bytes that are here end: at `offset`."""

    code = "photo-wrong-offset"

    def __init__(self, *, offset: int) -> None:
        self.offset = offset
        super().__init__(f"The yard has {offset} bytes of this photo. Go on from there.")


class LongerThanAnnounced(PhotoRefused):
    """A part runs past the end its sender announced: to `end_bytes` of `total_bytes`."""

    code = "photo-longer-than-announced"

    def __init__(self, *, end_bytes: int, total_bytes: int) -> None:
        self.end_bytes = end_bytes
        self.total_bytes = total_bytes
        super().__init__(
            f"This photo was announced as {total_bytes} bytes and runs to {end_bytes}. Send it again from its start."
        )


class TooManyUnfinished(PhotoRefused):
    """One person has `most` photos half sent; no other is begun until one of them is finished or forgotten."""

    code = "photo-too-many-unfinished"

    def __init__(self, *, most: int) -> None:
        self.most = most
        super().__init__(
            f"{most} of your photos are half sent already. Finish one of them first; one left alone for a week is forgotten."
        )
