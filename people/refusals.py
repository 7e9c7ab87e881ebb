"""Refusal: the base of every 'no' an action gives. Facts are attributes, the sentence says what, which and what to do."""


class Refusal(Exception):
    """A rule said no. `sentence` is fit for the person's screen; `field` names the form field, if one is at fault."""

    field: str | None = None

    def __init__(self, sentence: str, *, field: str | None = None, **facts: object) -> None:
        super().__init__(sentence)
        self.sentence = sentence
        self.field = field or self.field
        self.facts = facts


class NotAllowed(Refusal):
    """The person's role may not do this."""
