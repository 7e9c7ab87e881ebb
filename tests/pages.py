"""What a test of pages reads and sends: a page's words, what a visit costs, days and moments as typed, a small photo."""

import csv
import io
from io import BytesIO

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from PIL import Image

from people.yard import yard_day, yard_policy


def text_of(response):
    """The page with every run of white space as one space, so that a sentence is found however it is folded."""
    return " ".join(response.content.decode().split())


def queries_of(client, address):
    """How many queries a visit takes; the page must open."""
    with CaptureQueriesContext(connection) as queries:
        assert client.get(address).status_code == 200
    return len(queries)


def today():
    """The yard's day by the real clock, which the pages read."""
    return yard_day(timezone.now())


def typed_moment(moment):
    """A moment as a form sends it: the yard's own clock, to the minute."""
    return moment.astimezone(yard_policy().zone).strftime("%Y-%m-%dT%H:%M")


def small_photo(name="cut.jpg", *, colour="red"):
    """A photo as a form posts it, new each time: a posted file is read to its end."""
    raw = BytesIO()
    Image.new("RGB", (64, 48), colour).save(raw, "JPEG")
    return SimpleUploadedFile(name, raw.getvalue(), "image/jpeg")


def saved(client, address, **query):
    """The rows of a table saved as a file, by the words of its head."""
    answer = client.get(address, query | {"as": "csv"})
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/csv")
    return list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"), newline="")))
