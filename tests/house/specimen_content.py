"""Invented content for the specimen page: every component, in the states that are hard to draw."""

from datetime import UTC, datetime, timedelta

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, QueryDict
from django.template.loader import render_to_string
from django.urls import reverse

from config.screen import parted, ways_for
from people.models import Staff
from people.roles import Role

AT = datetime(2026, 12, 1, 19, 0, tzinfo=UTC)
PHOTO = "/specimen-photo.jpg"


def hours(count):
    return timedelta(hours=count)


class RepairForm(forms.Form):
    done = forms.CharField(
        label="What was done",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Parts, and what the old one looked like.",
    )
    torque_nm = forms.IntegerField(
        label="Wheel nuts tightened to, in newton metres", help_text="By the maker's figure."
    )
    wrench = forms.ChoiceField(
        label="Torque wrench", choices=[("", "Choose one"), ("w2", "Wrench 2, calibrated to 3 Mar 2027")]
    )
    left_how = forms.ChoiceField(
        label="How it was tested",
        widget=forms.RadioSelect,
        choices=[
            ("drive", "Short drive, hub felt after"),
            ("stand", "Standing only"),
            ("none", "Not tested"),
        ],
    )
    seen = forms.BooleanField(label="I looked at the other tyre of the pair")
    note = forms.CharField(label="Note for the second look", required=False)


class DepthForm(forms.Form):
    depth = forms.DecimalField(
        label="Least groove, in millimetres", max_digits=4, decimal_places=1, required=False
    )


class FilterForm(forms.Form):
    where = forms.ChoiceField(
        choices=[("", "Anywhere"), ("yard", "In yard"), ("site", "On site")], required=False
    )
    grade = forms.ChoiceField(choices=[("", "Any grade"), ("do_not_use", "Do not use")], required=False)
    words = forms.CharField(required=False, max_length=20)


def repair_form():
    form = RepairForm(
        {
            "done": "Fitted a part-worn, 9 mm. Old one cut to the cord.",
            "torque_nm": "six hundred",
            "left_how": "drive",
        }
    )
    form.is_valid()
    return form


QUEUE = [
    (
        "47",
        "Rear left inner tyre under change-out",
        "told yesterday",
        "do_not_use",
        "",
        hours(9),
        hours(13),
        "2.49",
        "Look at it",
    ),
    (
        "12",
        "Emergency stop, rear: does not stop the pump",
        "on the job, Dez",
        "do_not_use",
        "",
        hours(31),
        hours(6),
        None,
        "Open job sheet",
    ),
    (
        "3",
        "Cannon pivot bolts loose",
        "looked at, no person yet",
        "by_date",
        "4 Dec",
        hours(50),
        hours(2),
        None,
        "Give it to somebody",
    ),
    ("28", "Weep at the pump gland", "looked at", "watch", "", None, hours(3), None, "Look again"),
    (
        "205",
        "Front left hub: oil line below the seal",
        "done, waiting for a second look",
        "by_date",
        "9 Dec",
        hours(120),
        hours(1),
        None,
        "Second look",
    ),
    (
        "9",
        "Mud flap bracket, right rear",
        "told this morning",
        "watch",
        "",
        -hours(2),
        hours(1),
        None,
        "Look at it",
    ),
]
TODAY = [
    (
        "12",
        hours(0.5),
        "held",
        "Held: rear emergency stop does not stop the pump.",
        "Coolabah Civil, Lot 9",
        "Open job sheet",
    ),
    (
        "31",
        hours(1),
        "ready",
        "Ready until Thu 4 Dec, then the 500-hour service.",
        "Stringy Range Quarry",
        "Gate-out check",
    ),
    (
        "3",
        hours(6),
        "limits",
        "Goes with limits: cannon isolated and tagged.",
        "Dry Creek Earthworks",
        "Gate-out check",
    ),
    (
        "16",
        hours(9),
        "held",
        "Held: no pre-hire check since it came back on Monday.",
        "Coolabah Civil, Lot 9",
        "Walk cart 16",
    ),
]
FILL_INPUTS = [
    ("Ready to work, weighed", "11,240 kg", "weighbridge ticket, 3 Nov 2026"),
    ("Rear axle group, limit", "16,500 kg", "as entered from the plate"),
    ("Tank centre behind front axle", "4.1 m", None),
    ("Water", "1.0 kg a litre", None),
]


def person(role="Workshop manager"):
    return {"is_authenticated": True, "full_name": "Marg Tolley", "get_role_display": role}


def content(layout="layouts/desk.html"):
    keys = ("cart", "title", "state", "grade", "by", "left", "repair", "depth_mm", "act")
    nav, nav_more = parted(ways_for(Staff(role=Role.WORKSHOP_MANAGER), reverse("servicing:defect_list")))
    return {
        "layout": layout,
        "yard_name": "Redgum Flat Water Carts",
        "nav": nav,
        "nav_more": nav_more,
        "alert_count": 4,
        "messages": ["Cart 31 is freed. Second look by Ivo Marsh."],
        "cart": {
            "fleet_number": "47",
            "plate": "S491 BKT",
            "make_model": "Brolga 6x4, 13,000\u00a0L steel tank",
        },
        "held": "Held: rear left inner tyre 2.4 mm, change-out at 3.0. Nobody has looked at it yet.",
        "ready": "Ready until Thursday, then the 500-hour service.",
        "limits": "Goes with limits: cannon isolated and tagged, not for use.",
        "refusal": "Cart 47 was put on hold by Ivo Marsh while this page was open. Look at the hold first.",
        "key_facts": [
            ("Engine", "4,812.5 h"),
            ("Pump", "1,203.0 h"),
            ("Odometer", "182,340 km"),
            ("Next wanted", "Wed 2 Dec, 5.30 am"),
        ],
        "facts": [
            ("Where", "Yard, bay 6", "since Mon 30 Nov, 4.10 pm"),
            ("Keys", "Board, hook 47"),
            ("Tag", "D-0188, hung by Marg Tolley", "on the driver's door"),
            ("Registered to", "18 Mar 2027"),
            ("Clean-down", None),
        ],
        "fill": "9,400 L",
        "tyre_day": "about 14 Jan 2027",
        "fill_inputs": FILL_INPUTS,
        "fill_rule": "The litres at which the first of front group, rear group and gross is full. Here: rear group.",
        "fill_source": "Limits as entered from the cart's plate; a lever rule over two axle groups, common practice, no source.",
        "fill_spread": "A 200 kg error in the weighed mass moves it by about 170 L.",
        "fill_caution": "Advice from the figures entered: a weighbridge decides. Water in a part-filled tank moves.",
        "steps": [
            {
                "what": "Told: rear left inner tyre 2.4 mm",
                "who_when": "Kit Arden, daily pre-start, Tue 1 Dec, 6.12 am",
                "words": "Cut on the shoulder as well.",
            },
            {"what": "Held and tagged out", "who_when": "Marg Tolley, Tue 1 Dec, 6.40 am"},
            {"what": "On the job", "who_when": "Dez Okafor, Tue 1 Dec, 9.05 am"},
        ],
        "next_step": "second look by somebody other than Dez",
        "queue": [dict(zip(keys, row, strict=True)) for row in QUEUE],
        "today": [
            dict(
                zip(
                    ("cart", "at", "state", "sentence", "customer", "act"),
                    (row[0], AT + row[1], *row[2:]),
                    strict=True,
                )
            )
            for row in TODAY
        ],
        "page": Paginator(range(60), 20).page(2),
        "filter_form": FilterForm({"where": "yard"}),
        "repair_form": repair_form(),
        "depth_form": DepthForm({"depth": "9.0"}),
        "notices": [
            {
                "shape": "stop",
                "what": "Cart 47 leaves at 5.30 am tomorrow and is held.",
                "how": "Tyre 2LI 2.4 mm, measured 6.12 am today.",
                "url": "/carts/47/",
                "label": "Open",
            },
            {
                "shape": "caution",
                "what": "Extinguisher E-113 on cart 9: service by 20 Dec.",
                "how": "Tag read June 2026.",
                "url": "/carts/9/",
                "label": "Open",
            },
            {
                "shape": "watch",
                "what": "Cart 28, pump gland: look again by Friday.",
                "how": "One drip a minute on Monday.",
                "url": "/carts/28/",
                "label": "Open",
            },
        ],
        "photos": [
            {
                "url": PHOTO,
                "alt": "Rear left inner tyre, cut on the shoulder",
                "caption": "Rear left inner tyre",
                "taken": "Tue 1 Dec, 6.14 am",
                "short_hash": "9f31c07ab2d4",
            },
            {
                "url": PHOTO,
                "alt": "Tread gauge in the groove at 2.4 mm",
                "caption": "Gauge in the least groove",
                "taken": "Tue 1 Dec, 6.15 am",
                "short_hash": "52ad11e09c7f",
            },
        ],
        "statement": "I walked round cart 47, what I answered is what I saw, and it may not go.",
    }


def specimen_request(query="where=yard&page=2"):
    request = HttpRequest()
    request.method, request.path = "GET", "/specimen/"
    request.META |= {"SERVER_NAME": "testserver", "SERVER_PORT": "80"}
    request.GET = QueryDict(query)
    request.user = person()
    return request


def specimen(layout="layouts/desk.html"):
    """The page as a browser gets it, for the layout named."""
    return render_to_string("specimen.html", content(layout), request=specimen_request())
