"""Frozen content: it comes back the same from JSON, has one hash, and refuses to contradict itself."""

import hashlib
import json
import re
from dataclasses import FrozenInstanceError, replace

import pytest

from inspections.certificates.content import from_json
from inspections.certificates.parts import Replaces, Result
from people.canonical import canonical_json
from tests.inspections.certificate_files import SAMPLES, paper
from tests.inspections.certificate_papers import fit, left_receipt, limited, signed_receipt


@pytest.mark.parametrize("name", SAMPLES)
def test_content_comes_back_the_same_from_its_canonical_bytes(name):
    content, _ = paper(name)
    again = from_json(json.loads(content.canonical()))
    assert again == content
    assert again.canonical() == content.canonical()


@pytest.mark.parametrize("name", SAMPLES)
def test_the_record_hash_is_the_hash_of_the_canonical_bytes(name):
    content, _ = paper(name)
    assert content.record_sha256 == hashlib.sha256(content.canonical()).hexdigest()


def test_the_record_hash_moves_with_every_word():
    certificate, _ = fit()
    hire = replace(certificate.hire, place_of_work=certificate.hire.place_of_work + " ")
    assert replace(certificate, hire=hire).record_sha256 != certificate.record_sha256


def test_content_cannot_be_changed():
    certificate, _ = fit()
    with pytest.raises(FrozenInstanceError):
        certificate.number = "SLK-2026-00001-1"  # type: ignore[misc]


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"outcome": "held"}, "Only a cart that may go"),
        ({"outcome": "conditions"}, "goes with limits exactly when"),
        ({"revision": 2}, "names what it replaces"),
        ({"replaces": Replaces(number="SLK-2026-00041-7", why="plate")}, "names what it replaces"),
        ({"signatures": ()}, "nobody signed"),
        ({"version": 2}, "version 2"),
        ({"kind": "handover_receipt"}, "not a pre-hire certificate"),
        ({"issued_at": "2026-11-25T16:42:00"}, "an instant with its offset"),
        ({"holds_until_at": "tomorrow"}, "an instant with its offset"),
        ({"rule_set": None}, "rule_set is str"),
        ({"deviations": ["none"]}, "deviations is a tuple"),
    ],
)
def test_a_certificate_that_contradicts_itself_is_refused(change, says):
    certificate, _ = fit()
    with pytest.raises(ValueError, match=re.escape(says)):
        replace(certificate, **change)


def test_a_limited_cart_is_not_called_fit():
    certificate, _ = limited()
    with pytest.raises(ValueError, match="goes with limits exactly when"):
        replace(certificate, outcome="ready")


def test_an_open_do_not_use_defect_gets_no_certificate_unless_its_gear_is_isolated():
    certificate, _ = limited()
    cracked = replace(certificate.defects[0], isolated=False)
    with pytest.raises(ValueError, match="do-not-use defect holds the cart: Cannon mount cracked"):
        replace(certificate, defects=(cracked,))
    with pytest.raises(ValueError, match="do-not-use defect holds the cart"):
        replace(certificate, limits=())


def test_a_measurement_is_text_and_never_a_fraction():
    certificate, _ = fit()
    wrong = replace(certificate.tyres[0], depth_mm=11.5)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=re.escape("Tyre.depth_mm is str, not float")):
        replace(certificate, tyres=(wrong,))


def test_a_photo_that_is_spoken_of_is_there():
    certificate, _ = fit(photo_count=2)
    result = Result(number=1, check="horn", title="Horn", answer="wrong", grade="watch", photos=(9,))
    station = replace(certificate.stations[0], results=(result,))
    with pytest.raises(ValueError, match="Photo 9 is spoken of"):
        replace(certificate, stations=(station,))
    with pytest.raises(ValueError, match="Two photos carry one number"):
        replace(certificate, photos=(certificate.photos[0], certificate.photos[0]))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"kind": "stamped"}, "drawn or typed"),
        ({"name": " "}, "signer's name"),
        ({"statement": ""}, "what they meant"),
        ({"strokes": ()}, "A drawn signature has its strokes"),
        ({"kind": "typed"}, "a typed one has none"),
    ],
)
def test_a_signature_is_whole(change, says):
    certificate, _ = fit()
    signature = replace(certificate.signatures[0], **change)
    with pytest.raises(ValueError, match=says):
        replace(certificate, signatures=(signature,))


def test_a_receipt_is_signed_or_left_and_says_which():
    signed, _ = signed_receipt()
    left, _ = left_receipt()
    assert left.left
    with pytest.raises(ValueError, match="either signed for or left"):
        replace(signed, received=None)
    with pytest.raises(ValueError, match="either signed for or left"):
        replace(signed, left=left.left, photos=left.photos)
    with pytest.raises(ValueError, match="photographed where it stands"):
        replace(left, left=replace(left.left, photos=()))
    with pytest.raises(ValueError, match="Photo 8 is spoken of"):
        replace(left, left=replace(left.left, photos=(8,)))


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda plain: plain | {"kind": "docket"}, "neither a pre-hire certificate nor a handover receipt"),
        (lambda plain: plain | {"colour": "blue"}, "does not match this version: colour"),
        (lambda plain: {k: v for k, v in plain.items() if k != "hire"}, "does not match this version: hire"),
        (lambda plain: plain | {"hire": []}, "hire is written as named fields"),
        (lambda plain: plain | {"tyres": "all good"}, "tyres is written as a list"),
        (lambda _: ["pre_hire_certificate"], "neither a pre-hire certificate nor a handover receipt"),
    ],
)
def test_a_record_of_another_shape_is_refused(spoil, says):
    certificate, _ = fit()
    with pytest.raises(ValueError, match=says):
        from_json(spoil(certificate.to_json()))


@pytest.mark.parametrize(
    ("value", "says"),
    [
        (1.5, "not float"),
        ({"a": {1: "b"}}, "Every key of a record is text"),
        (2**53, "too large"),
        ("\ud800", "half a surrogate pair"),
        ({"when": hashlib}, "not module"),
    ],
)
def test_canonical_json_refuses_what_another_reader_may_not_keep(value, says):
    with pytest.raises(ValueError, match=says):
        canonical_json(value)
