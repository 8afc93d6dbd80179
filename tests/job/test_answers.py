"""Answers are laid into the job text: only what was changed, never over what somebody else said meanwhile."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput, NotFound
from slackwater.job.answers import Clash, Deed, changes_of, done, faults_by_field, meant, merged, not_in_catalog, shown
from slackwater.job.form import answers_in, field_name, filled, parts, question_at
from slackwater.job.load import read_as_far
from slackwater.job.text import add_card, move_card, read_text, remove_card, set_value, value_at
from tests.jobs import EXAMPLES
from tests.plans import catalog

TEXT = (EXAMPLES / "blue-corridor.toml").read_text(encoding="utf-8")


def as_posted(part, text=TEXT):
    """A page sent back as a browser sends it: lines with its own ends, times with a T, names in place of ids."""
    posted = {}
    for answer in answers_in(filled(part, read_text(text))):
        sent = shown(answer.question, value_at(read_text(text), answer.path), catalog())
        sent = sent.replace("\n", "\r\n")
        if answer.question.kind.value == "moment":
            sent = sent.replace(" ", "T")
        posted[answer.name] = "none" if answer.none else sent
    return posted


@pytest.mark.parametrize("part", parts(), ids=lambda part: part.id)
def test_a_page_sent_back_as_it_was_changes_nothing(part):
    assert changes_of(TEXT, as_posted(part), catalog()) == ()


def test_only_what_was_changed_is_laid_into_the_text():
    posted = {
        **as_posted(next(part for part in parts() if part.id == "tank")),
        "tank.length": "46 in",
        "tank.braced": "",
    }
    made = merged(TEXT, TEXT, changes_of(TEXT, posted, catalog()), catalog())
    assert made.clashes == ()
    assert made.text == TEXT.replace('length = "118 cm"', 'length = "46 in"').replace(
        "braced = true               # the", "# the"
    )


def mine(**posted):
    return changes_of(TEXT, {name.replace("__", "."): text for name, text in posted.items()}, catalog())


def test_two_people_on_different_fields_both_count():
    theirs = set_value(TEXT, ("tank", "width"), "45 cm")
    made = merged(TEXT, theirs, mine(tank__length="46 in"), catalog())
    assert made.clashes == () and read_text(made.text)["tank"]["width"] == "45 cm"
    assert read_text(made.text)["tank"]["length"] == "46 in"


def test_two_people_on_one_field_are_told_and_nothing_is_overwritten():
    theirs = set_value(TEXT, ("tank", "length"), "120 cm")
    made = merged(TEXT, theirs, mine(tank__length="46 in", tank__height="18 in"), catalog())
    assert made.clashes == (Clash(("tank", "length"), "46 in", "120 cm"),)
    assert read_text(made.text)["tank"]["length"] == "120 cm" and read_text(made.text)["tank"]["height"] == "18 in"


def test_two_people_saying_the_same_is_no_clash():
    theirs = set_value(TEXT, ("tank", "length"), "120 cm")
    assert merged(TEXT, theirs, mine(tank__length="120 cm"), catalog()).clashes == ()


def test_an_answer_finds_its_card_where_somebody_moved_it():
    theirs = move_card(remove_card(TEXT, ("livestock",), 0), ("livestock",), 1, 4)
    made = merged(TEXT, theirs, mine(livestock__2__count="11"), catalog())
    assert made.clashes == ()
    kept = [card for card in read_text(made.text)["livestock"] if card["species"] == "corydoras_aeneus"]
    assert [card["count"] for card in kept] == [11]


def test_an_answer_to_a_card_that_somebody_took_out_is_told():
    theirs = remove_card(TEXT, ("livestock",), 2)
    made = merged(TEXT, theirs, mine(livestock__2__count="11"), catalog())
    assert made.text == theirs and made.clashes == (Clash(("livestock", 2, "count"), "11", "", gone=True),)
    moved = set_value(move_card(TEXT, ("livestock",), 0, 2), ("livestock", 1, "note"), "by the glass")
    clash = merged(TEXT, set_value(moved, ("livestock", 2, "note"), "shy"), mine(livestock__0__note="ill"), catalog())
    assert [(one.path, one.gone) for one in clash.clashes] == [(("livestock", 0, "note"), True)]


@given(st.sampled_from(["46 in", "", "118 cm", "x"]), st.sampled_from(["46 in", "", "118 cm", "y"]), st.booleans())
def test_whoever_comes_second_is_never_silent(first, second, other_field):
    def answer(text, length):
        return merged(TEXT, text, changes_of(TEXT, {"tank.length": length}, catalog()), catalog())

    theirs = answer(TEXT, first).text
    if other_field:
        theirs = set_value(theirs, ("tank", "wall"), "12 mm")
    made = answer(theirs, second)
    stands = value_at(read_text(made.text), ("tank", "length")) or ""
    if first != "118 cm" and second not in ("118 cm", first):
        assert stands == first and made.clashes == (Clash(("tank", "length"), second, first),)
    else:
        assert made.clashes == () and stands == (first if second == "118 cm" else second)


def test_saving_twice_what_one_typed_into_a_new_card_is_no_clash():
    begun = add_card(TEXT, ("livestock",))
    typed = {"livestock.7.species": "neon tetra", "livestock.7.count": "9", "livestock.0.count": "25"}
    changes = changes_of(begun, typed, catalog())
    first = merged(begun, begun, changes[:1], catalog()).text
    again = merged(begun, first, changes, catalog())
    assert again.clashes == () and read_text(again.text)["livestock"][7] == {
        "species": "paracheirodon_innesi",
        "count": 9,
    }
    renamed = changes_of(TEXT, {"livestock.0.species": "neon tetra", "livestock.0.count": "25"}, catalog())
    first = merged(TEXT, TEXT, renamed[:1], catalog()).text
    assert merged(TEXT, first, renamed, catalog()).clashes == ()


def test_what_was_typed_into_a_new_card_stays_in_it_when_another_was_added_meanwhile():
    # The page sends the card and adds another; the same answers, sent once more by themselves, come after it.
    text = add_card(add_card('name = "x"\n', ("containers",)), ("containers",))
    base = set_value(text, ("containers", 0, "container"), "box_45")
    typed_in = changes_of(base, {"containers.1.container": "box_65", "containers.1.count": "2"}, catalog())
    sent = add_card(merged(base, base, typed_in, catalog()).text, ("containers",))
    late = merged(base, sent, typed_in, catalog())
    assert late.clashes == () and late.text == sent
    assert read_text(sent)["containers"] == [{"container": "box_45"}, {"container": "box_65", "count": 2}, {}]


def test_what_was_typed_into_a_new_card_has_no_place_once_cards_before_it_are_others():
    base = add_card(
        set_value(add_card('name = "x"\n', ("containers",)), ("containers", 0, "container"), "box_45"), ("containers",)
    )
    typed_in = changes_of(base, {"containers.1.container": "box_65"}, catalog())
    fewer = remove_card(base, ("containers",), 0)
    (clash,) = merged(base, fewer, typed_in, catalog()).clashes
    assert clash.gone


def test_none_is_said_taken_back_and_refused_while_cards_stand_there():
    none = merged(TEXT, TEXT, changes_of(TEXT, {"site.client_here": "none"}, catalog()), catalog()).text
    assert read_text(none)["site"]["client_here"] == []
    assert changes_of(none, {"site.client_here": "none"}, catalog()) == ()
    back = merged(none, none, changes_of(none, {"site.client_here": ""}, catalog()), catalog()).text
    assert "client_here" not in read_text(back)["site"]
    assert changes_of(TEXT, {"livestock": "none"}, catalog()) == ()
    sides = merged(TEXT, TEXT, mine(tank__public_sides="\nnone"), catalog()).text
    assert read_text(sides)["tank"]["public_sides"] == []


@pytest.mark.parametrize("name", ["nonsense", "tank.colour", "format", "tank", "", "livestock.0", "a.b.c.d.0.1"])
def test_what_nobody_asks_for_is_refused(name):
    with pytest.raises(BadInput, match="not asked for"):
        changes_of(TEXT, {name: "x"}, catalog())


def test_a_part_of_which_nothing_is_left_is_not_known_yet():
    with_gas = merged(TEXT, TEXT, mine(co2__cylinder="2 kg"), catalog()).text
    assert read_as_far(with_gas).job.co2.cylinder_kg == 2
    without = merged(with_gas, with_gas, changes_of(with_gas, {"co2.cylinder": ""}, catalog()), catalog()).text
    assert read_as_far(without).faults == () and read_as_far(without).job.co2 is None


def test_cards_are_added_moved_and_taken_out():
    assert read_text(done(TEXT, TEXT, TEXT, Deed.ADD, ("livestock",)))["livestock"][7] == {}
    down = done(TEXT, TEXT, TEXT, Deed.DOWN, ("livestock", 0))
    assert [card["species"][:4] for card in read_text(down)["livestock"]][:2] == ["hyph", "trig"]
    assert done(down, down, down, Deed.UP, ("livestock", 1)) == TEXT
    assert done(TEXT, TEXT, TEXT, Deed.UP, ("livestock", 0)) == TEXT
    assert done(TEXT, TEXT, TEXT, Deed.REMOVE, ("livestock", 3)) == remove_card(TEXT, ("livestock",), 3)
    with pytest.raises(BadInput, match="no cards there"):
        done(TEXT, TEXT, TEXT, Deed.ADD, ("tank",))


def test_a_card_is_taken_out_where_it_stands_now_or_not_at_all():
    theirs = remove_card(TEXT, ("livestock",), 0)
    assert done(TEXT, theirs, theirs, Deed.REMOVE, ("livestock", 3)) == remove_card(theirs, ("livestock",), 2)
    with pytest.raises(NotFound, match="Somebody else changed this list"):
        done(TEXT, theirs, theirs, Deed.REMOVE, ("livestock", 0))


@pytest.mark.parametrize(
    ("typed", "currency", "kept"),
    [
        ("6.2", "cr", Decimal("6.2")),
        ("6,2", "cr", Decimal("6.2")),
        ("cr 6.20", "cr", Decimal("6.20")),
        ("7 200 cr", "cr", Decimal("7200")),
        ("€ 6,20", "EUR", Decimal("6.20")),
        ("6.20 EUR", "€", Decimal("6.20")),
        ("€ 6.20", "cr", "€ 6.20"),
        ("cr 6.20 €", "cr", "cr 6.20 €"),
        ("1,200", "cr", "1,200"),
    ],
)
def test_an_amount_is_in_the_currency_of_the_job_and_in_no_other(typed, currency, kept):
    text = set_value(TEXT, ("price", "currency"), currency)
    (change,) = changes_of(text, {"price.client_budget": typed}, catalog())
    assert (change.value, type(change.value)) == (kept, type(kept))


@pytest.mark.parametrize(
    ("key", "typed", "id_"),
    [
        ("livestock.0.species", "Cardinal Tetra", "paracheirodon_axelrodi"),
        ("livestock.0.species", "Paracheirodon axelrodi", "paracheirodon_axelrodi"),
        ("livestock.0.species", "paracheirodon_axelrodi", "paracheirodon_axelrodi"),
        ("livestock.0.species", "my own fish", "my own fish"),
        ("livestock.0.species", "Panda Cory", "corydoras_panda"),
        ("livestock.0.species", "rummy-nose", "petitella_bleheri"),
        ("livestock.0.species", "Petitella bleheri", "petitella_bleheri"),
        ("plants.0.plant", "Monte Carlo", "micranthemum_tweediei"),
        ("holding.0.species", "cardinal tetra\r\nneon tetra", "paracheirodon_axelrodi\nparacheirodon_innesi"),
        ("tank.length", "cardinal tetra", "cardinal tetra"),
        ("containers.0.container", "Opaque stacking box, 45 L", "box_45"),
        ("containers.0.container", "opaque stacking box", "opaque stacking box"),
        ("past_jobs.0.activity", "e22", "E22"),
    ],
)
def test_a_name_of_the_catalog_is_meant_by_its_row(key, typed, id_):
    question = question_at(tuple(int(part) if part.isdigit() else part for part in key.split(".")))
    assert meant(question, typed, catalog()) == id_


def test_a_name_that_is_nearly_one_of_the_catalog_is_told():
    question = question_at(("livestock", 0, "species"))
    ((entry, near),) = not_in_catalog(question, "cardnal tetra", catalog())
    assert entry == "cardnal tetra" and near[0] == "cardinal tetra"
    assert not_in_catalog(question, "cardinal tetra", catalog()) == ()


@pytest.mark.parametrize("table", ["species", "plants", "materials", "containers", "salts", "activities"])
def test_every_row_of_the_catalog_is_found_by_what_it_is_called(table):
    names = catalog().names(table)
    assert {catalog().id_of(name.upper(), table) for name in names.values()} == set(names)


def test_a_fault_stands_beside_its_field_and_what_has_no_field_is_told_above():
    text = add_card(set_value(set_value(TEXT, ("target", "ph_low"), 7.4), ("tank", "length"), "118"), ("livestock",))
    text = set_value(text, ("site", "rules"), ["a", 3])
    paths = [answer.path for part in parts() for answer in answers_in(filled(part, read_text(text)))]
    beside, rest = faults_by_field(read_as_far(text).faults, paths)
    assert {field_name(path) for path in beside} == {
        "tank.length",
        "livestock.7.species",
        "livestock.7.count",
        "site.rules",
    }
    assert [fault.path for fault in rest] == [("target",)]


def test_a_bare_number_is_told_as_it_was_typed_and_without_the_quotes_of_a_file():
    text = 'format = 1\nname = "x"\n'
    typed_in = changes_of(text, {"water.tap.free_chlorine": "0.15"}, catalog())
    faults = read_as_far(merged(text, text, typed_in, catalog()).text).faults
    beside, rest = faults_by_field(faults, [("water", "tap", "free_chlorine")])
    assert rest == ()
    assert beside[("water", "tap", "free_chlorine")].startswith(
        "0.15 was given; a concentration with its unit is expected, such as"
    )
