"""Every form of the book, found by following its links and sent as nobody should: a refusal speaks the form's words."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import urldefrag, urljoin

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import clock, costs, occasions, runs
from tests import cast, trade

CONTROLS = ("input", "select", "textarea")
LEAVES_THE_BOOK = ("/sign-out", "/settings/accounts/sessions/end", "/settings/accounts/invite")


@dataclass
class Sendable:
    """A form as a browser would send it, its controls as they stand, and the steps its buttons post."""

    action: str
    fields: dict[str, str] = field(default_factory=dict)
    typed: list[str] = field(default_factory=list)
    buttons: list[tuple[str, str]] = field(default_factory=list)

    def sent(self, button: tuple[str, str], typed: str) -> dict[str, str]:
        return {**self.fields, **dict.fromkeys(self.typed, typed), **dict([button] if button[0] else [])}


class Page(HTMLParser):
    """What a page links to, the forms on it, what each control is called, and the links of its refusal."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.forms: list[Sendable] = []
        self.called: dict[str, set[str]] = {}
        self.refusals: list[tuple[str, str]] = []
        self._words: list[tuple[str, str, list[str]]] = []
        self._inside: list[str] = []
        self._heads: dict[str, str] = {}
        self._refused = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "div" and (self._refused or given.get("class") == "refused"):
            self._refused += 1
        if tag in ("label", "legend", "h2") or (tag == "a" and self._refused):
            self._words.append((tag, given.get("for") or given.get("href", ""), []))
            if tag == "label":
                self._inside.clear()
        if tag == "a" and "href" in given:
            self.links.append(given["href"])
        if tag == "form" and given.get("method") == "post":
            self.forms.append(Sendable(given["action"]))
        if "id" in given:
            self._name(given)
        if tag in (*CONTROLS, "button") and self.forms:
            self._take(tag, given)

    def _name(self, given: dict[str, str]) -> None:
        names = self.called.setdefault(given["id"], set())
        names |= {given.get("aria-label", ""), *self._heads.values()} - {""}
        self._inside.append(given["id"])

    def _take(self, tag: str, given: dict[str, str]) -> None:
        form, name, kind = self.forms[-1], given.get("name", ""), given.get("type", "text")
        if tag == "button":
            form.buttons.append((name, given.get("value", "")))
        elif name and kind in ("text", "date", "password", "email"):
            form.typed.append(name)
        elif name and kind == "hidden":
            form.fields[name] = given.get("value", "")
        elif name and kind == "radio" and "checked" in given:
            form.fields[name] = given["value"]

    def handle_data(self, data: str) -> None:
        for _, _, words in self._words:
            words.append(data)

    def handle_endtag(self, tag: str) -> None:
        if tag == "div" and self._refused:
            self._refused -= 1
        if tag == "fieldset":
            self._heads.pop("legend", None)
        if self._words and self._words[-1][0] == tag:
            _, points_to, words = self._words.pop()
            said = " ".join("".join(words).split())
            if tag == "a":
                self.refusals.append((points_to, said))
            elif tag == "label":
                for control in [points_to] if points_to else self._inside:
                    self.called.setdefault(control, set()).add(said)
            else:
                self._heads[tag] = said


@pytest.fixture
def book(sqlite_engine: Engine, maker: TestClient) -> TestClient:
    """The maker before a book with something of everything in it."""
    cast.road(sqlite_engine)
    made = cast.made(sqlite_engine, *range(1, 7))
    ways = trade.ways(sqlite_engine)
    waiting = trade.assigned(sqlite_engine, 9)
    cast.certified(sqlite_engine, made[0])
    trade.sell(sqlite_engine, ways.fair, made[0], paid_by="card")
    trade.sell(sqlite_engine, ways.studio, waiting, buyer=trade.to(cast.BUYER))
    trade.lend(sqlite_engine, ways.kelpstane, trade.told(made[1]))
    with cast.acting(sqlite_engine) as book:
        runs.record(book, runs.RunDraft(edition_id=1, made_on=cast.MAY_4, sheets=5, good=5))
        costs.add(book, costs.CostDraft(basis="studio", amount_minor=500, spent_on=cast.MAY_4, note="pencils"))
        today = clock.today()
        occasions.add(book, occasions.OccasionDraft(name="Moor Fair", kind="selling", from_on=today, to_on=today))
    return maker


def pages(maker: TestClient) -> Iterator[tuple[str, Page]]:
    """Every page of the book, two of each kind."""
    waiting = ["/", "/settings", "/stall", "/sales/new?piece=3", "/certificates/new?edition=1"]
    kinds: Counter[str] = Counter()
    while waiting:
        path = urldefrag(waiting.pop()).url
        kind = re.sub("[0-9]+", "n", path)
        if kinds[kind] > 1 or path.startswith(("http", "/static", "/c/")):
            continue
        kinds[kind] += 1
        answer = maker.get(path, follow_redirects=True)
        if answer.headers["content-type"].startswith("text/html"):
            page = Page(answer.text)
            yield path, page
            waiting += [urljoin(path, link) for link in page.links]


def test_what_is_to_be_put_right_is_called_as_the_form_calls_it(book: TestClient) -> None:
    sent = refused = 0
    for path, page in list(pages(book)):
        for form in page.forms:
            if form.action.startswith(LEAVES_THE_BOOK):
                continue
            for button in dict.fromkeys(form.buttons):
                for typed in ("", "??"):
                    answer = book.post(form.action, data=form.sent(button, typed), follow_redirects=True)
                    sent += 1
                    back = Page(answer.text)
                    refused += bool(back.refusals)
                    for href, said in back.refusals:
                        where = f"{path}: {form.action} {button}: {said}"
                        names = back.called.get(href.removeprefix("#"))
                        assert names, f"{where} leads nowhere"
                        assert any(said.startswith(f"{name}: ") for name in names), f"{where} is none of {names}"
    assert sent > 100 and refused > 40
