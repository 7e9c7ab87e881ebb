"""Papers: the verify page for anybody, and the staff's page and file of each."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.core.exceptions import RequestDataTooBig
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.models.photos import Photo
from inspections.certificates.actions import paper_of, sealed_bytes, withdraw_paper
from inspections.certificates.content import HandoverReceipt, PreHireCertificate
from inspections.certificates.models import Certificate
from inspections.certificates.numbers import parse_paper_number, parse_verify_code
from inspections.certificates.present import present
from inspections.certificates.proof import FileTooLarge, is_same_file, sha256_of
from people.permissions import for_roles, staff_of
from people.refusals import Refusal
from people.roles import DESK, EVERYBODY, MANAGERS

LARGEST_BYTES = 25 * 1024 * 1024


def _standing(paper: Certificate) -> tuple[str, str]:
    """How a paper stands, as a state and in words: valid, replaced by another number, or withdrawn."""
    if hasattr(paper, "withdrawal"):
        return "withdrawn", f"Withdrawn: {paper.withdrawal.why}"
    if hasattr(paper, "replaced_by"):
        return "replaced", f"Replaced by {paper.replaced_by.number}"
    return "valid", "Valid"


@login_not_required
@require_safe
def verify_find(request: HttpRequest) -> HttpResponse:
    """Type a code, get its page. A number alone opens nothing: numbers follow one another and could be walked through."""
    words, refusal = request.GET.get("code", "").strip(), ""
    # A number of ours may have as many letters and digits as a code, but never the dashes of one.
    if words and not (refusal := _number_hint(words)):
        try:
            return redirect("inspections:verify", parse_verify_code(words))
        except ValueError as error:
            refusal = str(error)
    context = {"page_title": "Check a paper", "words": words, "refusal": refusal}
    return render(request, "certificates/verify_find.html", context, status=422 if refusal else 200)


def _number_hint(words: str) -> str:
    try:
        parse_paper_number(words)
    except ValueError:
        return ""
    return "That is the paper’s number. Type the code printed under the square mark instead."


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def verify(request: HttpRequest, code: str) -> HttpResponse:
    """Is the paper valid, and is this copy the very file the yard sealed? Compared by hash alone: nothing a stranger
    sends is ever opened."""
    try:
        paper = Certificate.objects.select_related("file", "withdrawal", "replaced_by").get(
            code=parse_verify_code(code)
        )
    except (ValueError, Certificate.DoesNotExist):
        context = {"page_title": "No such paper", "words": code[:40]}
        return render(request, "certificates/verify_none.html", context, status=404)
    state, words = _standing(paper)
    content = paper_of(paper)
    page: dict[str, object] = {
        "page_title": f"Check {paper.number}",
        "paper": paper,
        "content": content,
        "state": state,
        "standing": words,
        "holds_until_at": _last_moment(content),
        "holds_longer": getattr(content, "holds_longer", ""),
        "compared": _compare(request, paper) if request.method == "POST" else None,
    }
    response = render(request, "certificates/verify.html", page)
    response["X-Robots-Tag"] = "noindex, nofollow"
    return response


def _last_moment(content: PreHireCertificate | HandoverReceipt) -> datetime | None:
    """Until when a certificate holds at the most; a receipt speaks of one moment and holds for ever."""
    return datetime.fromisoformat(content.holds_until_at) if isinstance(content, PreHireCertificate) else None


def _compare(request: HttpRequest, paper: Certificate) -> str:
    """same, differs, none (no file came), large, or unsealed (the yard has not sealed its own yet)."""
    try:
        upload = request.FILES.get("copy")
    except RequestDataTooBig:
        return "large"
    if upload is None:
        return "none"
    if not hasattr(paper, "file"):
        return "unsealed"
    try:
        found = sha256_of(upload.chunks(), largest_bytes=LARGEST_BYTES)
    except FileTooLarge:
        return "large"
    return "same" if is_same_file(found, stored_sha256=paper.file.sha256) else "differs"


@require_safe
@for_roles(EVERYBODY)
def certificate_detail(request: HttpRequest, certificate_id: UUID) -> HttpResponse:
    """The paper as a page, from the same frozen content as its file."""
    papers = Certificate.objects.select_related("file", "withdrawal", "replaced_by", "replaces")
    paper = get_object_or_404(papers, pk=certificate_id)
    content = paper_of(paper)
    pictures = {
        photo.original_sha256: photo
        for photo in Photo.objects.filter(original_sha256__in=[row.sha256 for row in content.photos])
    }
    urls = {
        row.print_sha256: reverse("fleet:photo", args=[pictures[row.sha256].pk]) + "?size=print"
        for row in content.photos
    }
    state, words = _standing(paper)
    context: dict[str, object] = present(content, photo_urls=urls, lap_svg=paper.lap_svg) | {
        "page_title": paper.number,
        "record": paper,
        "state": state,
        "standing": words,
        "may_withdraw": staff_of(request).has_role(MANAGERS | DESK) and state != "withdrawn",
    }
    return render(request, "certificates/certificate_detail.html", context)


@require_safe
@for_roles(EVERYBODY)
def certificate_file(request: HttpRequest, certificate_id: UUID) -> HttpResponseBase:
    paper = get_object_or_404(Certificate.objects.select_related("file"), pk=certificate_id)
    if not hasattr(paper, "file"):
        raise Http404("The file is being sealed.")
    return FileResponse(
        sealed_bytes(paper.file),
        as_attachment=True,
        filename=f"{paper.number}.pdf",
        content_type="application/pdf",
    )


@require_POST
@for_roles(MANAGERS | DESK)
def certificate_withdraw(request: HttpRequest, certificate_id: UUID) -> HttpResponse:
    paper = get_object_or_404(Certificate, pk=certificate_id)
    why = request.POST.get("why", "").replace("\x00", "").strip()[:240]
    if not why:
        messages.error(request, f"Say why {paper.number} is withdrawn: the verify page shows it.")
        return redirect("inspections:certificate_detail", paper.pk)
    try:
        withdraw_paper(certificate=paper, why=why, by=staff_of(request), at=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, f"{paper.number} is withdrawn. Its verify page says so.")
    return redirect("inspections:certificate_detail", paper.pk)
