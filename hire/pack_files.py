"""The PDF of a site pack, made once by a worker and kept by its own hash, with the sealed certificate inside as it is."""

from __future__ import annotations

import hashlib
from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.template.loader import render_to_string

from fleet.photos import store
from hire.models.packs import PackFile, SitePack
from inspections.certificates.actions import sealed_bytes
from inspections.certificates.models import SealedFile
from inspections.certificates.render import Enclosed, render_sheet
from people.clock import shown_by


class NotSealedYet(Exception):
    """The certificate of the pack has no file yet: the outbox asks again."""


def pack_html(pack: SitePack) -> str:
    context = {
        "pack": pack, "line": pack.line, "body": pack.body, "yard_name": settings.YARD_NAME,
        "yard_address": settings.YARD_ADDRESS, "yard_contact": settings.YARD_CONTACT,
    }  # fmt: skip
    with shown_by(pack.line.agreement.zone):
        return render_to_string("hire/pack_paper.html", context)


def _enclosed(pack: SitePack) -> list[Enclosed]:
    named = pack.body["certificate"]
    if named is None:
        return []
    file = SealedFile.objects.filter(certificate=named["id"]).first()
    if file is None:
        raise NotSealedYet(named["number"])
    what = f"The sealed certificate {named['number']}, its bytes as the yard keeps them"
    return [Enclosed(f"{named['number']}.pdf", sealed_bytes(file).read(), what, file.sealed_at)]


def make_pack_file(pack_id: UUID, at: datetime) -> None:
    """Outbox work. Run twice it does nothing the second time. NotSealedYet."""
    pack = SitePack.objects.for_list().get(pk=pack_id)
    if PackFile.objects.filter(pack=pack).exists():
        return
    pdf = render_sheet(pack_html(pack), name=pack.number, enclosed=_enclosed(pack))
    PackFile(
        pack=pack, sha256=hashlib.sha256(pdf).hexdigest(), stored_name=store.put(pdf, ".pdf"), made_at=at
    ).save(force_insert=True)
