"""Every page and state of the demo at phone, tablet and desk sizes, as pictures in .slake/screens: `./run screens`.

Whoever changes a page looks at it here before saying that it is done. Nothing in the yard is changed by looking.
"""

import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.chromium import ARGUMENTS, CHROMIUM
from tests.journeys.looking import (
    ROAD,
    WET,
    Look,
    exchange,
    heads_caught,
    list_refused,
    of_cart,
    of_hire,
    pack,
    page,
    pressed,
    pressed_unticked,
    refused,
    through,
    through_cart,
    through_refused,
    through_weights,
    walking,
)
from tests.journeys.visitor import Visitor

FOLDER = Path(__file__).resolve().parents[2] / ".slake" / "screens"
SIZES = ("desk", "tablet", "tablet upright", "phone")
# Date fields speak the browser's own language, and Debian's Chromium has American English alone, whatever the visitor's
# is. Here they follow the page's, the page follows the visitor's, and each is made anew: day first, as in the yard.
DATES_AS_THE_PAGE = "--enable-blink-features=LangAttributeAwareFormControlUI"
PAGE_AS_THE_VISITOR = """addEventListener('DOMContentLoaded', () => {
  document.documentElement.lang = navigator.language;
  for (const field of document.querySelectorAll('input[type^=date]')) {
    const { type } = field;
    field.type = 'text';
    field.type = type;
  }
})"""

# Name of the picture, who looks (None: a stranger), and what at.
LOOKS: tuple[tuple[str, str | None, Look], ...] = (
    ("sign-in", None, page("/sign-in/")),
    ("sign-in-refused", None, refused(page("/sign-in/"))),
    ("home", "noor", page("/")),
    ("home-fitter", "teo", page("/")),
    ("alerts", "noor", page("/alerts/")),
    ("alerts-of-one-kind", "noor", page("/alerts/?rule=servicing.extinguisher_due")),
    ("alerts-none", "noor", page("/alerts/?cart=zzz")),
    ("alert-set-aside", "noor", refused(through("/alerts/?rank=today", r"/alerts/[0-9a-f-]{36}/set-aside/"))),
    ("alerts-on-call", "noor", refused(page("/alerts/on-call/"))),
    ("alerts-report", "noor", page("/alerts/report/")),
    ("carts", "noor", page("/carts/")),
    ("carts-none-found", "noor", page("/find/?q=zzz")),
    ("cart-fit", "noor", of_cart("WC-11", "/carts/{id}/")),
    ("cart-held", "noor", of_cart("WC-24", "/carts/{id}/")),
    ("cart-limits", "noor", of_cart("WC-21", "/carts/{id}/")),
    ("cart-change", "noor", of_cart("WC-11", "/carts/{id}/change/")),
    ("cart-add-refused", "noor", refused(page("/carts/add/"))),
    ("gear", "noor", of_cart("WC-11", "/carts/{id}/gear/")),
    ("water", "bruna", of_cart("WC-10", "/carts/{id}/water/")),
    ("water-spoilt", "noor", of_cart("WC-18", "/carts/{id}/water/")),
    ("water-none", "wes", of_cart("WC-11", "/carts/{id}/water/")),
    ("water-fill-refused", "wes", refused(of_cart("WC-10", "/carts/{id}/water/fill/"))),
    ("water-sanitise", "wes", of_cart("WC-10", "/carts/{id}/water/sanitise/")),
    ("weights", "bruna", of_cart("WC-02", "/carts/{id}/weights/")),
    ("weights-few-tickets", "noor", of_cart("WC-05", "/carts/{id}/weights/")),
    ("weights-not-weighed", "wes", of_cart("WC-04", "/carts/{id}/weights/")),
    ("weights-not-measured", "bruna", of_cart("WC-08", "/carts/{id}/weights/")),
    ("weights-trailer", "bruna", of_cart("WC-21", "/carts/{id}/weights/")),
    ("weights-cart", "noor", of_cart("WC-01", "/carts/{id}/")),
    ("weights-tank-refused", "bruna", refused(of_cart("WC-08", "/carts/{id}/weights/tank/"))),
    ("weights-plates-refused", "bruna", refused(of_cart("WC-08", "/carts/{id}/weights/plates/"))),
    ("weights-ticket-refused", "bruna", refused(of_cart("WC-04", "/carts/{id}/weights/ticket/"))),
    ("weights-strike", "bruna", through_weights(r"/strike/$")),
    ("weights-dips", "wes", of_cart("WC-01", "/carts/{id}/weights/dip-table/")),
    ("cart-potable", "noor", of_cart("WC-10", "/carts/{id}/")),
    ("spray-cart", "noor", of_cart("WC-07", "/carts/{id}/")),
    ("spray-figures", "noor", of_cart("WC-07", "/carts/{id}/spraying/")),
    ("spray-none", "noor", of_cart("WC-11", "/carts/{id}/spraying/")),
    ("spray-print", "noor", of_cart("WC-07", "/carts/{id}/spraying/print/")),
    ("spray-record-refused", "teo", refused(of_cart("WC-11", "/carts/{id}/spraying/record/"))),
    ("spray-tests", "noor", of_cart("WC-07", "/carts/{id}/evenness/")),
    ("spray-test", "wes", of_cart("WC-07", "/carts/{id}/evenness/test/")),
    ("spray-test-figures", "wes", heads_caught),
    (
        "spray-test-signed",
        "noor",
        through_cart("WC-07", "/carts/{id}/evenness/", r"/evenness/[0-9a-f-]{36}/$"),
    ),
    ("hold", "bruna", of_cart("WC-11", "/carts/{id}/hold/")),
    ("plate", "noor", of_cart("WC-11", "/carts/{id}/plate/")),
    ("check-carts", "wes", page("/check/")),
    ("check-cart", "wes", of_cart("WC-16", "/check/#cart={id}")),
    ("check-pass", "wes", walking(0)),
    ("check-look", "wes", walking(1)),
    ("check-wrong", "wes", walking(3, press="Something’s wrong")),
    ("check-why-not", "wes", walking(3, press="Couldn’t check")),
    ("check-value", "wes", walking(13)),
    ("check-review", "wes", walking(30)),
    ("check-sign", "wes", walking(30, press="These are right: go and sign")),
    ("tablets", "noor", page("/tablets/")),
    ("my-pin", "wes", page("/my-pin/")),
    ("my-pin-refused", "wes", refused(page("/my-pin/"))),
    ("walk-rounds", "noor", page("/walk-rounds/")),
    ("walk-round", "noor", through("/walk-rounds/", r"/walk-rounds/[0-9a-f-]{36}/")),
    ("questions", "noor", page("/walk-rounds/questions/")),
    ("question-asked", "noor", through("/walk-rounds/questions/", r"#questions$")),
    ("question-rest", "noor", through("/walk-rounds/questions/", r"#questions$", r"/questions/pace/$")),
    ("check-sheets", "noor", page("/check-sheets/")),
    ("check-sheet-check", "noor", page("/check-sheets/wheel-nuts-right-front-wheel/")),
    ("workshop", "bruna", page("/workshop/")),
    ("workshop-fitter", "teo", page("/workshop/")),
    ("workshop-none", "bruna", page("/workshop/?cart=zzz")),
    ("defect", "bruna", through("/workshop/", r"/workshop/[0-9a-f-]{36}/")),
    ("workshop-put-off", "bruna", page("/workshop/?state=put_off")),
    ("workshop-returning", "bruna", page("/workshop/?returning=on")),
    ("defect-put-off", "bruna", through("/workshop/?state=put_off", r"/workshop/[0-9a-f-]{36}/$")),
    ("pattern", "bruna", through("/workshop/", r"/workshop/patterns/")),
    ("together-refused", "bruna", pressed_unticked),
    ("job", "teo", through("/workshop/", r"/job/$")),
    ("job-refused", "teo", through_refused),
    ("extinguisher-exchange", "teo", exchange),
    ("spare", "teo", page("/extinguishers/spare/")),
    ("tell", "wes", page("/workshop/tell/")),
    ("tell-refused", "wes", refused(page("/workshop/tell/"))),
    ("tags", "bruna", page("/workshop/holds/")),
    ("tyres", "bruna", page("/workshop/tyres/")),
    ("tyre", "bruna", through("/workshop/tyres/?axle=steer", r"/tyre-fittings/[0-9a-f-]{36}/$")),
    (
        "tyre-change-refused",
        "teo",
        refused(through("/workshop/tyres/", r"/tyre-fittings/[0-9a-f-]{36}/$", r"/change/$")),
    ),
    ("weeks", "bruna", page("/workshop/weeks/")),
    ("weeks-one-cart", "bruna", page("/workshop/weeks/?cart=WC-14")),
    ("weeks-none", "bruna", page("/workshop/weeks/?cart=zzz")),
    ("weeks-day-refused", "bruna", refused(of_cart("WC-14", "/carts/{id}/workshop-day/"))),
    ("services", "bruna", page("/workshop/services/")),
    ("service-add-refused", "bruna", refused(page("/workshop/services/add/"))),
    ("service-change", "bruna", through("/workshop/services/", r"/workshop/services/[0-9a-f-]{36}/$")),
    ("service-due", "bruna", through("/workshop/weeks/?cart=WC-14", r"/services-due/[0-9a-f-]{36}/$")),
    ("service-record-refused", "bruna", refused(of_cart("WC-14", "/carts/{id}/service/"))),
    ("wheel-nuts", "bruna", page("/workshop/retorques/")),
    ("wheel-nuts-first", "teo", through("/workshop/retorques/", r"/workshop/retorques/[0-9a-f-]{36}/")),
    ("services", "bruna", page("/workshop/services/")),
    ("last-done", "teo", through("/workshop/services/", r"/last-done/$")),
    ("last-done-refused", "teo", list_refused),
    ("hire", "dot", page("/hire/")),
    ("caller-road", "dot", page("/hire/find/?" + ROAD)),
    ("caller-wet", "dot", page("/hire/find/?" + WET)),
    ("caller-night", "dot", page("/hire/find/?" + WET + "&shift=both&travel_hours=1")),
    ("hire-past", "dot", page("/hire/past/")),
    ("run-sheet", "dot", page("/hire/runs/")),
    ("run-note", "dot", through("/hire/runs/", r"/run/out/$")),
    ("hired-in", "dot", page("/hire/hired-in/")),
    ("hired-in-cart", "dot", through("/hire/hired-in/", r"/hired-in/[0-9a-f-]{36}/$")),
    ("hired-in-owner", "dot", through("/hire/hired-in/", r"/owners/[0-9a-f-]{36}/$")),
    ("hired-in-refused", "dot", refused(page("/hire/hired-in/add/"))),
    ("hired-in-charges", "dot", of_hire("WC-17", "charges/")),
    ("yards", "noor", page("/yards/")),
    ("hire-out-and-back", "dot", through("/hire/past/", r"/out-and-back/$")),
    ("hire-decide", "dot", through("/hire/past/", r"/out-and-back/$", r"/out-and-back/[a-z0-9-]+/$")),
    ("hire-found-again", "dot", through("/hire/", r"/out-and-back/#decide$", r"/found-again/[a-z0-9-]+/$")),
    ("hire-kit", "dot", through("/hire/past/", r"/out-and-back/$", r"/kit/$")),
    ("hire-add", "dot", page("/hire/add/")),
    ("hire-bookings", "dot", page("/hire/bookings/")),
    ("hire-add-refused", "dot", refused(page("/hire/add/"))),
    ("hire-one-more", "dot", of_hire("WC-25", "one-more/")),
    ("hire-one-more-refused", "dot", refused(of_hire("WC-25", "one-more/"))),
    ("hire-fit", "dot", of_hire("WC-11", "")),
    ("hire-period", "dot", pressed(of_hire("WC-05", "period/"))),
    ("hire-period-wet", "dot", pressed(of_hire("WC-25", "period/"))),
    ("hire-stopped", "dot", of_hire("WC-16", "")),
    ("hire-limits", "dot", of_hire("WC-21", "")),
    ("hire-out", "dot", of_hire("WC-07", "")),
    ("hire-loads", "dot", of_hire("WC-07", "loads/")),
    ("hire-plan-none", "dot", page("/hire/plan/")),
    ("hire-plan", "dot", through("/hire/plans/", r"/hire/plans/[0-9a-f-]{36}/$")),
    ("hire-plan-refused", "dot", page("/hire/plan/?target_l_m2=0")),
    ("hire-plans", "dot", page("/hire/plans/")),
    ("hire-off-hire", "dot", of_hire("WC-07", "off-hire/")),
    ("hire-swap", "dot", of_hire("WC-07", "swap/")),
    ("hire-another-cart", "dot", of_hire("WC-02", "another-cart/")),
    ("hire-work", "dot", of_hire("WC-02", "work/")),
    ("wet-hire", "dot", of_hire("WC-01", "")),
    ("wet-charges", "dot", of_hire("WC-01", "charges/")),
    ("wet-operator-put", "dot", of_hire("WC-25", "operator/")),
    ("wet-operators", "dot", page("/hire/operators/")),
    ("wet-operator", "dot", through("/hire/operators/", r"/hire/operators/[0-9a-f-]{36}/$")),
    (
        "wet-ticket-refused",
        "dot",
        refused(through("/hire/operators/", r"/hire/operators/[0-9a-f-]{36}/$", r"/ticket/$")),
    ),
    ("wet-daily-list", "dot", page("/hire/daily/")),
    ("wet-daily", "dot", through("/hire/daily/", r"/hire/daily/[0-9a-f-]{36}/$")),
    ("wet-daily-refused", "dot", refused(of_hire("WC-01", "daily/"))),
    ("handover-stopped", "dot", of_hire("WC-16", "handover/")),
    ("handover", "dot", of_hire("WC-11", "handover/")),
    ("money-rates", "dot", page("/hire/rates/")),
    ("money-rate-refused", "dot", refused(page("/hire/rates/set/"))),
    ("money-holidays", "dot", page("/hire/holidays/")),
    ("money-charges", "dot", of_hire("WC-05", "charges/")),
    ("money-deposit-refused", "dot", refused(of_hire("WC-05", "deposit/"))),
    (
        "money-docket",
        "dot",
        through("/hire/disputes/", r"/hire/disputes/[0-9a-f-]{36}/$", r"/hire/dockets/[0-9a-f-]{36}/$"),
    ),
    ("money-stand-down", "dot", of_hire("WC-15", "stand-down/")),
    ("money-disputes", "dot", page("/hire/disputes/?state=all")),
    ("money-disputes-none", "dot", page("/hire/disputes/?q=zzz")),
    ("money-dispute", "dot", through("/hire/disputes/?state=decided", r"/hire/disputes/[0-9a-f-]{36}/$")),
    (
        "money-dispute-decide",
        "dot",
        refused(through("/hire/disputes/", r"/hire/disputes/[0-9a-f-]{36}/$", r"/decide/$")),
    ),
    ("money-worked-refused", "dot", refused(of_hire("WC-05", "worked/"))),
    ("money-dispute-say", "dot", through("/hire/disputes/", r"/hire/disputes/[0-9a-f-]{36}/$", r"/say/$")),
    ("money-fines", "dot", page("/hire/fines/")),
    ("money-fine", "dot", through("/hire/fines/", r"/hire/fines/[0-9a-f-]{36}/$")),
    ("money-fine-refused", "dot", refused(page("/hire/fines/add/"))),
    ("customers", "dot", page("/customers/")),
    ("customer", "dot", through("/customers/", r"/customers/[0-9a-f-]{36}/")),
    ("site-sets", "dot", through("/customers/?q=Greyfell", r"/customers/[0-9a-f-]{36}/$", r"/sites/$")),
    (
        "site-set",
        "dot",
        through(
            "/customers/?q=Greyfell", r"/customers/[0-9a-f-]{36}/$", r"/sites/$", r"/sites/[0-9a-f-]{36}/$"
        ),
    ),
    (
        "site-set-change",
        "dot",
        refused(
            through("/customers/?q=Greyfell", r"/customers/[0-9a-f-]{36}/$", r"/sites/$", r"/sites/add/$")
        ),
    ),
    ("site-turned-away", "dot", of_hire("WC-17", "turned-away/")),
    ("site-hire", "dot", of_hire("WC-17", "")),
    ("site-pack-hire", "dot", of_hire("WC-02", "")),
    ("site-pack", "dot", pack),
    ("site-lapsed", "dot", page("/hire/lapsed/")),
    ("site-letter", "dot", of_hire("WC-11", "letters/")),
    (
        "site-contact",
        "dot",
        refused(through("/customers/?q=Greyfell", r"/customers/[0-9a-f-]{36}/$", r"/contacts/add/$")),
    ),
    ("site-customer", "dot", through("/customers/?q=Greyfell", r"/customers/[0-9a-f-]{36}/$")),
    ("paper", "dot", through("/hire/past/", r"/hire/[0-9a-f-]{36}/", r"/papers/[0-9a-f-]{36}/")),
    ("figures-month", "noor", page("/figures/")),
    ("figures-carts", "noor", page("/figures/?period=12&sort=-out")),
    ("figures-classes", "noor", page("/figures/?period=12&by=class")),
    ("figures-opened", "noor", page("/figures/?period=12&open=WC-16")),
    ("figures-refused", "noor", page("/figures/?period=own&since=2030-01-01")),
    ("verify-find", None, page("/v/")),
    ("verify-none", None, page("/v/AAAA-AAAA-AAAA/")),
    ("link-gone", None, page("/h/gone/")),
    ("people", "noor", page("/people/")),
    ("person", "noor", through("/people/", r"/people/[0-9a-f-]{36}/")),
    ("not-found", "noor", page("/nothing/")),
    ("not-allowed", "wes", page("/people/")),
)


def pictures(browser: Browser, address: str, wanted: list[str]) -> Iterator[str]:
    """Takes every picture and names what could not be looked at."""
    for size in SIZES:
        visitors: dict[str | None, Visitor] = {}
        folder = FOLDER / size.replace(" ", "-")
        folder.mkdir(parents=True, exist_ok=True)
        for name, who, look in LOOKS:
            if wanted and not any(word in name for word in wanted):
                continue
            if who not in visitors:
                visitors[who] = Visitor(browser, address, size)
                visitors[who].context.add_init_script(PAGE_AS_THE_VISITOR)
                if who:
                    visitors[who].sign_in(who)
            try:
                look(visitors[who])
                visitors[who].page.wait_for_load_state("networkidle")
                visitors[who].page.screenshot(path=folder / f"{name}.png", full_page=True)
            except Exception as error:  # noqa: BLE001 - one page that fails must not hide the rest
                yield f"{size}, {name}: {str(error).splitlines()[0]}"
        for visitor in visitors.values():
            visitor.close()


def main(wanted: list[str]) -> int:
    address = os.environ.get("SLAKE_JOURNEY_ADDRESS")
    if not address:
        print("Start it by ./run screens: it needs the whole demo.", file=sys.stderr)
        return 1
    if not wanted:
        shutil.rmtree(FOLDER, ignore_errors=True)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, DATES_AS_THE_PAGE])
        failed = 0
        for sentence in pictures(browser, address, wanted):
            print(f"Not looked at: {sentence}", file=sys.stderr)
            failed += 1
        browser.close()
    print(f"Pictures are in {FOLDER}.")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
