"""The verify page asks whether a copy is the file the yard keeps."""

import hashlib

import pytest

from inspections.certificates.proof import FileTooLarge, is_same_file, sha256_of

DATA = b"%PDF-1.7 a paper" * 1000


@pytest.mark.parametrize("size", [1, 7, 4096, len(DATA)])
def test_a_file_in_chunks_has_the_hash_of_the_whole(size):
    chunks = [DATA[start : start + size] for start in range(0, len(DATA), size)]
    assert sha256_of(chunks, largest_bytes=len(DATA)) == hashlib.sha256(DATA).hexdigest()


def test_a_file_over_the_cap_is_given_up_before_it_is_read_to_its_end():
    read = []

    def endless():
        while True:
            read.append(1)
            yield b"x" * 100

    with pytest.raises(FileTooLarge) as refusal:
        sha256_of(endless(), largest_bytes=950)
    assert refusal.value.largest_bytes == 950
    assert len(read) == 10


def test_the_same_hash_in_any_case_is_the_same_file_and_nothing_is_not():
    digest = hashlib.sha256(DATA).hexdigest()
    assert is_same_file(digest.upper(), stored_sha256=digest)
    assert not is_same_file(digest[:-1] + ("0" if digest[-1] != "0" else "1"), stored_sha256=digest)
    assert not is_same_file("", stored_sha256="")
