"""The story in a real browser, from an empty ledger to a sold print: with a mouse, with JavaScript off, and by
keyboard alone; on a phone and on a laptop; every page it reaches looked over for what shuts people out.

The rules are axe-core's for WCAG 2.0 and 2.2, levels A and AA.
"""

import re
import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn

from ledger import clock, home, keys, sign_ins, studio
from ledger.database import housekeeping, reading, writing
from ledger.settings import Settings
from ledger.web.app import make_app
from tests.cast import KEYS, MAKER, TITLE
from tests.test_sheets import two_editions

pytestmark = pytest.mark.browser
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag22aa"]}}
PHONE, LAPTOP = {"width": 390, "height": 664}, {"width": 1280, "height": 900}
PASSWORD = "four plain words here"
MOST_TABS = 250


@dataclass
class Served:
    """A ledger being served: its folder, its address, and the one-time address of the first account."""

    opened: home.Home
    address: str
    first: str


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """A new ledger behind a real server on a free port."""
    with home.opened(tmp_path / "ledger") as opened, socket.create_server(("127.0.0.1", 0)) as listener:
        keys.hold(opened.engine, KEYS)
        with housekeeping(opened.engine) as session:
            secret = sign_ins.offer_first_sign_in(session, clock.now())
        pages = make_app(opened.engine, Settings(data_dir=opened.folder), opened.folder, demo=True)
        server = uvicorn.Server(uvicorn.Config(pages, log_level="warning", server_header=False))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        address = f"http://127.0.0.1:{listener.getsockname()[1]}"
        yield Served(opened, address, f"{address}/first/{secret}")
        server.should_exit = True
        thread.join(10)


@dataclass
class Hand:
    """Somebody at the pages with a mouse, or a finger. `looked` are the pages axe has seen."""

    page: Any
    axe: Any = None
    looked: list[str] = field(default_factory=list)

    def look(self) -> None:
        """No violation of the rules on this page, and no scrolling sideways."""
        if self.axe is not None:
            found = self.axe.run(self.page, options=RULES).response["violations"]
            assert not found, [(each["id"], each["nodes"][0]["html"][:200]) for each in found]
        width, shown = self.page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert width <= shown, f"{self.page.url} scrolls sideways"
        self.looked.append(self.page.url)

    def open(self, address: str) -> None:
        self.page.goto(address)
        self.look()

    def fill(self, name: str, value: str) -> None:
        self.page.locator(f'[name="{name}"]:visible').first.fill(value)

    def choose(self, name: str, value: str) -> None:
        self.page.locator(f'input[name="{name}"][value="{value}"]').first.check()

    def select(self, name: str, value: str) -> None:
        self.page.locator(f'select[name="{name}"]').first.select_option(value)

    def press(self, words: str) -> None:
        """A button or a link, by its words; then the page it leads to."""
        target = self.page.get_by_role("button", name=words).or_(self.page.get_by_role("link", name=words)).first
        with self.page.expect_navigation():
            target.click()
        self.look()


class Keys(Hand):
    """Somebody with a keyboard alone: Tab, typing, arrows, Space and Enter."""

    def _to(self, wanted: str) -> None:
        for _ in range(MOST_TABS):
            self.page.keyboard.press("Tab")
            if self.page.evaluate(f"(() => {{ const here = document.activeElement; return {wanted}; }})()"):
                return
        raise AssertionError(f"Tab never came to {wanted} on {self.page.url}")

    def fill(self, name: str, value: str) -> None:
        self._to(f"here.name === {name!r} && here.type !== 'hidden'")
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(value)

    def choose(self, name: str, value: str) -> None:
        self._to(f"here.name === {name!r}")
        if self.page.evaluate("document.activeElement.type") == "checkbox":
            self._walk_boxes(value)
            return
        for _ in range(20):
            if self.page.evaluate("document.activeElement.value") == value:
                self.page.keyboard.press("Space")
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"no {value} among {name}")

    def _walk_boxes(self, value: str) -> None:
        while self.page.evaluate("document.activeElement.value") != value:
            self.page.keyboard.press("Tab")
        self.page.keyboard.press("Space")

    def select(self, name: str, value: str) -> None:
        self._to(f"here.name === {name!r}")
        for _ in range(40):
            if self.page.evaluate("document.activeElement.value") == value:
                return
            self.page.keyboard.press("ArrowDown")
        raise AssertionError(f"no {value} in {name}")

    def press(self, words: str) -> None:
        said = re.sub(r"\s+", " ", words)
        self._to(
            "['BUTTON', 'A'].includes(here.tagName) "
            f"&& here.textContent.replace(/\\s+/g, ' ').trim().includes({said!r})"
        )
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")
        self.look()


def declare(hand: Hand) -> None:
    """From the empty page to a declared edition, refused once on the way."""
    hand.press("Declare")
    hand.fill("work.title", TITLE)
    hand.fill("work.artist", MAKER)
    hand.fill("work.year_made", "2023")
    hand.fill("work.medium", "Photograph")
    hand.choose("kind", "limited")
    hand.fill("count", "25a")
    hand.choose("later_editions", "ruled_out")
    hand.fill("statement", "One of twenty-five.")
    hand.fill("sizes.0.image.width_mm", "127")
    hand.fill("sizes.0.image.height_mm", "127")
    hand.fill("sizes.0.offer.process", "Pigment print")
    hand.fill("sizes.0.offer.paper", "Cotton rag")
    hand.fill("sizes.0.offer.prices.0.price", "65.00")
    hand.fill("answers.marks.text", "Blind stamp, lower right")
    hand.press("Read it back to me")
    assert "“25a” is not a whole number. Write 25." in hand.page.inner_text("main")
    assert hand.page.locator('[name="work.title"]').input_value() == TITLE
    hand.fill("count", "25")
    hand.press("Read it back to me")
    assert "twenty-five" in hand.page.inner_text("main")
    hand.fill("typed_title", TITLE)
    hand.press("Declare this edition")
    assert TITLE in hand.page.inner_text("h1")


def finish_by_a_recipe(hand: Hand) -> None:
    """A recipe written, refused once on the way, and 1/25 finished by it."""
    hand.press("Bench")
    hand.press("Recipes")
    hand.fill("name", "Window mount")
    hand.fill("lines.0.name", "Frame with glass")
    hand.fill("lines.0.amount", "7.25")
    hand.fill("lines.0.spoilage", "100")
    hand.press("Write it down")
    assert "no print is ever finished" in hand.page.inner_text("main")
    hand.fill("lines.0.spoilage", "4")
    hand.press("Write it down")
    hand.press("Finish prints")
    hand.press(TITLE)
    hand.choose("pieces", "1")
    hand.press("They are finished")
    assert f"{TITLE} 1" in hand.page.inner_text("main")


def open_the_book(hand: Hand, served: Served) -> None:
    """From the one-time address to an empty book."""
    hand.open(served.first)
    hand.fill("email", "ottoline@example.org")
    hand.fill("password", PASSWORD)
    hand.fill("again", PASSWORD)
    hand.press("Make the account")
    hand.fill("maker_name", MAKER)
    hand.fill("address", "Quern Slip, Saltrigg")
    hand.fill("place", "Saltrigg")
    hand.press("Open the book")


def the_story(hand: Hand, served: Served) -> None:
    """The whole job by pages."""
    open_the_book(hand, served)
    declare(hand)

    hand.press("Assign numbers")
    hand.fill("how_many", "3")
    hand.press("Assign")
    for box in [each.get_attribute("value") for each in hand.page.locator('input[name="piece"]').all()]:
        hand.choose("piece", str(box))
    hand.press("They are signed")

    hand.press("Certificates")
    hand.choose("piece", "1")
    with writing(served.opened.engine, "a studio on one machine") as book:
        studio.change_address(book, served.address, demo=True)
        keys.add(book, KEYS.public)
    hand.press("Issue them")
    assert "1 certificate issued" in hand.page.inner_text("h1")
    code = hand.page.locator("td.code").inner_text().replace(" ", "")
    hand.open(f"{served.address}/C/{code}")
    assert "Certificate for number 1 of 25" in hand.page.inner_text("main")

    hand.open(f"{served.address}/")
    finish_by_a_recipe(hand)
    hand.open(f"{served.address}/settings/channels")
    hand.fill("name", "At the door")
    hand.choose("kind", "direct")
    hand.press("Write it down")
    hand.open(f"{served.address}/editions/1")
    hand.press("What price does it need?")
    hand.fill("leaves", "15")
    hand.press("Work it out")
    assert "22.55" in hand.page.inner_text("main")
    hand.open(f"{served.address}/sales/new?piece=1")
    hand.fill("buyer", "Wilhelmina Tarn")
    hand.press("Work it out")
    assert "£57.45" in hand.page.inner_text(".worked")
    hand.press("Record it")
    hand.open(f"{served.address}/find?q=1/25")
    assert "Wilhelmina Tarn" in hand.page.inner_text("main")
    hand.press(TITLE)
    assert "65.00" in hand.page.inner_text("main")


@pytest.mark.parametrize(("size", "kind"), [
    (PHONE, "mouse"), (LAPTOP, "mouse"), (PHONE, "no script"), (LAPTOP, "keys"),
], ids=["phone", "laptop", "no script", "keyboard"])  # fmt: skip
def test_the_whole_job_by_pages(browser: Any, served: Served, size: dict[str, int], kind: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(viewport=size, java_script_enabled=kind != "no script", locale="en-GB")
    context.set_default_timeout(20_000)
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if "Content Security Policy" in said.text else None)
    hand = (Keys if kind == "keys" else Hand)(page, None if kind == "no script" else Axe())
    the_story(hand, served)
    with reading(served.opened.engine) as session:
        assert studio.the_studio(session).maker_name == MAKER
    assert len(set(hand.looked)) > 12
    assert complaints == []
    context.close()


@pytest.mark.parametrize(("size", "script"), [(PHONE, True), (LAPTOP, True), (PHONE, False)])
def test_three_prints_spoilt_make_the_others_dearer(
    browser: Any, served: Served, size: dict[str, int], script: bool
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    two_editions(served.opened.engine)
    context = browser.new_context(viewport=size, java_script_enabled=script, locale="en-GB")
    context.set_default_timeout(20_000)
    hand = Hand(context.new_page(), Axe() if script else None)
    hand.open(served.first)
    hand.fill("email", "ottoline@example.org")
    hand.fill("password", PASSWORD)
    hand.fill("again", PASSWORD)
    hand.press("Make the account")

    hand.open(f"{served.address}/editions/1")
    hand.press("Plan a sheet")
    hand.press("Another size")
    hand.select("wanted.1.size_id", "2")
    hand.press("Work it out")
    hand.select("mix", "4-7")
    hand.press("Show this mix")
    assert "4 of 127 × 127 mm and 7 of 60 × 90 mm on A3. No cuts right across give more" in hand.page.inner_text("main")
    hand.fill("name", "Eleven up")
    hand.press("Keep this plan")
    hand.fill("sheets", "3")
    hand.fill("sheet_price", "8.40")
    hand.fill("delivery", "1.80")
    hand.press("Accept this plan")

    piece = f"{served.address}/pieces/1"
    hand.open(f"{piece}/inscribe")
    hand.press("It is signed")
    hand.open(piece)
    assert "£1.39 to make so far" in hand.page.inner_text("main")  # 27.00 x 68,644 / 110,756 / 12
    hand.open(f"{served.address}/sheets/1")
    hand.press("Count what came back")
    hand.fill("spoilt", "3")
    hand.press("Write down the count")
    assert "9 good, 3 spoilt, of 12 planned on 3 sheets." in hand.page.inner_text("main")
    hand.open(piece)
    assert "£1.86 to make so far" in hand.page.inner_text("main")
    context.close()


def plan_a_mount(hand: Hand, served: Served) -> None:
    """A signed print in a frame measured inside, refused once on the way, kept, and its card read."""
    open_the_book(hand, served)
    hand.press("Bench")
    hand.press("Mounts")
    hand.press("Plan a mount")
    hand.fill("title", "The road, signed")
    hand.fill("image", "8 x 8")
    shown = [hand.page.locator(f"#f-{name}").is_visible() for name in ("overlap", "reveal_top", "mount", "ratio")]
    assert shown == [True, False, False, False]  # only what the choices call for
    hand.choose("opening", "reveal")
    for name, typed in (("top", "6"), ("sides", "6"), ("bottom", "16")):
        hand.fill(f"reveal_{name}", typed)
    for name, typed in (("width_a", "303"), ("width_b", "302"), ("height_a", "252"), ("height_b", "252")):
        hand.fill(f"frame.{name}", typed)
    hand.choose("placing", "weighted")
    hand.fill("weight", "15")
    hand.press("Work it out")
    assert "“8 x 8” has no unit" in hand.page.inner_text(".refused")
    hand.fill("image", "150 x 100 mm")
    hand.press("Work it out")
    assert "69 + 162 + 69 = 300" in hand.page.inner_text("main")
    hand.press("Keep this plan")
    figures = hand.page.locator(".four dd")
    assert [each.split()[0] for each in figures.all_inner_texts()] == ["69", "231", "59.5", "181.5"]
    for figure in figures.all():
        box = figure.bounding_box()
        assert box["y"] + box["height"] <= PHONE["height"] and box["x"] + box["width"] <= PHONE["width"]


@pytest.mark.parametrize("kind", ["mouse", "no script"])
def test_a_mount_is_planned_kept_and_read_on_a_phone(browser: Any, served: Served, kind: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(viewport=PHONE, java_script_enabled=kind == "mouse", locale="en-GB")
    context.set_default_timeout(20_000)
    hand = Hand(context.new_page(), Axe() if kind == "mouse" else None)
    plan_a_mount(hand, served)
    for page in ("frames", "cutters", "offcuts", "boards"):
        hand.open(f"{served.address}/mounts/{page}")
    context.close()


@pytest.fixture
def bench(browser: Any, served: Served) -> Iterator[Hand]:
    """Somebody at a laptop before a mount with a result: borders of 50 round a picture of 150 x 100."""
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(viewport=LAPTOP, locale="en-GB")
    context.set_default_timeout(20_000)
    hand = Hand(context.new_page())
    open_the_book(hand, served)
    hand.axe = Axe()
    hand.open(f"{served.address}/mounts/new")
    hand.fill("title", "The road")
    hand.fill("image", "150 x 100 mm")
    hand.choose("outer", "borders")
    for edge in ("top", "right", "bottom", "left"):
        hand.fill(f"border_{edge}", "50")
    hand.press("Work it out")
    hand.page.evaluate("window.samePage = true")
    yield hand
    context.close()


def drawn(hand: Hand, width: int) -> None:
    """The front is seen, with this width written on it, before any page was left."""
    hand.page.get_by_text(f"Front, {width} × 194 mm.").wait_for()
    assert hand.page.locator("#view-1-title").locator("..").get_by_text(str(width), exact=True).is_visible()
    assert hand.page.evaluate("window.samePage")


def type_on(hand: Hand, name: str, typed: str) -> None:
    """Typed behind what stands in a field."""
    hand.page.locator(f'[name="{name}"]:visible').focus()
    hand.page.keyboard.press("End")
    hand.page.keyboard.type(typed)


def in_hand(hand: Hand) -> list[Any]:
    """The field typed into, what stands in it, and where the caret is."""
    found: list[Any] = hand.page.evaluate(
        "(({name, value, selectionStart}) => [name, value, selectionStart])(document.activeElement)"
    )
    return found


def held_back(hand: Hand, address: str) -> list[Any]:
    """Posts to this address are held back from now on: the list they come to, to be let go."""
    routes: list[Any] = []
    hand.page.route(f"**{address}", lambda route: routes.append(route) if route.request.method == "POST" else None)
    return routes


def test_the_drawing_of_a_mount_follows_a_border_while_it_is_typed(bench: Hand) -> None:
    drawn(bench, 244)
    type_on(bench, "border_left", "0")
    drawn(bench, 694)
    assert in_hand(bench) == ["border_left", "500", 3]
    front, field = (bench.page.locator(each).bounding_box() for each in (".drawings svg >> nth=0", "#f-border_left"))
    assert front["x"] > field["x"] + field["width"] and 0 <= front["y"] < LAPTOP["height"]  # seen while it is typed
    bench.look()


def test_figures_of_a_mount_refused_while_typed_leave_fields_and_caret(bench: Hand) -> None:
    bench.page.locator("#f-border_left").scroll_into_view_if_needed()
    top = bench.page.evaluate("scrollY")
    type_on(bench, "border_left", "y")
    bench.page.get_by_text("“y” is not a unit used here").wait_for()
    assert in_hand(bench) == ["border_left", "50y", 3] and bench.page.evaluate("scrollY") == top
    assert (
        bench.page.locator(".outcome > .body > .note").is_visible() and not bench.page.locator(".drawings").is_visible()
    )
    assert not bench.page.get_by_role("button", name="Keep this plan").is_visible()
    bench.look()
    bench.page.keyboard.press("Backspace")
    drawn(bench, 244)
    assert bench.page.locator(".outcome > .body > .note").inner_text() == ""


def test_keeping_a_mount_after_typing_keeps_what_is_shown(bench: Hand) -> None:
    type_on(bench, "border_left", "0")
    drawn(bench, 694)
    bench.press("Keep this plan")
    assert bench.page.inner_text("h1") == "The road"
    assert "694 × 194" in bench.page.inner_text("main")


def test_a_slow_answer_never_overtakes_a_newer_one_of_a_mount(bench: Hand) -> None:
    routes = held_back(bench, "/mounts/new")
    with bench.page.expect_request("**/mounts/new"):
        type_on(bench, "border_left", "0")
    with bench.page.expect_event("requestfailed"):  # given up for the newer one
        bench.page.keyboard.press("Backspace")
        bench.page.keyboard.type("5")
    bench.page.wait_for_function("() => document.querySelector('.wait').textContent")
    newer = routes[1]
    newer.continue_()
    drawn(bench, 699)
    assert len(routes) == 2
    assert bench.page.locator(".wait").inner_text() == ""


def test_a_mount_is_not_asked_for_before_there_is_a_result(bench: Hand, served: Served) -> None:
    bench.open(f"{served.address}/mounts/new")
    routes = held_back(bench, "/mounts/new")
    bench.fill("image", "150 x 100 mm")
    bench.page.wait_for_timeout(800)
    assert routes == []


def test_a_sheet_that_takes_long_to_work_out_says_for_how_long(browser: Any, served: Served) -> None:
    context = browser.new_context(viewport=PHONE, locale="en-GB")
    context.set_default_timeout(20_000)
    hand = Hand(context.new_page())
    open_the_book(hand, served)
    hand.open(f"{served.address}/sheets/plan")
    hand.fill("wanted.0.width", "127")
    hand.fill("wanted.0.height", "127")
    routes, waiting = held_back(hand, "/sheets/plan"), hand.page.locator(".wait")

    # While a page is being left a browser answers no questions, so the line tells of itself.
    waiting.evaluate(
        "line => new MutationObserver(() => console.log(line.innerText))"
        "  .observe(line, {childList: true, subtree: true})"
    )
    with hand.page.expect_console_message(lambda said: said.text == "Working it out, 1 s"):
        hand.page.get_by_role("button", name="Work it out").click(no_wait_after=True)
    with hand.page.expect_navigation():
        routes.pop().continue_()
    assert "6 prints of 127 × 127 mm on A3" in hand.page.inner_text("main")

    hand.page.get_by_text("Change what is asked").click()
    type_on(hand, "wanted.0.height", ".5")
    waiting.get_by_text("1 s").wait_for()
    assert waiting.inner_text() == "Working it out, 1 s"
    hand.fill("name", "Six up")
    hand.page.keyboard.press("ArrowLeft")
    routes.pop().continue_()
    hand.page.get_by_text("6 prints of 127 × 127.5 mm on A3").first.wait_for()
    assert waiting.inner_text() == "" and in_hand(hand) == ["name", "Six up", 5] and routes == []
    hand.page.unroute_all()
    hand.press("Keep this plan")
    assert hand.page.inner_text("h1") == "Six up"
    context.close()
