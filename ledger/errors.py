"""The one way an act says no."""


class Refusal(Exception):
    """What is so and what to do, in a sentence for the maker.

    `field` names the part of the draft it is about, as a dotted path. `missing` is true where the thing asked
    for does not exist at all.
    """

    def __init__(self, message: str, *, field: str | None = None, missing: bool = False) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.missing = missing
