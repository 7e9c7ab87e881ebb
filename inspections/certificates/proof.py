"""Is this copy the file the yard keeps? By its SHA-256 alone: no reader of PDF files runs where strangers send them."""

import hashlib
import hmac
from collections.abc import Iterable


class FileTooLarge(Exception):
    """An uploaded copy is larger than any paper of ours."""

    def __init__(self, largest_bytes: int) -> None:
        super().__init__(f"No paper of ours is larger than {largest_bytes} bytes.")
        self.largest_bytes = largest_bytes


def sha256_of(chunks: Iterable[bytes], *, largest_bytes: int) -> str:
    """Return the SHA-256 of a file that arrives in chunks, 64 hex digits. FileTooLarge once it outgrows the cap."""
    digest, seen = hashlib.sha256(), 0
    for chunk in chunks:
        seen += len(chunk)
        if seen > largest_bytes:
            raise FileTooLarge(largest_bytes)
        digest.update(chunk)
    return digest.hexdigest()


def is_same_file(sha256: str, *, stored_sha256: str) -> bool:
    """Say whether a hash is the one kept, whatever its case. Two empty ones are never the same."""
    return bool(stored_sha256) and hmac.compare_digest(
        sha256.lower().encode(), stored_sha256.lower().encode()
    )
