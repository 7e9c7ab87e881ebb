"""The archive file's structure, by an independent reader. It declares PDF/A-3; no validator of that standard was run."""

import datetime
import io
import json
import re
from collections.abc import Iterator

import pikepdf
import pytest

from tests.inspections.certificate_files import SAMPLES, paper, sealed, unsealed

OURS = re.compile(r"/[A-Z]{6}\+Paper-(Text|Code|Other)")


def opened(name: str, *, with_seal: bool = True) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(sealed(name).data if with_seal else unsealed(name)))


def objects(pdf: pikepdf.Pdf) -> Iterator[pikepdf.Object]:
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Dictionary | pikepdf.Stream):
            yield thing


def elements(element: object) -> Iterator[pikepdf.Dictionary]:
    if isinstance(element, pikepdf.Array):
        for kid in element:
            yield from elements(kid)
    elif isinstance(element, pikepdf.Dictionary) and "/S" in element:
        yield element
        yield from elements(element.get("/K"))


@pytest.mark.parametrize("name", SAMPLES)
@pytest.mark.parametrize("with_seal", [False, True])
def test_an_independent_reader_finds_no_fault_in_its_syntax(name, with_seal):
    assert opened(name, with_seal=with_seal).check_pdf_syntax() == []


@pytest.mark.parametrize("name", SAMPLES)
def test_it_declares_the_tagged_archive_format_and_stays_pdf_1_7(name):
    with opened(name) as pdf:
        with pdf.open_metadata() as metadata:
            assert metadata["pdfaid:part"] == "3"
            assert metadata["pdfaid:conformance"] == "A"
        assert pdf.pdf_version == "1.7"
        assert "/Version" not in pdf.Root
        assert [intent.S for intent in pdf.Root.OutputIntents] == [pikepdf.Name.GTS_PDFA1]


@pytest.mark.parametrize("name", SAMPLES)
def test_it_is_tagged_with_a_language_and_a_title(name):
    content, _ = paper(name)
    with opened(name) as pdf:
        assert bool(pdf.Root.MarkInfo.Marked)
        assert str(pdf.Root.Lang) == "en-GB"
        assert bool(pdf.Root.ViewerPreferences.DisplayDocTitle)
        title = str(pdf.docinfo["/Title"])
        assert content.number in title
        assert content.cart.fleet_number in title
        tags = [str(element.S) for element in elements(pdf.Root.StructTreeRoot.K)]
    assert tags.count("/H1") == 1
    for tag in ("/H2", "/H3", "/L", "/LI", "/LBody", "/Sect", "/Figure", "/Caption"):
        assert tag in tags, tag


@pytest.mark.parametrize("name", SAMPLES)
def test_every_picture_says_what_it_shows(name):
    with opened(name) as pdf:
        figures = [element for element in elements(pdf.Root.StructTreeRoot.K) if str(element.S) == "/Figure"]
        spoken = [str(figure.get("/Alt", "")) for figure in figures]
    content, _ = paper(name)
    assert all(spoken)
    assert sum(words.startswith("Photo ") for words in spoken) == len(content.photos)
    assert any("numbered stops" in words for words in spoken)
    assert any(content.verify.url in words for words in spoken)


@pytest.mark.parametrize("name", SAMPLES)
def test_every_typeface_is_our_own_and_embedded(name):
    with opened(name) as pdf:
        fonts = [thing for thing in objects(pdf) if thing.get("/Type") == pikepdf.Name.FontDescriptor]
        assert fonts
        for font in fonts:
            assert OURS.match(str(font.FontName)), font.FontName
            assert any(key in font for key in ("/FontFile", "/FontFile2", "/FontFile3"))
        used = [thing for thing in objects(pdf) if thing.get("/Type") == pikepdf.Name.Font]
        assert all("/ToUnicode" in font for font in used if font.Subtype == pikepdf.Name.Type0)
        assert {str(font.Subtype) for font in used} <= {"/Type0", "/CIDFontType0", "/CIDFontType2"}


@pytest.mark.parametrize("name", SAMPLES)
def test_the_canonical_record_is_attached_once_as_its_source(name):
    content, _ = paper(name)
    with opened(name) as pdf:
        assert list(pdf.attachments) == ["record.json"]
        attached = pdf.attachments["record.json"]
        data = attached.get_file().read_bytes()
        assert data == content.canonical()
        assert json.loads(data)["number"] == content.number
        assert len(pdf.Root.AF) == 1
        filespec = pdf.Root.AF[0]
        assert filespec.AFRelationship == pikepdf.Name.Source
        assert filespec.EF.F.Subtype == pikepdf.Name("/application/json")
        assert str(filespec.EF.F.Params.ModDate) == str(pdf.docinfo["/CreationDate"])


@pytest.mark.parametrize("name", SAMPLES)
def test_its_dates_are_the_issue_time_and_agree_in_both_places(name):
    with opened(name) as pdf:
        created, modified = str(pdf.docinfo["/CreationDate"]), str(pdf.docinfo["/ModDate"])
        with pdf.open_metadata() as metadata:
            stamp = metadata["xmp:CreateDate"], metadata["xmp:ModifyDate"]
    assert created == modified
    issued_at = datetime.datetime.fromisoformat(paper(name)[0].issued_at)
    assert {datetime.datetime.fromisoformat(text) for text in stamp} == {issued_at}
    assert created == f"{issued_at.astimezone(datetime.UTC):D:%Y%m%d%H%M%SZ}"


@pytest.mark.parametrize("name", SAMPLES)
def test_nothing_in_it_runs_or_leads_out_and_no_picture_is_smoothed(name):
    with opened(name) as pdf:
        assert not {"/OpenAction", "/AA"} & set(pdf.Root.keys())
        assert "/JavaScript" not in pdf.Root.get("/Names", {})
        pictures = 0
        for thing in objects(pdf):
            assert "/JS" not in thing
            assert thing.get("/S") not in ("/JavaScript", "/Launch", "/URI", "/SubmitForm")
            if thing.get("/Subtype") == pikepdf.Name.Image:
                pictures += 1
                assert thing.get("/Interpolate", False) is False
    assert pictures == len(paper(name)[0].photos)


def test_a_photo_is_printed_from_the_bytes_it_was_given():
    content, photos = paper("fit")
    with opened("fit") as pdf:
        found = {
            thing.read_raw_bytes() for thing in objects(pdf) if thing.get("/Subtype") == pikepdf.Name.Image
        }
    assert found == {photos[photo.print_sha256] for photo in content.photos}
