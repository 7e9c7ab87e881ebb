"""The page a tablet keeps: open to anybody, the same for everybody, and one whole set of files."""

import gzip
import json
import re

import pytest
from django.urls import reverse

from inspections import shell
from people.roles import Role
from tests.factories import inspections as signed
from tests.factories.fleet import CartFactory


def constant(script, name):
    return json.loads(re.search(rf"^const {name} = (.+);$", script, re.MULTILINE).group(1))


def test_the_page_is_the_same_bytes_signed_in_or_not(client, people, sign_in):
    address = reverse("inspections:capture")
    stranger, wes = client.get(address), sign_in(people[Role.YARD_HAND]).get(address)
    assert stranger.content == wes.content
    assert people[Role.YARD_HAND].full_name not in wes.content.decode()
    for answer in (stranger, wes):
        assert answer.headers["Cache-Control"] == "no-cache"
        assert answer.headers["X-Slake-Set"] == shell.shell_set()
        assert not answer.cookies


def test_the_worker_keeps_every_file_the_page_is_made_of(client, db):
    answer = client.get(reverse("inspections:capture_worker"))
    script = answer.content.decode()
    assert (answer.headers["Content-Type"], answer.headers["Cache-Control"]) == (
        "text/javascript",
        "no-cache",
    )
    assert "script-src 'self'" in answer.headers["Content-Security-Policy"]
    assert constant(script, "SHELL") == reverse("inspections:capture")
    assert constant(script, "SET") == shell.shell_set()
    kept = constant(script, "FILES")
    named = re.findall(r'(?:src|href)="(/static/[^"]+)"', shell.shell_html())
    modules = [
        f"/static/{path.relative_to(shell.SOURCES).as_posix()}"
        for path in (shell.SOURCES / "capture").rglob("*.js")
    ]
    assert set(kept) == {*named, *modules, "/static/vendor/idb/idb.js"} - {"/static/capture/worker.js"}
    assert len(kept) == len(set(kept))


def test_the_page_names_every_module_so_that_none_waits_for_another_to_ask():
    named = re.findall(r'<link rel="modulepreload" href="([^"]+)">', shell.shell_html())
    assert named == [f"/static/{name}" for name in shell._modules()]


def test_the_page_and_the_list_travel_compressed(client, people, sign_in):
    signed.edition()
    CartFactory(tyres="9.5")
    tablet = sign_in(people[Role.YARD_HAND])
    for name in ("inspections:capture", "inspections:sync_reference"):
        plain = tablet.get(reverse(name))
        small = tablet.get(reverse(name), headers={"Accept-Encoding": "gzip"})
        assert small.headers["Content-Encoding"] == "gzip"
        assert len(small.content) < len(plain.content) / 2
        assert gzip.decompress(small.content)[:1] in (b"<", b"{", b"\n", b" ")


@pytest.fixture
def fresh():
    shell.shell_files.cache_clear()
    shell.shell_set.cache_clear()
    yield
    shell.shell_files.cache_clear()
    shell.shell_set.cache_clear()


def test_another_byte_in_a_module_is_another_set(fresh, tmp_path, monkeypatch):
    before = shell.shell_set()
    for name in shell._modules():
        copy = tmp_path / name
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_text((shell.SOURCES / name).read_text())
    monkeypatch.setattr(shell, "SOURCES", tmp_path)
    shell.shell_set.cache_clear()
    assert shell.shell_set() == before
    (tmp_path / "capture" / "walk.js").write_text("// changed")
    shell.shell_set.cache_clear()
    assert shell.shell_set() != before
