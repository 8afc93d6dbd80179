"""The survey asks for every field of the model, once, in plain words; what was typed comes back as typed."""

import json
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.job.form import (
    NOT_ASKED,
    all_groups,
    all_questions,
    answers_in,
    filled,
    group_at,
    part_of,
    parts,
    path_of,
    question_at,
    stored,
    typed,
    whole,
)
from slackwater.job.load import read_as_far
from slackwater.job.model import Job
from slackwater.job.text import add_card, read_text, set_value, value_at, written
from slackwater.units import KINDS, example_of, printed_unit, read_quantity
from slackwater.wording.render import sentence_list, sentences
from tests.jobs import EXAMPLES

QUESTIONS = all_questions(whole())


def schema_leaves():
    """Key paths of all plain fields, by the published schema instead of the model."""
    schema = Job.model_json_schema(by_alias=True)

    def inner(node):
        if "$ref" in node:
            return inner(schema["$defs"][node["$ref"].rpartition("/")[2]])
        if "anyOf" in node and "examples" not in node:
            return inner(next(item for item in node["anyOf"] if item.get("type") != "null"))
        if node.get("type") == "array" and "items" in node:
            found = inner(node["items"])
            return found if "properties" in found else node
        return node

    def leaves(node, prefix):
        for name, item in node["properties"].items():
            found = inner(item)
            if "properties" in found and {"low", "high"} != set(found["properties"]):
                yield from leaves(found, f"{prefix}{name}.")
            else:
                yield f"{prefix}{name}"

    return set(leaves(schema, ""))


def test_every_field_of_the_model_is_asked_for_exactly_once():
    asked = [question.key for part in parts() for group in part.groups for question in all_questions(group)]
    assert len(asked) == len(set(asked))
    assert set(asked) == schema_leaves() - NOT_ASKED


def test_every_part_group_and_question_has_its_words_and_none_is_left_over():
    groups = {group.key: group for part in parts() for one in part.groups for group in all_groups(one) if group.key}
    wanted = {
        *(f"survey.part.{part.id}" for part in parts()),
        *(f"survey.group.{key}" for key in groups),
        *(f"survey.ask.{question.words}" for question in QUESTIONS),
    }
    known = {name for name in sentences() if name.startswith(("survey.part.", "survey.group.", "survey.ask."))}
    assert known == wanted
    for name in wanted:
        group = groups.get(name.removeprefix("survey.group.")) if name.startswith("survey.group.") else None
        words = sentence_list(name)
        # A list of cards also says what one of them is called, for its buttons.
        assert len(words) == (3 if group is not None and group.cards else 2), name
        assert all(words) and words[1].endswith(".") and not words[0].endswith("."), name


def test_every_choice_has_its_words():
    wanted = {f"survey.choice.{question.key}.{choice}" for question in QUESTIONS for choice in question.choices}
    assert wanted == {name for name in sentences() if name.startswith("survey.choice.")}


def test_labels_of_one_card_differ():
    for group in all_groups(whole()):
        labels = [sentence_list(f"survey.ask.{question.words}")[0] for question in group.questions]
        assert len(labels) == len(set(labels)), group.key


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("kind", KINDS)
def test_what_the_form_gives_as_an_example_can_be_typed(kind, system):
    assert read_quantity(example_of(kind, system), kind) == pytest.approx(read_quantity(KINDS[kind][1], kind), rel=0.01)
    assert read_quantity(f"1 {printed_unit(kind)}", kind) == 1


@pytest.mark.parametrize(
    "question", [question for question in QUESTIONS if question.quantity], ids=lambda question: question.key
)
def test_the_example_of_a_quantity_lies_in_its_range(question):
    value = read_quantity(example_of(question.quantity), question.quantity)
    low, high = question.bounds.low, question.bounds.high
    assert (low is None or low <= value) and (high is None or value <= high)


def test_ranges_and_usual_values_are_those_of_the_model():
    assert (question_at(("tank", "length")).bounds.low, question_at(("tank", "length")).bounds.open_low) == (0, True)
    assert question_at(("old", "cover_factor")).bounds.high == 2.5
    assert question_at(("people", 0, "longest_stretch")).bounds.open_low
    assert question_at(("water", "tap", "ph")).bounds.high == 14
    assert question_at(("livestock", 3, "keep")).usual == "yes"
    assert question_at(("people", 3, "speed")).usual == "1"
    assert question_at(("tank", "length")).usual == ""


def test_not_known_yet_and_none_are_two_answers_where_the_model_tells_them_apart():
    counts = {group.key for group in all_groups(whole()) if group.none_counts}
    assert counts == {
        *("site.windows", "site.quiet", "site.client_here", "site.circuits", "tank.footprint", "tank.openings"),
        *("filters", "heaters", "livestock", "containers", "people", "stones", "wood", "plants", "preparation.salts"),
    }
    assert [question.key for question in QUESTIONS if question.none_counts] == ["tank.public_sides"]
    part = next(part for part in parts() if part.id == "animals")
    head = 'format = 1\nname = "x"\n'
    assert filled(part, read_text(head))[1].none is False
    assert filled(part, read_text(head + "livestock = []\n"))[1].none is True


@pytest.mark.parametrize(
    ("key", "text", "value"),
    [
        ("tank.length", '46 1/2"', '46 1/2"'),
        ("tank.length", "46 elephants", "46 elephants"),
        ("tank.length", "  ", None),
        ("tank.braced", "yes", True),
        ("tank.braced", "no", False),
        ("tank.age_years", "6,5", Decimal("6.5")),
        ("price.client_budget", "3400.50", Decimal("3400.50")),
        ("price.client_budget", "3,400", "3,400"),
        ("livestock.count", "24", 24),
        ("livestock.count", "24 ± 2", "24 ± 2"),
        ("water.tap.ph", "7.60", Decimal("7.60")),
        ("water.tap.ph", "7.6 ± 0.1", "7.6 ± 0.1"),
        ("site.windows.start", "2027-02-10T06:30", "2027-02-10 06:30"),
        ("site.rules", "one\r\n\r\n two \r\n", ["one", "two"]),
        ("stones.pieces", "6,4 kg; 5.1 kg\n3 kg", ["6,4 kg", "5.1 kg", "3 kg"]),
        ("contract.visits.days", "1, 2 5", [1, 2, 5]),
        ("people.speed_at", "planting = 1.1\nodd", {"planting": Decimal("1.1"), "odd": ""}),
        ("people.speed_at", "planting: 1,1\nodd work 0.9", {"planting": Decimal("1.1"), "odd work": Decimal("0.9")}),
        ("tank.age_years", "0,125", Decimal("0.125")),
        ("price.client_budget", "7 200", Decimal("7200")),
        ("price.client_budget", "1.234,50", Decimal("1234.50")),
        ("price.margin_share", "25 %", "25 %"),
        ("stones.pieces", "11 kg, 9,5 kg, 8 kg", ["11 kg", "9,5 kg", "8 kg"]),
        ("brief.may_be_left_out", "E21 = 20 min", {"E21": "20 min"}),
        ("people.id", "007", "007"),
    ],
)
def test_what_was_typed_is_stored_as_typed(key, text, value):
    assert stored(question_at(tuple(key.split("."))), text) == value


@given(st.sampled_from(QUESTIONS), st.text(max_size=30))
def test_anything_typed_is_stored_and_shown_again(question, text):
    if any("\ud800" <= sign <= "\udfff" for sign in text):
        return
    value = stored(question, text)
    if value is None:
        assert not text.strip()
        return
    back = read_text(f"a = {written(value)}\n")["a"]
    assert stored(question, typed(back)) == value


def test_the_examples_are_shown_and_taken_back_without_a_change():
    for path in EXAMPLES.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        plain = read_text(text)
        known = 0
        for part in parts():
            for answer in answers_in(filled(part, plain)):
                if answer.known:
                    known += 1
                    value = stored(answer.question, answer.text)
                    assert read_text(f"a = {written(value)}")["a"] == value_at(plain, answer.path), answer.path
                assert path_of(answer.name) == answer.path
                assert part_of(answer.name) == part.id
        assert known == len(list(_leaves(plain))) - 1  # the format


def _leaves(value):
    if isinstance(value, dict):
        for item in value.values():
            yield from _leaves(item)
    elif isinstance(value, list) and value and isinstance(value[0], dict):
        for item in value:
            yield from _leaves(item)
    else:
        yield value


def test_a_whole_example_typed_into_an_empty_job_question_by_question_is_the_same_job():
    text = (EXAMPLES / "blue-corridor.toml").read_text(encoding="utf-8")
    plain = read_text(text)
    new = "format = 1\n"
    for part in parts():
        for answer in answers_in(filled(part, plain)):
            for at, step in enumerate(answer.path):
                if isinstance(step, int) and value_at(read_text(new), answer.path[: at + 1]) is None:
                    new = add_card(new, answer.path[:at])
            if answer.known:
                new = set_value(new, answer.path, stored(answer.question, answer.text))
    before, after = read_as_far(text), read_as_far(new)
    assert after.faults == () and after.job == before.job
    assert json.loads(after.job.model_dump_json()) == json.loads(before.job.model_dump_json())


def test_a_group_is_found_by_the_path_of_a_card():
    assert group_at(("contract", "visits", 2)).key == "contract.visits"
    assert group_at(("nothing",)) is None
    assert part_of("nothing") == ""
