"""Parsing what people type about people."""

from django import forms

from people.roles import ROLE_CHOICES


class SignInForm(forms.Form):
    username = forms.CharField(
        label="Sign-in name",
        max_length=40,
        widget=forms.TextInput(
            attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )
    password = forms.CharField(
        strip=False, max_length=256, widget=forms.PasswordInput(attrs={"autocomplete": "current-password"})
    )


class StaffForm(forms.Form):
    full_name = forms.CharField(max_length=80, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    role = forms.ChoiceField(choices=ROLE_CHOICES)
    email = forms.EmailField(
        required=False,
        help_text="Alerts go here. Left empty, they are on screen only.",
        widget=forms.EmailInput(attrs={"autocomplete": "off"}),
    )
    mobile = forms.CharField(
        required=False,
        max_length=30,
        help_text="For what cannot wait till morning. With its country, as in +61 400 000 000.",
        widget=forms.TextInput(attrs={"type": "tel", "autocomplete": "off"}),
    )


class NewStaffForm(StaffForm):
    username = forms.CharField(
        label="Sign-in name",
        max_length=40,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none"}),
    )
    password = forms.CharField(
        label="First password",
        strip=False,
        max_length=256,
        help_text="At least 15 characters: three or four unrelated words are easy to remember.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    field_order = ("full_name", "username", "role", "email", "mobile", "password")
