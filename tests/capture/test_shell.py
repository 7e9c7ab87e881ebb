"""The page as it is handed out: the same for everybody, nothing inline, small enough for a weak signal."""

import gzip
import re
from pathlib import Path

import pytest
import rjsmin
from django.template.loader import render_to_string
from django.test import RequestFactory

ROOT = Path(__file__).resolve().parent.parent.parent
WORKER = ROOT / "static" / "capture" / "worker.js"
KEPT_BY = ROOT / "static" / "vendor" / "idb" / "idb.js"
MODULES = sorted(set((ROOT / "static" / "capture").rglob("*.js")) - {WORKER})
IMPORT = re.compile(r'^import .* from "(\.[^"]+)";$', re.MULTILINE)


@pytest.fixture
def shell() -> str:
    return render_to_string("inspections/capture.html", request=RequestFactory().get("/check/"))


def test_the_page_is_the_same_for_everybody(shell: str) -> None:
    template = (ROOT / "templates" / "inspections" / "capture.html").read_text(encoding="utf-8")
    assert set(re.findall(r"{%\s*(\w+)", template)) == {"load", "static", "url", "for", "endfor"}
    # Where the page's own files lie and the words of the yard's rule set, and nothing else that could differ.
    assert set(re.findall(r"{{\s*(\w+)", template)) == {"address", "words"}
    assert "csrf" not in shell


def test_nothing_on_the_page_is_inline(shell: str) -> None:
    assert re.findall(r"<script(?![^>]*\bsrc=)[^>]*>", shell) == []
    assert re.findall(r"<style|\sstyle=|\son[a-z]+=", shell) == []
    assert re.findall(r'(?:src|href)="(?:https?:)?//', shell) == []


def test_every_module_is_reached_and_every_import_stands_alone_on_its_line() -> None:
    reached = {ROOT / "static" / "capture" / "main.js"}
    waiting = list(reached)
    while waiting:
        module = waiting.pop()
        text = module.read_text(encoding="utf-8")
        found = {(module.parent / name).resolve() for name in IMPORT.findall(text)}
        assert len(IMPORT.findall(text)) == len(re.findall(r"^import\b", text, re.MULTILINE)), module
        waiting += found - reached
        reached |= found
    assert reached == {*MODULES, KEPT_BY}


@pytest.mark.parametrize("module", [*MODULES, WORKER], ids=lambda path: path.name)
def test_a_module_never_sets_markup_or_style(module: Path) -> None:
    text = module.read_text(encoding="utf-8")
    assert (
        re.findall(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", text)
        == []
    )
    assert re.findall(r"\.style\b|setAttribute\(\"style\"|style:", text) == []
    assert max(len(line) for line in text.splitlines()) <= 120
    assert len(text.splitlines()) < 300


def test_the_whole_first_load_stays_within_its_budget(shell: str) -> None:
    linked = re.findall(r'(?:href|src)="/static/([^"]+\.(?:css|js))"', shell)
    files = {ROOT / "static" / name for name in linked} | {*MODULES, KEPT_BY, WORKER}
    total = len(gzip.compress(shell.encode(), 9))
    # As they are served: the modules without what only people read (config/static_files.py).
    texts = [path.read_text(encoding="utf-8") for path in files if path.suffix == ".css"]
    texts += [rjsmin.jsmin(path.read_text(encoding="utf-8")) for path in files if path.suffix == ".js"]
    total += sum(len(gzip.compress(text.encode(), 9)) for text in texts)
    # Half of what a slow tablet on a weak signal is thought to bear (infrequently.org, 2022: 130 to 170 KB).
    assert total <= 70 * 1024, f"{total} bytes compressed"
