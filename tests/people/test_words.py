"""The words of a rule set: what each table says, whole words only, in their case, and what is a part of something else left."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from people.words import TABLES, Typed, Wording, in_words, samples, wording
from tests.worked import tables

US, UK, AU = wording("us"), wording("uk"), wording("au")


@pytest.mark.parametrize(
    ("written", "us", "uk"),
    [
        ("A cart, two carts.", "A truck, two trucks.", "A bowser, two bowsers."),
        ("The Water Carts of WATER CART hire", "The Water Trucks of WATER TRUCK hire", "The Bowsers of BOWSER hire"),
        ("A cart’s, the carts’, the cart's", "A truck’s, the trucks’, the truck's", "A bowser’s, the bowsers’, the bowser's"),
        ("Walk-rounds: a walk-round", "Walk-arounds: a walk-around", "Walkarounds: a walkaround"),
        ("Its pre-start is owed.", "Its pre-trip is owed.", "Its pre-start is owed."),
        ("An off-hire, two off-hires; off-hired by phone", "An off-rent, two off-rents; off-rented by phone", None),
        ("On hire, called off hire", "On rent, called off rent", None),
        ("The hire agreement. Ring the hire desk.", "The rental agreement. Ring the rental desk.", None),
        ("Four on hire agreement 1023", "Four on rental agreement 1023", None),
        ("Tyre tread, 7,000 litres, a licence", "Tire tread, 7,000 liters, a license", None),
        ("Water\ncart, water\N{NO-BREAK SPACE}cart", "Water\ntruck, water\N{NO-BREAK SPACE}truck", "Bowser, bowser"),
        ("Swap it (cart), cart/cart", "Swap it (truck), cart/cart", "Swap it (bowser), cart/cart"),
    ],
)  # fmt: skip
def test_each_word_reads_as_its_table_says(written, us, uk):
    assert in_words(written, US) == us
    assert in_words(written, UK) == (written if uk is None else uk)
    assert in_words(written, AU) == written


@pytest.mark.parametrize(
    "left",
    [
        "a cartridge, discarted, cartcart",
        "CART-7 and WC-CART and 7-cart",
        "cart_list, cart.pdf, carts.example, a=cart",
        "https://yard.example/cart/7 and /carts/",
        "ann.cart@yard.example, desk@cart.example",
        "cart:5d7f, cart.walk_round",
        "He wrote “the cart hit a post” there",
        "“cart without an end",
        "pre-starter, tyre-fitter",
    ],
)
def test_a_part_of_something_else_is_left(left):
    assert in_words(left, US) == left
    assert in_words(left, UK) == left


def test_an_article_follows_the_word_after_it():
    made = Wording("other", {"cart": "engine", "off-hire": "return"})
    assert in_words("A cart, an off-hire, An off-hire, a good cart, the cart", made) == (
        "An engine, a return, A return, a good engine, the engine"
    )
    assert in_words("A CART", made) == "AN ENGINE"


def test_what_was_typed_is_left_wherever_it_stands_whole():
    typed = Typed(US)
    typed.add("Cart & Sons")
    typed.add("The cart hit a post.\nBy the carts’ shed")
    said = in_words(
        "CART & SONS has a cart: the cart hit a post, by the carts’ shed. Cart & Sonsy", US, typed
    )
    assert said == "CART & SONS has a truck: the cart hit a post, by the carts’ shed. Truck & Sonsy"


def test_a_bare_word_of_the_table_is_a_code_and_not_what_somebody_said():
    typed = Typed(US)
    typed.add("cart")
    assert in_words("the cart", US, typed) == "the truck"


def test_no_word_that_a_table_gives_is_a_word_it_takes():
    for key, table in TABLES.items():
        for other in table.values():
            assert in_words(other, wording(key)) == other


def test_the_samples_are_the_table():
    assert samples("au") == ()
    assert ("water cart", "water truck") in samples("us")
    assert len(samples("uk")) == len(TABLES["uk"])


def test_the_page_of_docs_has_the_tables():
    (rows,) = tables("words.md", "The tables")
    assert {written: us for written, us, _ in rows} == TABLES["us"]
    assert {written: uk for written, _, uk in rows if uk != written} == TABLES["uk"]


def test_another_rule_set_is_refused():
    with pytest.raises(ValueError, match="no rule set called nz"):
        wording("nz")


WORDS = st.sampled_from(
    [*TABLES["us"], *TABLES["uk"], "A cart", "an", "a", "Carts", "CART", "the", *"“”x.- \n&<ıİ"]
)
SOME = st.lists(WORDS | st.text(max_size=4), max_size=12).map(" ".join) | st.lists(WORDS, max_size=12).map(
    "".join
)


@given(text=SOME, key=st.sampled_from(["us", "uk"]))
def test_twice_is_once(text, key):
    once = in_words(text, wording(key))
    assert in_words(once, wording(key)) == once


@given(text=st.text(), key=st.sampled_from(["us", "uk"]))
def test_a_text_without_the_words_is_the_same(text, key):
    bare = re.sub(
        "cart|walk-round|pre-start|hire|tyre|licence|litre|windscreen|bonnet", "", text, flags=re.IGNORECASE
    )
    assert in_words(bare, wording(key)) == bare


@given(text=SOME, typed=SOME)
def test_what_was_typed_stays_whatever_stands_beside_it(text, typed):
    kept = Typed(US)
    for line in typed.splitlines():
        kept.add(line)
    for line in typed.splitlines():
        plain = line.strip().rstrip(".")
        if plain.lower() not in US.pairs:
            assert plain in in_words(f"{text} | {plain} | cart", US, kept)
