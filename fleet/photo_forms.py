"""Forms that take several photos."""

from __future__ import annotations

from typing import Any

from django import forms


class ManyFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class ManyPhotos(forms.FileField):
    """Several photos at once; each is checked by the photo intake, not here."""

    widget = ManyFiles(attrs={"accept": "image/*", "capture": "environment", "multiple": True})

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        files = data if isinstance(data, list | tuple) else [data]
        return [super(ManyPhotos, self).clean(file, initial) for file in files if file] if any(files) else []
