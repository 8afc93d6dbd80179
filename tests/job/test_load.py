"""Job files are read whole, or refused with the line, the key, the value and what was expected."""

from pathlib import Path

import pytest

from slackwater.errors import BadInput
from slackwater.job.load import read_job
from slackwater.job.positions import key_lines
from slackwater.job.starter import starter_text
from tests.jobs import EXAMPLES, job_from

HEAD = 'format = 1\nname = "x"\n'


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.stem)
def test_each_example_is_read(path: Path):
    assert read_job(path.read_text(encoding="utf-8"), file_name=path.name).tank.length_m is not None


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty; begin with `slackwater new"),
        ("format = ", "not a readable job file"),
        ('name = "x"\n', "format: is missing"),
        (HEAD + "[tank]\nlength = 118\n", "line 4: tank.length: 118 was given; a length with its unit"),
        (HEAD + "[tank]\nlength = 1.18\n", "line 4: tank.length: 1.18 was given; a length with its unit"),
        (HEAD + '[tank]\nheight = "-46 cm"\n', 'line 4: tank.height: "-46 cm" was given; more than 0'),
        (HEAD + '[tank]\nlength = "118 kg"\n', "does not measure a length"),
        (HEAD + '[tank]\nwidht = "1 m"\n', "line 4: tank.widht: is not a key known here; did you mean width?"),
        (HEAD + '[[livestock]]\nspecies = "x"\ncount = "some"\n', 'line 5: livestock\\[1\\].count: "some" was given'),
        (HEAD + '[[livestock]]\nspecies = "x"\ncount = "9-3"\n', "runs backwards"),
        (HEAD + '[[livestock]]\nspecies = "x"\ncount = "2 ± 5"\n', "fewer than none"),
        (HEAD + '[[livestock]]\nspecies = "x"\ncount = -4\n', "0 or more"),
        (HEAD + '[[site.windows]]\nstart = "soon"\nend = "2027-01-01 10:00"\n', "line 4: site.windows\\[1\\].start"),
        (HEAD + '[[people]]\nid = "a"\nbreak_from = "25:00"\n', 'a time of day is expected, such as "22:30"'),
        (HEAD + '[bed.shape]\nform = "mound"\nedge = "4 cm"\n', 'a bed of form "mound" needs top'),
        (HEAD + "[target]\nph_low = 7\nph_high = 6\n", "ph_low is above ph_high"),
        (HEAD + '[[site.windows]]\nstart = 2027-02-10T06:30:00+01:00\nend = "2027-02-10 10:00"\n', "without an offset"),
    ],
)
def test_a_fault_names_line_key_value_and_what_was_expected(text, says):
    with pytest.raises(BadInput, match=says):
        read_job(text, file_name="my.toml")


def test_all_faults_are_told_at_once_in_the_order_of_the_file():
    text = HEAD + '[[people]]\nid = 3\n[tank]\nlength = "42"\nwidth = "1 kg"\n'
    with pytest.raises(BadInput) as caught:
        read_job(text, file_name="my.toml")
    lines = [int(fault.split("line ")[1].split(":")[0]) for fault in str(caught.value).splitlines()]
    assert lines == [4, 6, 7]


def test_uncounted_animals_are_not_zero_animals():
    uncounted = job_from("blue-corridor").livestock[6].count
    assert (uncounted.low, uncounted.high, uncounted.counted) == (None, None, False)
    assert job_from("blue-corridor", **{"livestock.6.count": 0}).livestock[6].count.counted


def test_each_key_of_the_examples_is_found_on_its_own_line():
    for path in EXAMPLES.glob("*.toml"):
        text = path.read_text(encoding="utf-8")
        lines = text.splitlines()
        for key, line in key_lines(text).items():
            assert str([part for part in key if isinstance(part, str)][-1]) in lines[line - 1]


def test_keys_behind_a_value_of_many_lines_keep_their_line():
    text = 'a = [\n  "x = 1",\n  "[no.table]",\n]\n[b]\nc = """\n[d]\n"""\ne = 2\n'
    assert key_lines(text) == {("a",): 1, ("b",): 5, ("b", "c"): 6, ("b", "e"): 9}


def test_the_starter_file_can_be_read_at_once_and_after_uncommenting_every_line():
    import re

    starter = starter_text("my tank")
    assert read_job(starter, file_name="new.toml").name == "my tank"
    uncommented = re.sub(r"^# (?=\[|[a-z_]+ = )", "", starter, flags=re.M)
    for alternative in ("livestock = []", "stones = []", "wood = []", "salts = []", "footprint = "):
        uncommented = "\n".join(line for line in uncommented.splitlines() if not line.startswith(alternative))
    job = read_job(uncommented, file_name="new.toml")
    assert job.livestock is not None and job.preparation.ro is not None and job.tank.length_m == 1.18


@pytest.mark.parametrize(("told", "kept"), [("eur", "EUR"), (" USD ", "USD"), ("CR", "cr"), ("cr", "cr")])
def test_a_currency_in_use_is_read_in_any_case(told, kept):
    assert read_job(f'format = 1\nname = "x"\n[price]\ncurrency = "{told}"\n', file_name="f").price.currency == kept


@pytest.mark.parametrize("told", ["XYZ", "XAU", "DEM", "€", ""])
def test_what_is_no_currency_in_use_is_refused(told):
    with pytest.raises(BadInput, match=f'"{told}" was given; three letters of a currency in use are expected'):
        read_job(f'format = 1\nname = "x"\n[price]\ncurrency = "{told}"\n', file_name="f")
