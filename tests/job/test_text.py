"""One key of a job text is changed and nothing else: values as typed, comments and every other byte kept."""

import copy
import tomllib
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.errors import BadInput, NotFound
from slackwater.job.load import read_job
from slackwater.job.text import (
    MOST_CHARACTERS,
    add_card,
    clear,
    clear_all,
    move_card,
    read_text,
    remove_card,
    set_value,
    value_at,
    written,
)
from tests.jobs import EXAMPLES

# The same small job in the ways people write TOML: headers, dots, braces, lists over several lines, Windows line ends.
WAYS = {
    "headers": (
        '# my job\nformat = 1  # always\n\n[tank]  # inside\nlength = "118 cm"  # to the seam\n\n# stock\n[[fish]]\n'
        'kind = "a"\n# shy\ncount = 2\n\n# more\n[[fish]]\nkind = "b"\n[fish.note]\nby = "me"\n\n[site.way]\nsteps = 3\n'
    ),
    "dots": (
        'format = 1\ntank.length = "118 cm" # to the seam\nsite.way.steps = 3\n# stock\n'
        'fish = [{kind = "a", count = 2}, {kind = "b", note.by = "me"}] # all of them\n'
    ),
    "braces": (
        'format = 1\ntank = { length = "118 cm" } # to the seam\nsite = { way = { steps = 3 } }\nfish = [\n'
        '  # shy\n  { kind = "a", count = 2 }, # two\n  { kind = "b", note = { by = "me" } }, # more\n]\n'
    ),
    "no last newline": '[site.way]\nsteps = 3 # three\n[[fish]]\nkind = "a"\ncount = 2\n[[fish]]\nkind = "b"\nnote.by = "me"\n[tank]\nlength = "118 cm"',
    "indented": (
        'format = 1\n[tank]\n    length = "118 cm"\n  [site]\n  [site.way]\n\tsteps = 3\n  [[fish]]\n    kind = "a"\n'
        '    count = 2\n  [[fish]]\n    kind = "b"\n      [fish.note]\n      by = """\nme"""\n'
    ),
}
WAYS["windows"] = WAYS["headers"].replace("\n", "\r\n")
way = pytest.mark.parametrize("text", WAYS.values(), ids=WAYS)

LEAVES = [
    ("tank", "length"),
    ("tank", "new"),
    ("site", "way", "steps"),
    ("site", "way", "new"),
    ("site", "new"),
    ("site", "lift", "load"),
    ("new",),
    ("other", "deep", "new"),
    ("fish", 0, "kind"),
    ("fish", 0, "count"),
    ("fish", 1, "note", "by"),
    ("fish", 1, "note", "new"),
    ("fish", 1, "new"),
    ("fish", 0, "deep", "new"),
    ("odd key", "with.dot"),
]
CARDS = [("fish",), ("site", "windows"), ("birds",), ("fish", 1, "young"), ("tank", "openings")]
any_text = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=40)
values = st.one_of(
    any_text,
    st.booleans(),
    st.integers(-(2**62), 2**62),
    st.decimals(allow_nan=False, allow_infinity=False, places=3, min_value=-(10**9), max_value=10**9),
    st.dates(min_value=date(1, 1, 1)),
    st.lists(any_text, max_size=4),
    st.dictionaries(any_text, st.integers(0, 9), max_size=3),
)


def edited(plain, path, value):
    """What the reader should find after the edit, worked out on dictionaries."""
    made = copy.deepcopy(plain)
    here = made
    for part in path[:-1]:
        here = here[part] if isinstance(part, int) else here.setdefault(part, {})
    here[path[-1]] = value
    return made


def comments(text):
    """Comments of the texts above, none of which has the sign within a value."""
    return [line.partition("#")[2].strip() for line in text.splitlines() if "#" in line]


def in_order(few, many):
    rest = iter(many)
    return all(item in rest for item in few)


@given(st.sampled_from(sorted(WAYS)), st.sampled_from(LEAVES), values)
def test_what_was_set_is_read_and_all_else_stays(name, path, value):
    text = WAYS[name]
    before = read_text(text)
    if isinstance(value_at(before, path), dict | list):
        return
    after = set_value(text, path, value)
    assert read_text(after) == edited(before, path, list(value) if isinstance(value, tuple) else value)
    untouched = [line for line in text.splitlines() if not (path[-1] in line and "=" in line)]
    if "{" not in text:
        assert in_order(untouched, after.splitlines())


@way
@pytest.mark.parametrize("path", LEAVES)
def test_comments_outlive_setting_and_clearing(text, path):
    changed = set_value(text, path, "x")
    assert in_order(comments(text), comments(changed))
    cleared = clear(changed, path)
    assert in_order(comments(text), comments(cleared))
    assert value_at(read_text(cleared), path) is None


@way
def test_setting_a_value_touches_only_its_own_characters(text):
    assert set_value(text, ("tank", "length"), "46 in") == text.replace('"118 cm"', '"46 in"')
    assert set_value(text, ("site", "way", "steps"), 4) == text.replace("steps = 3", "steps = 4")


@way
@given(
    st.lists(st.tuples(st.sampled_from(["add", "remove", "move"]), st.integers(0, 9), st.integers(0, 9)), max_size=5)
)
def test_cards_are_added_taken_out_and_moved_like_entries_of_a_list(text, steps):
    before = read_text(text)
    fish = copy.deepcopy(before["fish"])
    for what, one, two in steps:
        if what == "add":
            text = add_card(text, ("fish",), {"kind": str(one)})
            fish.append({"kind": str(one)})
        elif fish and what == "remove":
            text = remove_card(text, ("fish",), one % len(fish))
            fish.pop(one % len(fish))
        elif fish:
            text = move_card(text, ("fish",), one % len(fish), two % len(fish))
            fish.insert(two % len(fish), fish.pop(one % len(fish)))
        after = read_text(text)
        assert after.get("fish", []) == fish
        assert {key: after[key] for key in after if key != "fish"} == {
            key: before[key] for key in before if key != "fish"
        }


@way
@pytest.mark.parametrize("path", CARDS)
def test_a_first_card_can_be_added_anywhere(text, path):
    before = read_text(text)
    after = read_text(add_card(text, path, {"kind": "new"}))
    assert after == edited(before, path, [*(value_at(before, path) or []), {"kind": "new"}])


PARTS = [("tank",), ("site",), ("site", "way"), ("fish",), ("fish", 1, "note"), ("fish", 0, "count")]


@way
@given(st.lists(st.sampled_from([*PARTS, ("tank", "length"), ("site", "way", "steps"), ("not", "there")])))
def test_parts_cleared_at_once_are_those_cleared_one_after_the_other(text, gone):
    singly = text
    for path in sorted(gone, key=len):
        singly = clear(singly, path)
    at_once = clear_all(text, gone)
    assert read_text(at_once) == read_text(singly)
    assert comments(at_once) == comments(singly)


@way
@pytest.mark.parametrize("path", PARTS)
def test_a_part_is_cleared_whole_and_alone(text, path):
    before = read_text(text)
    after = read_text(clear(text, path))
    assert value_at(after, path) is None
    parent = value_at(before, path[:-1])
    rest = {key: parent[key] for key in parent if key != path[-1]}
    # A table that was there only by what stood in it goes with it.
    assert (value_at(after, path[:-1]) or {}) == rest
    assert {key: after[key] for key in after if key != path[0]} == {
        key: before[key] for key in before if key != path[0]
    }


@way
def test_none_is_an_answer_of_its_own(text):
    none = set_value(text, ("stones",), [])
    assert read_text(none)["stones"] == []
    assert "stones" not in read_text(clear(none, ("stones",)))
    assert read_text(add_card(none, ("stones",), {"kind": "new"}))["stones"] == [{"kind": "new"}]
    with pytest.raises(BadInput, match="take them out one by one"):
        set_value(text, ("fish",), [])


def test_the_last_card_taken_out_leaves_not_known_yet_and_not_none():
    text = remove_card(remove_card(WAYS["headers"], ("fish",), 0), ("fish",), 0)
    assert "fish" not in read_text(text)


def test_a_comment_above_a_card_moves_with_it_and_stays_when_it_is_taken_out():
    moved = move_card(WAYS["headers"], ("fish",), 1, 0)
    assert moved.index("# more") < moved.index('"b"') < moved.index("# stock") < moved.index('"a"')
    assert "# more" in remove_card(WAYS["headers"], ("fish",), 1)


@pytest.mark.parametrize("path", [("fish", 2, "kind"), ("fish", -1, "kind"), ("birds", 0, "kind")])
@way
def test_a_card_that_is_gone_is_told(text, path):
    with pytest.raises(NotFound, match="no such entry any more"):
        set_value(text, path, "x")
    with pytest.raises(NotFound, match="no such entry any more"):
        remove_card(text, path[:-2], path[-2])


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_an_example_loses_nothing_when_each_of_its_values_is_set_and_cleared(example):
    text = example.read_text(encoding="utf-8")
    plain = tomllib.loads(text)

    def leaves(value, path=()):
        if isinstance(value, dict) and value:
            for key, item in value.items():
                yield from leaves(item, (*path, key))
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            for number, item in enumerate(value):
                yield from leaves(item, (*path, number))
        else:
            yield path, value

    for path, value in list(leaves(plain))[::7]:
        assert tomllib.loads(set_value(clear(text, path), path, value)) == plain or len(path) > 1
        assert tomllib.loads(set_value(text, path, value)) == plain
        lines = set_value(text, path, "x").splitlines()
        changed = [line for line in text.splitlines() if line not in lines]
        assert len(changed) <= (1 if not isinstance(value, list) else len(value) + 2)


def test_values_are_stored_as_they_were_typed():
    text = 'format = 1\nname = "x"\n'
    for path, typed in (
        (("tank", "length"), '46 1/2"'),
        (("tank", "wall"), "3/8 in"),
        (("tank", "height"), "46 elephants"),
    ):
        text = set_value(text, path, typed)
    text = set_value(text, ("price", "client_budget"), Decimal("3400.50"))
    assert 'length = "46 1/2\\""' in text and "client_budget = 3400.50" in text
    assert read_text(text)["tank"]["height"] == "46 elephants"
    job = read_job(clear(text, ("tank", "height")), file_name="x")
    assert job.tank.length_m == pytest.approx(46.5 * 0.0254)


@pytest.mark.parametrize(
    ("hostile", "says"),
    [
        ("".join(f"k{number} = 1\n" for number in range(1_000_000)), "more than the 500,000"),
        ("".join(f"k{number}=1\n" for number in range(30_000)), "more than 20,000 lines or values"),
        ("x" * 50_000_000, "50,000,000 characters"),
        ("a = " + "[" * 100_000, "levels deep"),
        ("a = " + "{a=" * 100_000, "levels deep"),
        (".".join("a" * 100_000) + " = 1", "levels deep"),
        ("[" + ".".join("a" * 100_000) + "]", "levels deep"),
        ('"""' + '\\"""' * 120_000, "not a readable job file"),
        ('a = "' + "\\" * (MOST_CHARACTERS - 10), "not a readable job file"),
        ('a = "\x00"', "not a readable job file"),
        ("a = 1\x07", "not a readable job file"),
        ('b = 1\na = "\ud83d"', "half a character in line 2"),
        ("a = 1" + "0" * 5000, "not a readable job file"),
        ("a = 1\na = 2", "not a readable job file"),
        ("a = 9999-99-99", "not a readable job file"),
    ],
    ids=range(15),
)
def test_a_hostile_text_is_refused_with_a_sentence(hostile, says):
    with pytest.raises(BadInput, match=says):
        read_text(hostile)
    with pytest.raises(BadInput, match=says):
        read_job(hostile, file_name="x")


def test_half_a_character_and_a_book_in_one_field_are_refused():
    for typed, says in (
        ("\ud83d", "half a character"),
        ("x" * 10_001, "10,001 characters"),
        (Decimal("NaN"), "finite"),
    ):
        with pytest.raises(BadInput, match=says):
            set_value("a = 1\n", ("a",), typed)


@given(any_text)
def test_any_text_that_can_be_typed_is_read_back(typed):
    assert tomllib.loads(f"a = {written(typed)}") == {"a": typed}
