"""A posted form: everything that was typed kept, and the same facts in the shape the API takes.

Fields are named by dotted paths, figures for the place in a list: `title`, `sizes.0.image.width_mm`. A field
left empty was not filled in, and a row of nothing but empty fields is no row.
"""

import re
from collections.abc import AsyncIterator, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Request
from pydantic import ValidationError
from starlette.datastructures import UploadFile

from ledger import chance, repeats
from ledger.errors import Refusal
from ledger.web import sentences
from ledger.web.house import Repeat
from ledger.web.sentences import Slip, Slips
from ledger.web.shapes import FORM, Shape

KEY = "idempotency_key"
STEP = "step"
"""The name of the buttons of a form: which one was pressed."""
STILL_HERE = "; all you typed is still here."
MOST_ROWS = 400
DEEPEST = 6

S = TypeVar("S", bound=Shape)


@dataclass(frozen=True)
class Problem:
    """One line of the box above a refused form."""

    field: str
    message: str


@dataclass(frozen=True)
class Form:
    """A form as its page shows it: what stands in each field, the message beside it, and its key.

    `labels` fills while a page is drawn: what each field is called on it.
    """

    values: Mapping[str, Any] = field(default_factory=dict)
    messages: Mapping[str, str] = field(default_factory=dict)
    problems: tuple[Problem, ...] = ()
    headline: str = ""
    key: str = ""
    labels: dict[str, str] = field(default_factory=dict)

    @property
    def to_put_right(self) -> list[Problem]:
        """The problems in the order of the page, those of no field first."""
        order = {name: place for place, name in enumerate(self.labels)}
        return sorted(self.problems, key=lambda problem: order.get(problem.field, -1))

    def rows(self, name: str, least: int = 1) -> range:
        """The places of a list to show: those typed into, `least` of them always."""
        return range(max(least, _count(self.values, name)))


def blank(values: Mapping[str, Any] | None = None) -> Form:
    """A form nobody has sent yet, with a fresh key."""
    return Form(values or {}, key=chance.token())


@dataclass(frozen=True)
class Posted:
    """A form as it arrived. `typed` holds a list where one name came several times."""

    typed: Mapping[str, Any]
    files: Mapping[str, UploadFile]
    key: str
    step: str
    path: str

    @property
    def repeat(self) -> Repeat | None:
        """What this form is known by when it is sent twice."""
        if not re.fullmatch(r"[\x21-\x7e]{1,200}", self.key):
            return None
        said = [f"{name}={value}" for name, value in sorted(self.typed.items())]
        return Repeat(self.key, repeats.fingerprint([self.path, self.step, *said]))

    def text(self, name: str) -> str:
        """What was typed into one field; '' where it was left empty or is not there."""
        value = self.typed.get(name, "")
        return value if isinstance(value, str) else ""

    def read(self, shape: type[S], currency: str = "") -> S:
        """The form in the shape the API takes too. Raises Slips, its fields named as the form names them."""
        nested, names = _nest(self.typed)
        try:
            return shape.model_validate(nested, context={FORM: currency})
        except ValidationError as fault:
            raise Slips(
                Slip(_as_typed(slip.field, names), slip.message, on_form=True)
                for slip in sentences.slips_of(fault.errors(include_url=False))
            ) from fault

    def again(self, more: str = "") -> Form:
        """The same form shown once more, with one more row of the list `more`."""
        values = dict(self.typed)
        if more:
            values[f"{more}.{_count(values, more)}"] = ""
        return Form(values, key=self.key or chance.token())

    def refused(self, verdict: str, fault: Refusal | Slips) -> Form:
        """The same form with what is to be put right. `verdict` is the first words: 'Not declared'."""
        slips = self._slips(fault)
        problems = tuple(Problem(slip.field, slip.message) for slip in slips)
        headline = sentences.headline(verdict, len(slips))[:-1] + STILL_HERE
        return Form(
            dict(self.typed),
            {slip.field: slip.message for slip in slips},
            problems,
            headline,
            self.key or chance.token(),
        )

    def _slips(self, fault: Refusal | Slips) -> list[Slip]:
        slips = fault.slips if isinstance(fault, Slips) else [Slip(sentences.field_name(fault.field), fault.message)]
        if all(slip.on_form for slip in slips):
            return list(slips)
        names = _nest(self.typed)[1]
        return [slip if slip.on_form else Slip(_as_typed(slip.field, names), slip.message, True) for slip in slips]


def _count(values: Iterable[str], name: str) -> int:
    row = re.compile(rf"{re.escape(name)}\.([0-9]{{1,3}})(?:\.|$)")
    places = [int(found[1]) for typed in values if (found := row.match(typed))]
    return min(max(places, default=-1) + 1, MOST_ROWS)


def _nest(typed: Mapping[str, Any]) -> tuple[dict[str, Any], dict[str, str]]:
    """The fields as nested values, and for each place among them the name it was typed under.

    The two differ where a row moved up past an empty one. Raises Slips.
    """
    tree: dict[str, Any] = {}
    for name, value in typed.items():
        if value in ("", []):
            continue
        *above, last = name.split(".")
        if len(above) > DEEPEST:
            raise Slips([Slip(name, "This is nested too deep.", on_form=True)])
        node = tree
        for step in above:
            node = node.setdefault(step, {})
            if not isinstance(node, dict):
                raise Slips([Slip(name, "This field stands inside another that is filled in.", on_form=True)])
        node[last] = value
    names: dict[str, str] = {}
    nested: dict[str, Any] = _rows(tree, "", "", names)
    return nested, names


def _rows(node: Any, path: str, typed: str, names: dict[str, str]) -> Any:
    if not isinstance(node, dict):
        return node
    names[path] = typed
    if node and all(re.fullmatch(r"[0-9]{1,3}", step) for step in node):
        return [
            _rows(node[step], f"{path}.{place}", f"{typed}.{step}", names)
            for place, step in enumerate(sorted(node, key=int))
        ]
    return {
        step: _rows(below, f"{path}.{step}".lstrip("."), f"{typed}.{step}".lstrip("."), names)
        for step, below in node.items()
    }


def _as_typed(field_path: str, names: Mapping[str, str]) -> str:
    """The name a field was typed under, for its path among the rows that are left."""
    head = field_path
    while head:
        if head in names:
            return names[head] + field_path[len(head) :]
        head = head.rpartition(".")[0]
    return field_path


async def _posted(request: Request) -> AsyncIterator[Posted]:
    async with request.form(max_files=4, max_fields=2000) as form:
        typed: dict[str, Any] = {}
        files: dict[str, UploadFile] = {}
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                if value.filename:
                    files[name] = value
            elif name not in typed:
                typed[name] = value.replace("\r\n", "\n")
            else:
                earlier = typed[name]
                typed[name] = [*(earlier if isinstance(earlier, list) else [earlier]), value]
        key, step = typed.pop(KEY, ""), typed.pop(STEP, "")
        yield Posted(typed, files, str(key), str(step), request.url.path)


Sent = Annotated[Posted, Depends(_posted)]
