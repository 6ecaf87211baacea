from ledger.reckoning.answers import (
    ASKED,
    ASKED_KEYS,
    FIXED_SENTENCE,
    STATUTE_ITEMS,
    Answer,
    KnownFacts,
    OtherEdition,
    proposals,
)

LIVING = KnownFacts(None, 2025, 2026)


def test_ten_things_are_asked_and_each_names_the_rule_that_asks_it() -> None:
    assert ASKED_KEYS == (
        "signature",
        "marks",
        "supervision",
        "reproduction",
        "reproduction_approved",
        "dead_when_made",
        "posthumous",
        "unnumbered",
        "master",
        "other_editions",
    )
    assert all(item.question.endswith(("?", ".")) and item.sources for item in ASKED)


def test_every_item_of_californias_list_has_an_answer() -> None:
    # California Civil Code 1744(a)(1) to (11), the tenth with its four parts.
    cited = {item.california for item in STATUTE_ITEMS}
    wanted = {f"1744(a)({n})" for n in range(1, 12)} | {f"1744(a)(10)({n})" for n in ("i", "ii", "iii", "iv")}
    assert wanted <= cited


def test_every_item_of_new_yorks_list_has_an_answer() -> None:
    # New York Arts and Cultural Affairs Law 15.03(1) to (6).
    cited = " ".join(item.new_york or "" for item in STATUTE_ITEMS)
    whole = ["(1)", "(2)", "(3)(a)", "(3)(b)", "(3)(c)", "(3)(d)", "(4)(a)", "(4)(b)", "(5)"]
    assert all(f"15.03{part}" in cited for part in [*whole, "(6)(a)", "(6)(c)", "(6)(d)"])


def test_a_statutes_item_is_asked_or_read_from_the_record() -> None:
    assert len({item.key for item in STATUTE_ITEMS}) == len(STATUTE_ITEMS)
    for item in STATUTE_ITEMS:
        assert (item.how == "asked") == (item.answered_by in ASKED_KEYS)


def test_californias_sentence_stands_word_for_word() -> None:
    # California Civil Code 1740.
    assert FIXED_SENTENCE == (
        "This is to certify that all information and the statements contained herein are true and correct."
    )


def test_a_living_artist_is_proposed_the_usual_answers_and_asked_about_marks() -> None:
    proposed = proposals(LIVING)
    assert set(ASKED_KEYS) - set(proposed) == {"marks"}
    assert proposed["dead_when_made"].text.startswith("No.")
    assert proposed["posthumous"].text.startswith("No.")
    assert proposed["reproduction_approved"] == Answer("not_applicable")
    assert proposed["unnumbered"] == Answer("value", "0")
    assert proposed["other_editions"].text == "No other edition of this image."


def test_for_an_artist_who_died_nobody_is_proposed_to_have_signed() -> None:
    proposed = proposals(KnownFacts(2019, 2011, 2026))
    assert "signature" not in proposed and "supervision" not in proposed
    assert proposed["dead_when_made"].text.startswith("No.")
    assert proposed["posthumous"].text == "Yes. Printed after the artist’s death in 2019."


def test_the_year_of_death_itself_is_not_known_either_way() -> None:
    proposed = proposals(KnownFacts(2019, 2019, 2019))
    assert proposed["dead_when_made"].answer == "not_known"
    assert proposed["posthumous"].answer == "not_known"


def test_other_editions_are_named_with_all_their_prints() -> None:
    others = (OtherEdition("First edition, 2019", 30), OtherEdition("Open edition", None))
    proposed = proposals(KnownFacts(None, 2018, 2026, others))
    assert proposed["other_editions"].text == (
        "First edition, 2019: 30 prints, proofs included; Open edition: open, no fixed number."
    )
