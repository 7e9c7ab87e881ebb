"""Forms that take several photos."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django import forms
from django.http import QueryDict
from django.urls import reverse
from django.utils.html import format_html

from fleet.models.photos import Photo


class ManyFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyPhotos(forms.FileField):
    """Several photos at once; each is checked by the photo intake, not here."""

    widget = ManyFiles(attrs={"accept": "image/*", "capture": "environment", "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        files = data if isinstance(data, list | tuple) else [data]
        return [super(ManyPhotos, self).clean(file, initial) for file in files if file] if any(files) else []


def _known(ids: Iterable[str]) -> list[UUID]:
    found = []
    for one in ids:
        try:
            found.append(UUID(one))
        except ValueError:
            continue
    return found


class KeptPhotos(forms.ModelMultipleChoiceField):  # type: ignore[type-arg] # the class takes none at run time
    """Photos of a form that came back, taken in already: in the order they were sent, each shown with a tick to leave it out."""

    def __init__(self) -> None:
        super().__init__(
            Photo.objects.all(),
            required=False,
            widget=forms.CheckboxSelectMultiple,
            label="Photos that came",
            help_text="They are kept while you put the rest right. Untick what is not to stay.",
        )

    def offer(self, ids: Iterable[str]) -> None:
        photos = Photo.objects.in_bulk(_known(ids))
        self.choices = [
            (
                str(pk),
                format_html(
                    '<img class="kept-photo" src="{}" alt="" width="160" height="120"> Photo {}',
                    reverse("fleet:photo", args=[pk]),
                    number,
                ),
            )
            for number, pk in enumerate(dict.fromkeys(pk for pk in _known(ids) if pk in photos), start=1)
        ]

    def clean(self, value: Any) -> Any:
        photos = {photo.pk: photo for photo in super().clean(value)}
        return [photos[pk] for pk in dict.fromkeys(_known(value or []))]


class WithPhotos(forms.Form):
    """A form that may carry several photos. Those that were taken in are kept by their ids while the rest is put right."""

    photos = ManyPhotos(
        required=False,
        # No camera of its own: whoever took the pictures under the cart picks them all at once.
        widget=ManyFiles(attrs={"accept": "image/*", "multiple": True, "data-more-files": ""}),
    )
    kept_photos = KeptPhotos()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        kept = self.data.getlist("kept_photos") if isinstance(self.data, QueryDict) else []
        if kept:
            self.fields["kept_photos"].offer(kept)  # type: ignore[attr-defined]
        else:
            del self.fields["kept_photos"]
