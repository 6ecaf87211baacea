"""Certificates: one live one a print, refused while anything is unanswered, and resolvable for ever."""

from datetime import date
from typing import Any

import pytest
from sqlalchemy import Engine
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from ledger import certificates, conditions, editions, keys, numbers, papers, snapshots, studio, works
from ledger.certificates import IssueDraft
from ledger.conditions import ReplaceDraft
from ledger.database import reading
from ledger.promises import AnswerDraft, BegunDraft, ClassDraft
from ledger.reckoning import answers, codes
from ledger.tables import Certificate
from tests.cast import (
    ADDRESS,
    KEYS,
    MAKER,
    ROAD,
    STUDIO,
    acting,
    answered,
    certified,
    declared,
    made,
    opened,
    person,
    promise,
    refused,
    road,
    seen,
    size,
)

JUNE_1 = date(2026, 6, 1)
NOT_KNOWN = AnswerDraft(answer="not_known")


def face(view: certificates.CertificateView) -> dict[str, str]:
    return dict(view.snapshot["facts"])


def particulars(view: certificates.CertificateView) -> dict[str, str]:
    return dict(view.snapshot["particulars"])


def state_of(engine: Engine, view: certificates.CertificateView) -> str:
    with reading(engine) as session:
        return certificates.get(session, view.id).state


def test_a_certificate_says_what_the_edition_promised(engine: Engine) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    assert codes.well_formed(view.code)
    assert papers.link(view.snapshot) == f"{ADDRESS}/C/{view.code}".upper()
    said = face(view)
    assert said["Process"] == "Pigment print."
    assert said["Paper"] == "Cotton rag."
    assert said["Sizes"] == "Image 127 × 127 mm."
    assert said["Years"] == "Made 2023. This print May 2026."
    assert said["Edition"] == "25, numbered 1/25 to 25/25, one size."
    assert said["Beside it"] == "3 artist’s proofs, 1 bon à tirer. In all 29."
    assert said["Other editions"] == "Earlier in this record, none. Later, ruled out in any size or process."
    assert said["Marked"].endswith("Blind stamp, lower right.")


def test_every_item_of_the_statutes_is_told_one_way_or_another(engine: Engine) -> None:
    """California Civil Code 1744(a) and New York ACAL 15.03: a value, not applicable or not known, never blank."""
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    told = [*particulars(view), *view.snapshot["not_applicable"], *view.snapshot["not_known"]]
    assert sorted(told) == sorted(item.words for item in answers.STATUTE_ITEMS)
    assert view.snapshot["not_applicable"] == ["Approved in writing"]
    assert all(particulars(view).values())
    assert particulars(view)["Artist"] == f"{MAKER}."


def test_thirty_with_six_proofs_are_thirty_six_in_all(engine: Engine) -> None:
    """30 numbered, none unnumbered, 3 AP, 1 PP and 2 HC outside, 36 in all (California 1744(a)(10))."""
    outside = (ClassDraft(kind="AP", count=3), ClassDraft(kind="PP", count=1), ClassDraft(kind="HC", count=2))
    road(engine, count=30, outside=outside)
    said = particulars(certified(engine, made(engine, 1)[0]))
    assert said["Most numbered"] == "30."
    assert said["Most unsigned or unnumbered"] == "0."
    assert said["Most proofs"] == "6."
    assert said["Most prints in all"] == "36."
    assert said["How numbered"] == "1/30, of this edition."


@pytest.mark.parametrize("item", answers.ASKED_KEYS)
def test_a_certificate_waits_for_every_answer_and_not_known_is_one(engine: Engine, item: str) -> None:
    """An item left blank is refused, 'not known' is printed on its line (New York ACAL 13.05(2))."""
    given = answered()
    del given[item]
    road(engine, answers=given)
    (piece_id,) = made(engine, 7)
    with refused("One thing is still to answer before a certificate") as refusal:
        certified(engine, piece_id)
    assert refusal.value.field == f"answers.{item}"
    with reading(engine) as session:
        assert snapshots.unanswered(session, 1) == [item]
    with acting(engine) as book:
        editions.answer(book, 1, item, NOT_KNOWN)
    view = certified(engine, piece_id)
    words = {each.answered_by: each.words for each in answers.STATUTE_ITEMS}
    if item in words:
        assert words[item] in view.snapshot["not_known"]
    elif item != "marks":
        assert "Not known." in str(view.snapshot["facts"])


def test_the_fixed_sentence_is_california_s_word_for_word(engine: Engine) -> None:
    """California Civil Code 1740."""
    road(engine)
    first, second = made(engine, 1, 2)
    assert certified(engine, first).snapshot["fixed_sentence"] == ""
    with acting(engine) as book:
        view = certificates.as_view(certificates.issue(book, second, IssueDraft(fixed_sentence=True)))
    assert view.snapshot["fixed_sentence"] == (
        "This is to certify that all information and the statements contained herein are true and correct."
    )


def test_the_other_editions_of_the_work_are_found_and_told(engine: Engine) -> None:
    """The earlier edition and its total, proofs too (California 1744(a)(8), New York 15.03(4)(b))."""
    road(engine)
    large = promise(
        count=10,
        outside=(),
        sizes=(size(400, 400),),
        later_editions="reserved",
        answers=answered(other_editions=AnswerDraft(answer="value", text="Postcards, 2024, unlimited")),
    )
    declared(engine, large)
    view = certified(engine, made(engine, 1, edition=2)[0])
    first = "Earlier, edition 1 of 2026: 127 × 127 mm, 25 numbered, 29 in all"
    assert face(view)["Other editions"] == f"{first}. Later ones in other sizes are reserved."
    assert particulars(view)["Other editions from the master"].startswith(f"Postcards, 2024, unlimited. {first}")
    earlier = certified(engine, made(engine, 1)[0])
    assert "Later, edition 2 of 2026: 400 × 400 mm, 10 numbered, 10 in all" in face(earlier)["Other editions"]


def test_an_edition_begun_before_this_record_is_the_earlier_one_whenever_it_was_written_down(engine: Engine) -> None:
    road(engine)
    declared(engine, promise(outside=(), sizes=(size(400, 400),), begun=BegunDraft(words="about 2024")))
    view = certified(engine, made(engine, 1)[0])
    assert face(view)["Other editions"].startswith("Earlier, edition 2, begun about 2024: 400 × 400 mm, 25 numbered")


def test_a_posthumous_print_says_so(engine: Engine) -> None:
    """Artist died in 2020, image of 2018, printed in 2022 or later: posthumous (California 1744(a)(7))."""
    opened(engine)
    with acting(engine) as book:
        late = ROAD.model_copy(update={"title": "Weir", "year_made": 2018, "artist_died": 2020})
        work = works.add(book, late)
    proposed = answers.proposals(answers.KnownFacts(2020, 2018, 2026))
    given = {key: AnswerDraft(answer=said.answer, text=said.text) for key, said in proposed.items()}
    for key in ("signature", "marks", "supervision"):
        given[key] = AnswerDraft(answer="value", text="Estate stamp, verso")
    declared(engine, promise(work_id=work.id, answers=given))
    said = particulars(certified(engine, made(engine, 1)[0]))
    assert said["Printed after the artist’s death"] == "Yes. Printed after the artist’s death in 2020."


@pytest.mark.parametrize("state", ["free", "assigned", "withdrawn", "missing", "destroyed"])
def test_only_a_signed_print_that_is_there_can_have_one(engine: Engine, state: str) -> None:
    road(engine)
    piece_id = seen(engine, 7).id
    with acting(engine) as book:
        if state == "assigned":
            numbers.allocate(book, 1, numbers=[7], reason="asked for")
        elif state == "withdrawn":
            numbers.withdraw(book, [piece_id], "enough")
        elif state != "free":
            numbers.inscribe(book, piece_id, numbers.InscribeDraft())
        if state == "missing":
            conditions.missing(book, piece_id, "I looked")
        if state == "destroyed":
            conditions.destroy(book, piece_id, "burnt")
    assert seen(engine, 7).standing == state
    with refused("7/25 (is not yet inscribed|is missing|was destroyed)"):
        certified(engine, piece_id)


def test_a_damaged_print_may_have_one_and_a_lent_or_given_one_too(engine: Engine) -> None:
    road(engine)
    first, second, third = made(engine, 1, 2, 3)
    with acting(engine) as book:
        conditions.damage(book, first, "corner bent")
        conditions.move(book, second, "loan")
        conditions.give(book, third, conditions.GiveDraft(how="gift", name="Jory Pellow"))
    for piece_id in (first, second, third):
        assert state_of(engine, certified(engine, piece_id)) == "valid"


def test_a_print_has_one_live_certificate(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    first = certified(engine, piece_id)
    with refused("7/25 has a certificate already: .* Reissue that one"):
        certified(engine, piece_id)
    with pytest.raises(IntegrityError), Session(engine) as session:
        session.add(
            Certificate(
                code="0" * 16, piece_id=piece_id, issued_on=JUNE_1, place="", address_printed="", snapshot=b"{}"
            )
        )
        session.commit()
    with acting(engine) as book:
        again = certificates.as_view(certificates.reissue(book, first.id, IssueDraft(reason="coffee on it")))
    assert (state_of(engine, first), state_of(engine, again)) == ("superseded", "valid")
    assert again.snapshot["replaces_code_sha256"] == certificates.code_sha256(first.code)
    with reading(engine) as session:
        found = [certificates.by_code(session, code) for code in (first.code, again.code)]
        assert [each and each.id for each in found] == [first.id, again.id]
        assert certificates.by_code(session, "0" * 16) is None


def test_a_reissue_has_a_reason_and_is_of_a_certificate_that_lives(engine: Engine) -> None:
    road(engine)
    first = certified(engine, made(engine, 7)[0])
    for reason in ("", "lost\u202eit"):
        with refused("The reason") as refusal, acting(engine) as book:
            certificates.reissue(book, first.id, IssueDraft(reason=reason))
        assert refusal.value.field == "reason"
    with acting(engine) as book:
        certificates.void(book, first.id, "wrong name on it")
    with refused("That certificate is void. Issue from the print.s page"), acting(engine) as book:
        certificates.reissue(book, first.id, IssueDraft(reason="again"))
    with refused("void already"), acting(engine) as book:
        certificates.void(book, first.id, "again")
    assert state_of(engine, certified(engine, first.piece_id)) == "valid"


def test_a_missing_print_suspends_its_certificate_until_it_is_found(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    view = certified(engine, piece_id)
    with refused("is valid. Only a suspended one is restored"), acting(engine) as book:
        certificates.restore(book, view.id)
    with acting(engine) as book:
        conditions.missing(book, piece_id, "the buyer wrote")
    assert state_of(engine, view) == "suspended"
    with refused("Its print is still missing"), acting(engine) as book:
        certificates.restore(book, view.id)
    with refused("It cannot have a certificate"), acting(engine) as book:
        certificates.reissue(book, view.id, IssueDraft(reason="lost"))
    assert state_of(engine, view) == "suspended"
    with acting(engine) as book:
        conditions.found(book, piece_id, "in the attic", restore=False)
    assert state_of(engine, view) == "suspended"
    with acting(engine) as book:
        certificates.restore(book, view.id)
    assert state_of(engine, view) == "valid"


@pytest.mark.parametrize("after", ["restored", "replaced", "voided"])
def test_a_suspended_certificate_of_a_print_found_again_goes_one_of_three_ways(engine: Engine, after: str) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    view = certified(engine, piece_id)
    with acting(engine) as book:
        conditions.missing(book, piece_id, "the buyer wrote")
        conditions.found(book, piece_id, "in the attic", damaged=True, restore=after == "restored")
        if after == "replaced":
            certificates.reissue(book, view.id, IssueDraft(reason="the paper is gone"))
        if after == "voided":
            certificates.void(book, view.id, "the paper is gone")
    assert state_of(engine, view) == {"restored": "valid", "replaced": "superseded", "voided": "void"}[after]


def test_a_second_print_says_what_it_replaces(engine: Engine) -> None:
    road(engine)
    burnt, lost = made(engine, 7, 8)
    of_burnt, of_lost = certified(engine, burnt), certified(engine, lost)
    with acting(engine) as book:
        conditions.destroy(book, burnt, "burnt before a witness")
        conditions.missing(book, lost, "never arrived")
        second = conditions.replace(book, burnt, ReplaceDraft()).id or 0
        other = conditions.replace(book, lost, ReplaceDraft(sworn="sworn before a notary")).id or 0
    assert (state_of(engine, of_burnt), state_of(engine, of_lost)) == ("void", "void")
    years = "Made 2023. This print May 2026, the 2nd of its number: it replaces "
    assert face(certified(engine, second))["Years"] == f"{years}the print destroyed on 4 May 2026."
    assert face(certified(engine, other))["Years"] == f"{years}a print that was missing."
    with refused("7/25 was replaced by a later print of its number"):
        certified(engine, burnt)


def test_without_keys_at_hand_no_certificate_is_issued_and_everything_else_goes_on(engine: Engine) -> None:
    road(engine)
    seventh, eighth = made(engine, 7, 8)
    first = certified(engine, seventh)
    keys.hold(engine, keys.NONE_YET)
    with refused("no signing keys yet.*print-ledger keys make"):
        certified(engine, eighth)
    with refused("no signing keys yet"), acting(engine) as book:
        certificates.reissue(book, first.id, IssueDraft(reason="coffee on it"))
    assert made(engine, 9)
    with acting(engine) as book:
        certificates.void(book, first.id, "coffee on it")
        conditions.damage(book, eighth, "coffee on it too")
    keys.hold(engine, KEYS)
    assert certified(engine, eighth).state == "valid"


def test_without_an_address_a_certificate_is_issued_without_a_code_to_scan(engine: Engine) -> None:
    with acting(engine) as book:
        studio.open_studio(book, STUDIO)
        keys.add(book, KEYS.public)
        works.add(book, ROAD)
    declared(engine)
    (piece_id,) = made(engine, 7)
    with refused("No public address was chosen yet") as refusal:
        certified(engine, piece_id)
    assert refusal.value.field == "without_qr"
    with acting(engine) as book:
        view = certificates.as_view(certificates.issue(book, piece_id, IssueDraft(without_qr=True)))
    assert papers.link(view.snapshot) is None
    assert STUDIO.address in view.snapshot["write_to"]
    with acting(engine) as book:
        studio.change_address(book, ADDRESS)
    with reading(engine) as session:
        assert papers.link(certificates.as_view(certificates.get(session, view.id)).snapshot) is None


def test_a_kept_paper_is_never_drawn_again(engine: Engine) -> None:
    road(engine)
    view = certified(engine, made(engine, 7)[0])
    with acting(engine) as book:
        certificates.keep_paper(book, view.id, "ab" * 32)
    with refused("is kept already"), acting(engine) as book:
        certificates.keep_paper(book, view.id, "cd" * 32)


def test_a_certificate_names_no_owner_no_price_and_no_place_where_the_print_is(engine: Engine) -> None:
    road(engine)
    (piece_id,) = made(engine, 7)
    gallery = person(engine, "Gallery Kelpstane", kind="business")
    with acting(engine) as book:
        conditions.move(book, piece_id, "loan", person_id=gallery, note="over the counter")
    lent = certified(engine, piece_id)
    with acting(engine) as book:
        conditions.move(book, piece_id, "studio")
        conditions.give(book, piece_id, conditions.GiveDraft(how="gift", name="Jory Pellow"))
        given = certificates.as_view(certificates.reissue(book, lent.id, IssueDraft(reason="lost")))

    def same(view: certificates.CertificateView) -> dict[str, Any]:
        return {k: v for k, v in view.snapshot.items() if k not in ("code", "replaces_code_sha256")}

    assert same(lent) == same(given)
    for word in ("Kelpstane", "Jory", "65", "75.00", "lost", "loan", "counter"):
        assert word not in str(same(given))
