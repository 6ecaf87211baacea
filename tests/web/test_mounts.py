"""Mount plans, frames, cutters and board left over, by both doors."""

import re
import subprocess
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from ledger import mounts
from ledger.database import reading
from ledger.errors import Refusal
from tests import cast
from tests.test_mounts import ROAD, SIGNED, calibrated, kept, measured


@pytest.fixture(autouse=True)
def opened(sqlite_engine: Engine) -> None:
    cast.road(sqlite_engine)


def form(**changes: str) -> dict[str, str]:
    frame = {f"frame.{name}": typed for name, typed in SIGNED["frame"].items()}
    asked = {name: typed for name, typed in SIGNED.items() if name != "frame"}
    return {"idempotency_key": "plan", "step": "work_out", "unit": "mm", "kind": "window", **asked, **frame, **changes}


def count(engine: Engine) -> int:
    with reading(engine) as session:
        return len(mounts.listing(session))


def shown(page: str) -> dict[str, str]:
    return dict(re.findall(r'name="(shown)" value="([^"]+)"', page))


def keep(maker: TestClient, typed: dict[str, str]) -> Any:
    """Worked out, looked at and kept, as the page does it."""
    looked_at = maker.post("/mounts/new", data=typed).text
    return maker.post("/mounts/new", data=typed | shown(looked_at) | {"step": "keep"})


def test_a_plan_is_worked_out_as_often_as_wished_and_kept_once(maker: TestClient, sqlite_engine: Engine) -> None:
    page = maker.post("/mounts/new", data=form())
    assert page.status_code == 200 and "Window mount 300 × 250\u00a0mm, window 162 × 122\u00a0mm." in page.text
    assert "Check across: 69 + 162 + 69 = 300." in page.text and 'value="150 x 100"' in page.text
    assert "Keep this plan" in page.text and count(sqlite_engine) == 0
    again = maker.post("/mounts/new", data=form(weight="0"))
    assert "Check down: 64 + 122 + 64 = 250." in again.text
    for _ in range(2):
        done = keep(maker, form())
        assert done.status_code == 303 and done.headers["location"] == "/mounts/1"
    assert count(sqlite_engine) == 1
    assert 'href="/mounts/1">The road, signed</a>' in maker.get("/mounts").text


def test_worked_out_the_card_comes_first_then_the_act_and_the_form_last(maker: TestClient) -> None:
    for kind in ("window", "float", "board"):
        page = maker.post("/mounts/new", data=form(kind=kind, sheet="")).text
        places = [
            page.index(words) for words in ("<dd>", "card-1-title", "Keep this plan", "Adhesive:", "Work it out again")
        ]
        assert places == sorted(places)
        assert page.count("Adhesive:") == 1


def test_only_the_plan_that_was_shown_is_kept(maker: TestClient, sqlite_engine: Engine) -> None:
    first = shown(maker.post("/mounts/new", data=form()).text)
    changed = form(step="keep", weight="0")
    page = maker.post("/mounts/new", data=changed | first)
    assert page.status_code == 200 and "What is asked was changed since." in page.text
    assert "Check down: 64 + 122 + 64 = 250." in page.text and count(sqlite_engine) == 0
    assert maker.post("/mounts/new", data=changed | shown(page.text)).status_code == 303
    assert count(sqlite_engine) == 1


def test_a_frame_measured_on_the_form_is_kept_by_one_tick(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    page = maker.post("/mounts/new", data=form()).text
    looked_at = shown(page)
    assert 'name="keep_frame" value="yes" data-still="">' in page
    assert 'name="keep_frame"' not in maker.post("/mounts/new", data=form(outer="mount", mount="300 x 250")).text
    done = maker.post("/mounts/new", data=form(step="keep", keep_frame="yes") | looked_at)
    assert done.status_code == 303 and count(sqlite_engine) == 1
    assert "30 x 25" in maker.get("/mounts/frames").text
    page = maker.get("/mounts/new?like=1").text
    assert '<option value="1" selected>30 x 25, rebate 302 × 252 mm' in page
    assert program.post("/api/mount-plans", json={**SIGNED, "keep_frame": True}).json()["asked"]["frame_id"] == 2


def test_both_doors_keep_the_same_plan(maker: TestClient, program: TestClient) -> None:
    keep(maker, form())
    answer = program.post("/api/mount-plans", json=SIGNED)
    assert answer.status_code == 201 and answer.headers["location"] == "/api/mount-plans/2"
    one, two = (program.get(f"/api/mount-plans/{each}").json() for each in (1, 2))
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    (board,) = one["boards"]
    assert (board["from_left_mm"], board["from_top_mm"]) == ([69, 231], [59.5, 181.5])
    assert board["past_corner_mm"] == 1.4 and one["asked"]["image"] == "150 x 100"
    assert one["left_over"] == [{"board": "mount", "size": {"width_mm": 160, "height_mm": 120}}]
    first = program.get("/api/mount-plans?limit=1").json()
    assert [each["id"] for each in first["items"]] == [1] and first["next"] == 1


def test_a_program_works_a_mount_out_as_the_page_does_and_nothing_is_kept(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    program.post("/api/offcuts", json={"size": "310 x 260"})
    found = program.post("/api/mount-plans/work-out", json=SIGNED)
    assert found.status_code == 200 and count(sqlite_engine) == 0
    said = found.json()
    (board,), offcuts = said["boards"], [{"board": "mount", "offcut_id": 1}]
    assert (board["from_left_mm"], board["from_top_mm"], said["offcuts"]) == ([69, 231], [59.5, 181.5], offcuts)
    page = maker.post("/mounts/new", data=form()).text
    for sentence in said["cards"][0]["sentences"]:
        assert sentence in page.replace("\u00a0", " ")
    kept_then = program.post("/api/mount-plans", json=SIGNED).json()
    assert {**said, **kept_then} == {**kept_then, "offcuts": offcuts}
    no = program.post("/api/mount-plans/work-out", json={**SIGNED, "image": "8 x 8"})
    assert no.status_code == 409 and no.json()["errors"][0]["field"] == "image"


def test_a_program_is_told_the_numbers_of_floats_and_bare_boards(program: TestClient) -> None:
    gaps = {f"border_{edge}": "20" for edge in ("top", "right", "bottom", "left")}
    floated = {"title": "Float", "kind": "float", "image": "203 x 203", "outer": "borders", **gaps}
    said = program.post("/api/mount-plans/work-out", json=floated).json()
    assert said["bare"] is None and said["boards"] == []
    assert said["float"]["spacer"] == {"width_mm": 183, "height_mm": 183} and said["float"]["fillet_mm"] == 11
    assert said["float"]["spacer_borders"] == {f"{edge}_mm": 35 for edge in ("top", "right", "bottom", "left")}
    said = program.post("/api/mount-plans/work-out", json={"title": "B", "kind": "board", "image": "203 x 203"}).json()
    assert said["float"] is None and said["bare"]["print_file"] == {"width_mm": 209, "height_mm": 209}


_TYPED = (("top", 60), ("right", 50), ("bottom", 75), ("left", 80))


def test_a_double_says_which_borders_are_seen_and_how_much_of_the_strip(maker: TestClient, program: TestClient) -> None:
    borders = {f"border_{edge}": wide for edge, wide in _TYPED}
    asked = {**SIGNED, **borders, "outer": "borders", "boards": "double"}
    seen, strip = program.post("/api/mount-plans/work-out", json=asked).json()["said"]
    assert seen == (
        "Borders to the top board’s window, which are the ones seen: 55 mm top, 45 mm right, 70 mm bottom, 75 mm left. "
        "To the inner window: 60 mm top, 50 mm right, 75 mm bottom, 80 mm left."
    )
    assert strip == (
        "Between the pencil lines the strip is 5 mm; to be seen are 3.6 mm of the under-board’s face, then its bevel "
        "of 1.98 mm."
    )
    page = maker.post("/mounts/new", data=form(boards="double")).text
    assert "3.6\u00a0mm of the under-board’s face" in page
    upright = program.post("/api/mount-plans/work-out", json={**asked, "cut": "straight"}).json()["said"]
    assert upright[1].endswith("to be seen are 5 mm of the under-board’s face.")


def test_a_float_says_what_strips_its_fillet_takes(program: TestClient) -> None:
    asked = {"title": "Float", "kind": "float", "image": "203 x 153", "outer": "mount", "mount": "243 x 193"}
    said = program.post("/api/mount-plans/work-out", json=asked).json()["said"]
    assert said == [
        "The fillet is 11 mm high and not as wide as the lip covers: 2 strips of 253 mm, and 2 of 203 mm less twice "
        "the fillet’s width."
    ]


def test_the_ratio_a_construction_makes_and_the_bevels_slope_are_shown(maker: TestClient) -> None:
    asked = {
        "image": "194 x 244", "sheet": "", "opening": "overlap", "overlap": "0", "outer": "mount", "mount": "400 x 500",
        "placing": "diagonal",
    }  # fmt: skip
    page = maker.post("/mounts/new", data=form(**asked)).text
    assert '<th scope="row">Bottom border to top border</th><td class="money">1.69 : 1</td>' in page
    assert '<th scope="row">Bevel, along its slope</th><td class="money">1.98\u00a0mm</td>' in page
    assert "Bottom border to top" not in maker.post("/mounts/new", data=form(**asked | {"placing": "equal"})).text
    assert "Bevel, along" not in maker.post("/mounts/new", data=form(**asked, cut="straight")).text


def test_the_api_takes_figures_as_numbers_too(program: TestClient) -> None:
    asked = {**SIGNED, "reveal_top": 6, "reveal_sides": 6.0, "weight": 15, "board": 1.4}
    assert program.post("/api/mount-plans", json=asked).json()["boards"][0]["from_top_mm"] == [59.5, 181.5]


REFUSED = [
    ({"image": "8 x 8"}, "image", "“8 x 8” has no unit and can be read in more than one way."),
    ({"image": "8 x 8 in"}, "image", "This plan is in millimetres, and “8 x 8 in” is not."),
    ({"image": "400 x 100", "sheet": ""}, "frame.width_a", "The window is larger than the mount."),
    ({"sheet": "155 x 148"}, "sheet", "The paper ends 3.5 mm inside the window at the right."),
    ({"outer": "borders", "border_top": "-5"}, "border_top", "“-5” is below nothing."),
    ({"weight": ""}, "weight", "Write how many per cent the bottom is wider than the top, such as 15."),
]


@pytest.mark.parametrize(("typed", "field", "sentence"), REFUSED)
def test_what_cannot_be_is_said_at_its_field_by_both_doors(
    maker: TestClient, program: TestClient, sqlite_engine: Engine, typed: dict[str, str], field: str, sentence: str
) -> None:
    for step in ("work_out", "keep"):
        page = maker.post("/mounts/new", data=form(step=step, **typed))
        assert page.status_code == 409 and f'href="#f-{field}"' in page.text
        assert sentence in page.text and 'value="The road, signed"' in page.text
        assert f'id="f-{field}-message"' in page.text
    answer = program.post("/api/mount-plans", json=SIGNED | typed)
    assert answer.status_code == 409 and count(sqlite_engine) == 0
    (error,) = answer.json()["errors"]
    assert error["field"] == field and error["message"].startswith(sentence)


def test_a_pencil_reach_is_asked_for_and_heeded_whether_the_sheet_is_measured_or_not(maker: TestClient) -> None:
    over = {"opening": "overlap", "overlap": "3"}
    for sheet in ("210 x 148", ""):
        page = maker.post("/mounts/new", data=form(**over, sheet=sheet)).text
        assert "If signature or number stand there, choose a window around the picture" in page
        page = maker.post("/mounts/new", data=form(**over, sheet=sheet, pencil_below="12")).text
        assert "The pencil reaches 12\u00a0mm below the picture and the window shows 0\u00a0mm" in page
        page = maker.post("/mounts/new", data=form(**over, sheet=sheet, pencil_below="0")).text
        assert "signature" not in page.partition("What it is for")[0].lower()


def test_a_frame_by_its_label_alone_asks_for_the_rebate(maker: TestClient, program: TestClient) -> None:
    said = "A frame sold as 30 x 25 may be 2 mm more or less inside than its label says."
    bare = {"frame.width_a": "", "frame.width_b": "", "frame.height_a": "", "frame.height_b": ""}
    page = maker.post("/mounts/new", data=form(**bare))
    assert page.status_code == 409 and said in page.text and 'id="f-frame.width_a-message"' in page.text
    answer = program.post("/api/mount-plans", json={**SIGNED, "frame": {"sold_as": "30 x 25"}})
    assert answer.status_code == 409 and answer.json()["errors"][0]["field"] == "frame.width_a"
    assert program.post("/api/frames", json={"sold_as": "30 x 25"}).json()["errors"][0]["field"] == "width_a"
    assert maker.post("/mounts/frames", data={"unit": "mm", "sold_as": "30 x 25"}).status_code == 409


def test_a_plan_with_a_slip_in_its_shape_is_malformed(maker: TestClient, program: TestClient) -> None:
    assert maker.post("/mounts/new", data=form(unit="cubits")).status_code == 422
    assert maker.post("/mounts/new", data=form(title="")).status_code == 422
    assert program.post("/api/mount-plans", json={**SIGNED, "windows": 2}).status_code == 422


def test_the_kept_plan_shows_its_card_first_and_its_papers(maker: TestClient, sqlite_engine: Engine) -> None:
    kept(sqlite_engine, cutter_id=calibrated(sqlite_engine), boards="double")
    page = maker.get("/mounts/1").text
    assert page.index("<dd>") < page.index("At true size on ") < page.index("view-1-title")
    # Borders 69, 59.5 and 68.5; the under-board is 5 smaller, so that its lines lie nearer.
    figures = re.findall(r"<dd>([^ ]+) <span>mm", page)
    assert figures == ["64", "236", "54.5", "186.5", "66.5", "228.5", "57", "179"]
    assert "Start and stop 1.9\u00a0mm past each corner." in page
    assert page.count("Adhesive:") == 1
    assert page.count('<svg class="drawing"') == 4


def pdf(client: TestClient, address: str, folder: Path) -> tuple[int, str]:
    """How many sheets a paper has, and its words, as another program reads them."""
    answer = client.get(address)
    assert answer.status_code == 200 and answer.headers["content-type"] == "application/pdf", answer.text
    path = folder / "paper.pdf"
    path.write_bytes(answer.content)
    told = subprocess.run(["pdfinfo", path], capture_output=True, text=True, check=True).stdout
    words = subprocess.run(["pdftotext", path, "-"], capture_output=True, text=True, check=True).stdout
    return int(re.findall(r"Pages: +(\d+)", told)[0]), words


def test_card_and_drawings_at_true_size_are_papers(maker: TestClient, sqlite_engine: Engine, tmp_path: Path) -> None:
    kept(sqlite_engine)
    pages, words = pdf(maker, "/mounts/1/card.pdf", tmp_path)
    assert pages == 1 and {"69", "231", "59.5", "181.5"} <= set(words.split())
    assert pdf(maker, "/mounts/1/a3.pdf", tmp_path)[0] == 1 + 2
    pages, words = pdf(maker, "/mounts/1/a4.pdf", tmp_path)
    assert pages == 1 + 4 and "This line measures 100 mm" in words
    assert words.count("Adhesive: nothing that cannot be undone") == 1
    assert pdf(maker, "/mounts/1/letter.pdf", tmp_path)[0] == 1 + 8
    assert pdf(maker, "/mounts/1/tabloid.pdf", tmp_path)[0] == 1 + 4
    assert maker.get("/mounts/1/a2.pdf").status_code == 404
    assert maker.get("/mounts/7/card.pdf").status_code == 404


def test_floats_and_bare_boards_have_their_card_first_too(
    maker: TestClient, sqlite_engine: Engine, tmp_path: Path
) -> None:
    kept(sqlite_engine, kind="float", sheet="")
    kept(sqlite_engine, kind="board", image="203 x 254", sheet="")
    for plan_id, figures in ((1, ["130", "80", "85", "80"]), (2, ["209", "260", "203", "254"])):
        page = maker.get(f"/mounts/{plan_id}").text
        assert page.index("<dd>") < page.index("The plan")
        assert re.findall(r"<dd>([^ ]+) <span>mm", page) == figures
        pages, words = pdf(maker, f"/mounts/{plan_id}/card.pdf", tmp_path)
        assert pages == 1 and set(figures) <= set(words.split())


def test_a_figure_on_the_card_is_never_broken_over_two_lines(maker: TestClient, sqlite_engine: Engine) -> None:
    kept(sqlite_engine, unit="in", image="8 x 10", sheet="", opening="overlap", outer="mount", mount="14 x 18")
    page = maker.get("/mounts/1").text
    assert "Check across: 3¹⁄₈ + 7³⁄₄ + 3¹⁄₈ = 14." in page
    assert "Start and stop ¹⁄₁₆\u00a0in (1.4\u00a0mm) past each corner." in page


def test_the_papers_of_a_plan_are_those_of_its_unit_first(maker: TestClient, sqlite_engine: Engine) -> None:
    inches = {"unit": "in", "image": "8 x 10", "sheet": "", "opening": "overlap", "outer": "mount", "mount": "14 x 18"}
    kept(sqlite_engine), kept(sqlite_engine, **inches)
    papers = [re.findall(r'href="/mounts/\d/(\w+).pdf"', maker.get(f"/mounts/{each}").text) for each in (1, 2)]
    assert papers == [["card", "a4", "a3", "letter", "tabloid"], ["card", "letter", "tabloid", "a4", "a3"]]


def test_a_mount_is_planned_for_a_size_and_becomes_the_mounting_of_its_offer(
    maker: TestClient, program: TestClient
) -> None:
    assert 'href="/mounts/new?edition=1"' in maker.get("/editions/1").text
    page = maker.get("/mounts/new?edition=1").text
    assert 'value="127 x 127 mm"' in page and f'value="{cast.TITLE}"' in page
    typed = form(image="127 x 127 mm", sheet="", size_id="1")
    assert keep(maker, typed).status_code == 303
    assert "A mount planned. The road, signed." in maker.get("/editions/1/story").text
    address = "/editions/1/offer?size=1&mount=1"
    assert address.replace("&", "&amp;") in maker.get("/mounts/1").text
    assert '<option value="1" selected>The road, signed' in maker.get(address).text
    offer = {
        "idempotency_key": "offer", "size_id": "1", "offer.process": "Pigment print", "offer.paper": "Cotton rag",
        "offer.mounting": "", "offer.mount_plan_id": "1", "offer.prices.0.price": "90",
    }  # fmt: skip
    assert maker.post("/editions/1/offer", data={**offer, "offer.mount_plan_id": "7"}).status_code == 409
    assert maker.post("/editions/1/offer", data=offer).status_code == 303
    said = program.get("/api/editions/1").json()["sizes"][0]["offer"]
    assert said["mounting"] == "window mount 300 × 250 mm, window 139 × 149 mm" and said["mount_plan_id"] == 1
    assert "window mount 300 × 250 mm, window 139 × 149 mm" in maker.get("/editions/1").text


def test_the_page_of_an_edition_leads_to_its_mount_plans(maker: TestClient, sqlite_engine: Engine) -> None:
    assert "/mounts/1" not in maker.get("/editions/1").text
    kept(sqlite_engine, **ROAD, size_id=1), kept(sqlite_engine, **ROAD), kept(sqlite_engine, **ROAD, title="Spare")
    offer = {
        "idempotency_key": "offer", "size_id": "1", "offer.process": "Pigment print", "offer.paper": "Cotton rag",
        "offer.mount_plan_id": "2", "offer.prices.0.price": "90",
    }  # fmt: skip
    assert maker.post("/editions/1/offer", data=offer).status_code == 303
    page = maker.get("/editions/1").text
    links = re.findall(r'href="(/mounts/[^"]+)">([^<]+)<', page)
    assert links == [
        ("/mounts/2", "Mount plan on offer: The road, signed"),
        ("/mounts/1", "Mount plan: The road, signed"),
        ("/mounts/new?edition=1", "Plan a mount"),
    ]


def test_the_offer_says_what_the_plan_chosen_says_not_the_one_before(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    wide = {**ROAD, "frame": {"width_a": "302", "height_a": "302"}}
    kept(sqlite_engine, **ROAD, size_id=1), kept(sqlite_engine, **wide, size_id=1)

    def form_then(plan: str, key: str) -> str:
        """The form as it stands, with another plan chosen; what is offered then."""
        page = maker.get("/editions/1/offer").text
        typed = dict(re.findall(r'<input[^>]*name="(offer[^"]+)" value="([^"]*)"', page))
        assert typed["offer.process"] == "Pigment print"
        sent = {"idempotency_key": key, "size_id": "1", **typed, "offer.mount_plan_id": plan}
        assert maker.post("/editions/1/offer", data=sent).status_code == 303
        return str(program.get("/api/editions/1").json()["sizes"][0]["offer"]["mounting"])

    assert form_then("1", "a") == "window mount 250 × 250 mm, window 139 × 149 mm"
    assert form_then("2", "b") == "window mount 300 × 300 mm, window 139 × 149 mm"
    assert form_then("", "c") == ""


def test_another_like_it_is_asked_as_the_first_was(maker: TestClient, sqlite_engine: Engine) -> None:
    frame = measured(sqlite_engine)
    wanted = {f"border_{edge}": "40" for edge in ("top", "right", "bottom", "left")}
    kept(sqlite_engine, outer="borders", frame_ids=[frame], boards="double", **wanted)
    page = maker.get("/mounts/new?like=1").text
    assert 'value="150 x 100"' in page and 'value="30 x 25"' in page
    assert re.search(r'name="frame_ids" value="1" checked', page) and 'name="boards" value="double" checked' in page
    # Filled in when it was kept, so the part it stands in is not folded away.
    assert re.search(r"<details[^>]* open><summary><b>Board and cutter", page)
    assert maker.get("/mounts/new?like=9").status_code == 404


def test_a_new_plan_starts_with_the_cutter_used_last_and_the_one_frame_kept(
    maker: TestClient, sqlite_engine: Engine
) -> None:
    def chosen() -> list[str]:
        return re.findall(r'<option value="[^"]*" selected>([^<]*)', maker.get("/mounts/new").text)

    assert chosen() == []
    calibrated(sqlite_engine)
    measured(sqlite_engine)
    assert chosen() == ["10 x 10 in, rebate 251 × 251 mm", "Long cutter"]
    calibrated(sqlite_engine, name="Short cutter")
    measured(sqlite_engine)
    assert chosen() == ["One I measure below", "Short cutter"]
    kept(sqlite_engine, cutter_id=1)
    assert chosen() == ["One I measure below", "Long cutter"]
    calibrated(sqlite_engine)
    page = maker.get("/mounts/new").text
    assert '<option value="3" selected>Long cutter' in page and '<details class="of-window"><summary>' in page


def test_a_cutter_calibrated_again_is_said_and_taken_by_the_next_plan(maker: TestClient, sqlite_engine: Engine) -> None:
    kept(sqlite_engine, cutter_id=calibrated(sqlite_engine))
    assert "was calibrated again" not in maker.get("/mounts/1").text + maker.get("/mounts/new?like=1").text
    calibrated(sqlite_engine, past="1.4")
    assert "Its cutter was calibrated again on 4 May 2026." in maker.get("/mounts/1").text
    page = maker.get("/mounts/new?like=1").text
    assert "Long cutter was calibrated again" in page and '<option value="2" selected>Long cutter' in page


def test_a_frame_that_is_gone_is_said_where_the_plan_is_asked_again(maker: TestClient, sqlite_engine: Engine) -> None:
    kept(sqlite_engine, frame_id=measured(sqlite_engine))
    maker.post("/mounts/frames/1/strike", data={})
    page = maker.get("/mounts/new?like=1").text
    assert "Its frame is not to be had any more and was left out: 10 x 10 in" in page


def test_what_a_window_leaves_is_not_offered_of_a_struck_plan(maker: TestClient, sqlite_engine: Engine) -> None:
    kept(sqlite_engine)
    assert 'action="/mounts/offcuts"' in maker.get("/mounts/1").text
    maker.post("/mounts/1/strike", data={"idempotency_key": "b", "why": "sold the frame"})
    assert 'action="/mounts/offcuts"' not in maker.get("/mounts/1").text


def test_a_plan_the_sums_refuse_since_is_shown_as_kept_with_the_reason(
    maker: TestClient, program: TestClient, sqlite_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept(sqlite_engine, **ROAD, size_id=1), kept(sqlite_engine, kind="float", sheet="")

    def refuses(_asked: Any) -> Any:
        raise Refusal("No window is cut so any more.")

    monkeypatch.setattr(mounts, "window_plan", refuses)
    said = "This plan cannot be reckoned any more: No window is cut so any more."
    page = maker.get("/mounts/1")
    assert page.status_code == 200 and said in page.text and "Strike this plan" in page.text
    assert "At true size on" not in page.text and "Offer prints in it" not in page.text
    assert maker.get("/mounts/1/a4.pdf").status_code == 409
    items = program.get("/api/mount-plans").json()["items"]
    assert items[0]["unreckoned"] == said and items[0]["asked"]["image"] == "127 x 127"
    assert "unreckoned" not in items[1]
    assert maker.get("/editions/1/offer").status_code == 200


def test_a_plan_is_struck_by_either_door(maker: TestClient, program: TestClient, sqlite_engine: Engine) -> None:
    kept(sqlite_engine)
    kept(sqlite_engine)
    no = maker.post("/mounts/1/strike", data={"idempotency_key": "a", "why": ""})
    assert no.status_code == 409 and 'id="f-why-message"' in no.text
    done = maker.post("/mounts/1/strike", data={"idempotency_key": "b", "why": "sold the frame"})
    assert done.status_code == 303 and "This plan was struck." in maker.get("/mounts/1").text
    assert program.post("/api/mount-plans/2/strike", json={"why": "sold the frame"}).json()["struck"]
    one, two = (program.get(f"/api/mount-plans/{each}").json() for each in (1, 2))
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    assert program.get("/api/mount-plans").json()["items"] == []


STOCK: list[tuple[str, str, dict[str, Any], str]] = [
    (
        "frames",
        "frames",
        {"unit": "in", "width_a": "8 1/16 in", "width_b": '8 1/8"', "height_a": "10 1/16", "depth": "20"},
        "Wide 8 1/16 and 8 1/8, high 10 1/16 in, 20 mm deep.",
    ),
    (
        "cutters",
        "mount-cutters",
        {"name": "Long cutter", "set": "60", "back": "61.4", "face": "60", "past": "1.9", "board": "1.4"},
        "Its scale measures the border on the face; past a corner it runs 0.5 mm further than the board is thick.",
    ),
    ("offcuts", "offcuts", {"size": "280 x 820", "board": "cream, 1.4 mm"}, "cream, 1.4 mm. Kept"),
]


@pytest.mark.parametrize(("page", "api", "typed", "said"), STOCK)
def test_both_doors_write_down_the_same_thing_at_the_bench(
    maker: TestClient, program: TestClient, page: str, api: str, typed: dict[str, Any], said: str
) -> None:
    assert maker.post(f"/mounts/{page}", data={"idempotency_key": "it", **typed}).status_code == 303
    answer = program.post(f"/api/{api}", json=typed)
    assert answer.status_code == 201 and answer.headers["location"] == f"/api/{api}/2"
    one, two = (program.get(f"/api/{api}/{each}").json() for each in (1, 2))
    assert one.pop("id") == 1 and two.pop("id") == 2 and one == two
    assert program.get(f"/api/{api}").json()["items"]
    assert said in maker.get(f"/mounts/{page}").text
    slip = maker.post(f"/mounts/{page}", data={"idempotency_key": "no", **typed, next(iter(typed)): "\u202e"})
    assert slip.status_code in (409, 422) and "Not written down." in slip.text


def test_what_is_gone_from_the_bench_is_offered_no_more(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    measured(sqlite_engine), measured(sqlite_engine)
    for _ in range(2):
        program.post("/api/offcuts", json={"size": "310 x 260"})
    page = maker.post("/mounts/new", data=form()).text
    assert "Of the board left over, the smallest that serves: 310 × 260 mm." in page and "10 x 10 in, rebate" in page
    double = maker.post("/mounts/new", data=form(boards="double")).text
    assert "serves: for the top board 310 × 260 mm; for the under-board 310 × 260 mm." in double
    for page_act, api_act in (("frames/1/strike", "frames/2/strike"), ("offcuts/1/use", "offcuts/2/use")):
        assert maker.post(f"/mounts/{page_act}", data={}).status_code == 303
        assert program.post(f"/api/{api_act}", json={}).status_code == 201
        assert program.post(f"/api/{api_act}", json={}).status_code == 409
    page = maker.post("/mounts/new", data=form()).text
    assert "the smallest that serves" not in page and "10 x 10 in, rebate" not in page


def test_what_a_window_leaves_is_kept_by_one_press(
    maker: TestClient, program: TestClient, sqlite_engine: Engine
) -> None:
    kept(sqlite_engine)
    page = maker.get("/mounts/1").text
    typed = dict(re.findall(r'name="(size|unit|mount_plan_id|idempotency_key)" value="([^"]+)"', page))
    assert maker.post("/mounts/offcuts", data=typed).status_code == 303
    found = program.get("/api/offcuts/1").json()
    assert (found["width_mm"], found["height_mm"], found["mount_plan_id"]) == (160, 120, 1)


def test_both_doors_say_what_a_board_yields(maker: TestClient, program: TestClient) -> None:
    asked = {"board": "815 x 1120", "piece": "250 x 300"}
    program.post("/api/offcuts", json={"size": "310 x 260", "board": "cream"})
    page = maker.post("/mounts/boards", data=asked)
    assert page.status_code == 200 and '<p class="great">10</p>' in page.text and 'value="250 x 300"' in page.text
    assert "All as they are: 9. All turned: 8. No cuts right across give more." in page.text
    assert '<th scope="row">310 × 260 mm, cream</th><td class="count">1</td>' in page.text
    said = program.post("/api/board-yields", json=asked).json()
    assert (said["best"], said["straight"], said["turned"], said["proved"]) == (10, 9, 8, True)
    assert said["offcuts"] == [{"offcut_id": 1, "best": 1}]
    no = maker.post("/mounts/boards", data={**asked, "piece": "8 x 8"})
    assert no.status_code == 409 and 'id="f-piece-message"' in no.text
    assert program.post("/api/board-yields", json={**asked, "piece": "8 x 8"}).json()["errors"][0]["field"] == "piece"
