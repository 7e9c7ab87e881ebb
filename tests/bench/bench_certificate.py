"""A certificate of 45 results and 8 photos: our render against a warm headless Chromium on the same HTML.

    python -m tests.bench.bench_certificate [--rounds 7] [--chromium /usr/bin/chromium]

Equal characters are asserted first. The seal is timed apart. Read the ratios; the milliseconds are this machine's.
"""

import argparse
import datetime
import re
import sys
import tempfile
from collections import Counter
from pathlib import Path

import django
from django.conf import settings
from playwright.sync_api import Browser, Route, sync_playwright

from tests.bench.timing import medians_ms
from tests.chromium import ARGUMENTS, CHROMIUM

ROOT = Path(__file__).resolve().parents[2]
SEALED_AT = datetime.datetime(2026, 11, 25, 6, 12, tzinfo=datetime.UTC)


def chromium_pdf(browser: Browser, page_html: str, served: dict[str, tuple[bytes, str]]) -> bytes:
    """Print the page in a fresh tab of a running browser; every resource comes from memory, as ours do."""
    from inspections.certificates.render import _BASE  # noqa: PLC0415 -- Django is set up first

    def answer(route: Route) -> None:
        body, kind = served[route.request.url.removeprefix(_BASE)]
        route.fulfill(body=body, content_type=kind, headers={"Access-Control-Allow-Origin": "*"})

    page = browser.new_page()
    page.route("**/*", answer)
    served["page.html"] = (page_html.encode(), "text/html; charset=utf-8")
    page.goto(_BASE + "page.html", wait_until="load")
    pdf = page.pdf(prefer_css_page_size=True, print_background=True, tagged=True)
    page.close()
    return pdf


def characters_of(pdf: bytes, foot: re.Pattern[str]) -> Counter[str]:
    """The characters on the pages, less our foot, which Chromium cannot draw, and bullets, which it draws as shapes.

    Characters, since a long code breaks over lines where each program pleases.
    """
    from tests.inspections.certificate_files import pages_of  # noqa: PLC0415

    text = foot.sub(" ", " ".join(pages_of(pdf)))
    return Counter(re.sub(r"[\s•]+", "", text))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=7)
    parser.add_argument("--chromium", default=CHROMIUM)
    options = parser.parse_args()
    # Templates are all a paper needs: no database, no app.
    backend = "django.template.backends.django.DjangoTemplates"
    settings.configure(TEMPLATES=[{"BACKEND": backend, "DIRS": [ROOT / "templates"]}])
    django.setup()
    from inspections.certificates.keys import make_seal_key  # noqa: PLC0415
    from inspections.certificates.render import _files, page_html, render  # noqa: PLC0415
    from inspections.certificates.seal import seal  # noqa: PLC0415
    from tests.inspections.certificate_papers import limited  # noqa: PLC0415
    from tests.inspections.certificate_samples import lap_svg  # noqa: PLC0415

    content, photos = limited(looks=45, photo_count=8)
    html = page_html(content, lap_svg=lap_svg()).replace(
        "</head>", '<link rel="stylesheet" href="print.css"><link rel="stylesheet" href="paper.css"></head>'
    )
    served = dict(_files()) | {f"photo/{digest}": (data, "image/jpeg") for digest, data in photos.items()}

    def ours() -> bytes:
        return render(content, photos=photos, lap_svg=lap_svg())

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=options.chromium, args=ARGUMENTS)

        def theirs() -> bytes:
            return chromium_pdf(browser, html, served)

        ours_pdf, theirs_pdf = ours(), theirs()
        foot = re.compile(
            rf"Pre-hire certificate {content.number}, revision \d+ page \d+ of \d+ Issued [^R]+ {content.verify.address}"
            r" Record( [0-9a-f]{4}){4}( End of certificate \S+(?= *$))?"
        )
        assert characters_of(ours_pdf, foot) == characters_of(theirs_pdf, foot), (
            "the two files do not say the same"
        )
        ours_ms, theirs_ms = medians_ms(options.rounds, ours, theirs)
        browser.close()
    with tempfile.TemporaryDirectory() as folder:
        key_file, cert_file = Path(folder) / "seal.key", Path(folder) / "seal.crt"
        make_seal_key(key_file=key_file, cert_file=cert_file, name="Bench", at=SEALED_AT)
        [seal_ms] = medians_ms(
            options.rounds, lambda: seal(ours_pdf, key_file=key_file, cert_file=cert_file, at=SEALED_AT)
        )
    print(f"certificate, 45 results, 8 photos, the same characters in both, median of {options.rounds}")
    print(f"  ours, template to PDF/A-3a   {ours_ms:7.0f} ms   {len(ours_pdf) / 1000:6.0f} kB")
    print(f"  warm Chromium, same HTML     {theirs_ms:7.0f} ms   {len(theirs_pdf) / 1000:6.0f} kB")
    print(f"  ours / Chromium              {ours_ms / theirs_ms:7.2f} x    (aim 0.60)")
    print(f"  seal, checked before issue   {seal_ms:7.0f} ms")
    return 0


if __name__ == "__main__":
    sys.exit(main())
