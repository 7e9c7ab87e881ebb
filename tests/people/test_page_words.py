"""A page in the yard's words: its text and what is read of its attributes, and nothing that somebody typed."""

import time

import pytest

from people.page_words import page_in_words
from people.words import Typed, wording

US = wording("us")


def said(page, *typed):
    kept = Typed(US)
    for text in typed:
        kept.add(text)
    return page_in_words(page, US, kept)


@pytest.mark.parametrize(
    ("page", "reads"),
    [
        ("<p>The cart</p>", "<p>The truck</p>"),
        ("<title>Carts – Slake</title>", "<title>Trucks – Slake</title>"),
        ("<select><option value=cart>One cart</option></select>", "<select><option value=cart>One truck</option></select>"),
        (
            '<a href="/carts/" title="Carts" aria-label=\'A cart\'>x</a>',
            '<a href="/carts/" title="Trucks" aria-label=\'A truck\'>x</a>',
        ),
        ('<img src="cart.png" alt="The cart">', '<img src="cart.png" alt="The truck">'),
        ('<input type="submit" value="Hold the cart">', '<input type="submit" value="Hold the truck">'),
        ('<input placeholder="Which cart" value="the cart">', '<input placeholder="Which truck" value="the cart">'),
        ('<button value="the cart">Take the cart</button>', '<button value="the cart">Take the truck</button>'),
        ('<p data-x="a > b the cart">A cart</p>', '<p data-x="a > b the cart">A truck</p>'),
        ("a cart < two carts", "a truck < two trucks"),
        ("<svg><title>Plan of the cart</title></svg>", "<svg><title>Plan of the truck</title></svg>"),
    ],
)  # fmt: skip
def test_what_people_read_is_in_the_yards_words(page, reads):
    assert said(page) == reads


@pytest.mark.parametrize(
    "left",
    [
        "<textarea>the cart</textarea>",
        "<q>the cart</q>",
        "<blockquote><p>the cart</p> a cart</blockquote>",
        "<code>the cart</code>",
        "<script>const cart = 1 < 2; the cart</script>",
        "<style>.the cart {}</style>",
        "<!-- the cart -->",
        '<div data-typed><div>the cart</div><br><img alt="the cart"> a cart</div>',
        "<p>“the cart” and “<b>a cart</b>, the cart”</p>",
        '<input type="hidden" name="cart" value="the cart">',
        '<meta content="the cart">',
    ],
)
def test_what_people_typed_is_left(left):
    assert said(left) == left
    assert said(left + "<p>the cart</p>") == left + "<p>the truck</p>"


def test_a_quotation_that_is_never_closed_ends_with_its_paragraph():
    assert said("<td>“the cart</td><td>the cart</td>") == "<td>“the cart</td><td>the truck</td>"


def test_names_are_left_as_the_page_writes_them():
    page = '<td>Cart &amp; Sons</td><td>A cart</td><a title="Cart &amp; Sons’ cart">x</a>'
    assert (
        said(page, "Cart & Sons")
        == '<td>Cart &amp; Sons</td><td>A truck</td><a title="Cart &amp; Sons’ truck">x</a>'
    )


def test_a_page_without_the_words_is_the_very_same():
    page = "<p>Nothing here</p>"
    assert said(page) is page


def test_what_a_large_page_costs():
    """No bound: a busy machine is no fault of the product. The figure is printed for whoever changes this."""
    row = '<tr><td><a href="/carts/1/">WC 07</a></td><td>The cart is held until its pre-start.</td><td>Cart &amp; Sons</td></tr>\n'
    page = row * (300_000 // len(row))
    began = time.perf_counter()
    assert "The truck is held until its pre-trip." in said(page, "Cart & Sons")
    print(
        f"{len(page) // 1000} kB, {2 * page.count('<tr>')} words: {1000 * (time.perf_counter() - began):.0f} ms"
    )
