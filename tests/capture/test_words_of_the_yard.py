"""The tablet's own sentences in the words of another rule set: as the yard would write them, what came from it unchanged."""

import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page, Route, expect

from people.words import TABLES, in_words, wording
from tests.capture.tablet import Tablet

pytestmark = pytest.mark.journey

US = wording("us")
SAY = """async ([table, texts]) => {
    document.body.dataset.words = table;
    const { inWords, say } = await import("/static/capture/say.js?" + Math.floor(performance.now() * 1000));
    return [texts.map(inWords), say`A cart of ${"Cart & Sons"}, ${1} cart`];
}"""
SOME = st.lists(
    st.sampled_from(
        [
            *TABLES["us"],
            "Water Cart",
            "CARTS",
            "a",
            "An",
            " ",
            ", ",
            ".",
            "-",
            "x",
            "’s",
            "cart.pdf",
            "/cart/",
        ]
    ),
    max_size=9,
).map(" ".join)


@settings(max_examples=15, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(texts=st.lists(SOME, min_size=5, max_size=30))
def test_the_tablet_writes_what_the_yard_writes(modules: Page, texts: list[str]) -> None:
    said, sentence = modules.evaluate(SAY, [json.dumps(US.pairs), texts])
    assert said == [in_words(text, US) for text in texts]
    assert sentence == "A truck of Cart & Sons, 1 truck"


def test_without_a_table_a_sentence_reads_as_it_is_written(modules: Page) -> None:
    said, sentence = modules.evaluate(SAY, ["{}", ["The cart’s pre-start"]])
    assert said == ["The cart’s pre-start"]
    assert sentence == "A cart of Cart & Sons, 1 cart"


@pytest.fixture
def american(page: Page) -> None:
    """The page as a yard under "us" gives it."""
    table = json.dumps(US.pairs).replace('"', "&quot;")

    def brought(route: Route) -> None:
        answer = route.fetch()
        body = answer.text().replace(
            '<body class="yard capture"', f'<body class="yard capture" data-words="{table}"'
        )
        route.fulfill(response=answer, body=body)

    page.route("**/check/", brought)


def test_the_screens_say_the_yards_words_and_leave_its_texts(american: None, tablet: Tablet) -> None:
    tablet.open()
    tablet.at("Trucks today")
    tablet.page.get_by_label("Find by fleet number or plate").fill("zzz")
    expect(tablet.page.get_by_text("No truck has that number or plate.")).to_be_visible()
    tablet.open("#cart=11111111-1111-4111-8111-111111111111")
    tablet.see("That truck is not on the yard’s list. Look for it below.")
