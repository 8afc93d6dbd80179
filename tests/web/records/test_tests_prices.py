"""Water tests and prices through the app: as typed, told beside the field, corrected by later ones; on both databases."""

from __future__ import annotations

import re
from datetime import date

import pytest

from slackwater.actions import pricing, testing
from slackwater.book import prices, water_tests
from tests.book.places import one_of_each
from tests.web.records.conftest import AT, NONE, SCRIPT, body, once


@pytest.fixture
def known(office):
    return one_of_each(office.book)


def kept_tests(office, known):
    return water_tests.of_tank(office.book, known.tank)


# ---------------------------------------------------------------- water tests


def test_without_a_test_the_page_says_so_and_draws_nothing(call, known):
    page = call.get(f"/tanks/{known.tank}/tests").text
    assert "No water test yet" in page
    assert "over-time.svg" not in page
    assert call.get(f"/tanks/{known.tank}/tests/over-time.svg").status_code == 404


def test_readings_are_read_in_the_units_they_were_typed_in(call, office, known):
    # 76 F = (76 - 32) / 1.8 C; 1 degree of hardness = 17.848 mg/L CaCO3 (DIN 38409-6); below 0.02 counts as its half.
    sent = {
        "temp_c": "76 F", "ph": "7,2", "hardness_dgh": "250 ppm CaCO3", "nitrite_n_mg_l": "< 0.02 mg/L",
        "alkalinity_dkh": "4 ± 0.5 dKH", "copper_ug_l": "0.012 mg/L", "at": AT, "note": SCRIPT,
    }  # fmt: skip
    sent["once"] = once(call.get(f"/tanks/{known.tank}/tests").text)
    for _ in range(2):
        answer = call.post(f"/tanks/{known.tank}/tests", data=sent)
        assert answer.status_code == 303
    (test,) = kept_tests(office, known)
    assert test.readings == pytest.approx(
        {
            "temp_c": 44 / 1.8, "ph": 7.2, "hardness_dgh": 250 / 17.848, "nitrite_n_mg_l": 0.01,
            "alkalinity_dkh": 4, "copper_ug_l": 12,
        },
        rel=1e-3,
    )  # fmt: skip
    page = call.get(f"/tanks/{known.tank}/tests").text
    assert "Temperature 24.4 °C" in page
    assert "<script>alert" not in page
    assert "Temperature 76 °F" in call.get(f"/tanks/{known.tank}/tests", headers={"cookie": "units=us"}).text


@pytest.mark.parametrize(
    ("name", "typed", "said"),
    [
        ("temp_c", "24", "with its unit is expected"),
        ("temp_c", "99 C", "expected 0 °C to 45 °C"),
        ("hardness_dgh", "12 kg", "does not measure"),
        ("nitrate_mg_l", "10 mg/L\x00", "a sign that no page can show"),
        ("ph", "neutral", "A number is expected"),
        ("ph", "nan", "expected 3 to 11"),
        ("ph", "1e999", "expected 3 to 11"),
        ("at", "yesterday", "A date with a time"),
    ],
)
def test_a_reading_that_cannot_be_used_is_told_beside_its_field_and_nothing_is_lost(
    call, office, known, name, typed, said
):
    sent = {"conductivity_us_cm": "560 uS/cm", "note": "kit 7", "at": AT, name: typed}
    answer = call.post(f"/tanks/{known.tank}/tests", data=sent)
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="560 uS/cm"' in answer.text
    assert "kit 7" in answer.text
    assert kept_tests(office, known) == []


def test_an_empty_test_is_told(call, office, known):
    answer = call.post(f"/tanks/{known.tank}/tests", data={"at": AT})
    assert answer.status_code == 422
    assert "Enter at least one" in answer.text
    assert kept_tests(office, known) == []


def test_a_job_shows_the_tests_of_its_tank_and_two_make_a_drawing(call, office, known):
    for day, degrees in (("01", "24 C"), ("08", "26 C")):
        call.post(f"/jobs/{known.job}/tests", data={"temp_c": degrees, "at": f"2027-01-{day}T10:00"})
    page = call.get(f"/tanks/{known.tank}/tests").text
    assert "Temperature from 24 °C to 26 °C" in page
    rows = re.findall(r'<th scope="row">([^<]+)</th><td[^>]*>([^<]+)</td>', page)
    assert rows == [("08 Jan 2027 10:00", "26 °C"), ("01 Jan 2027 10:00", "24 °C")]
    answer = call.get(f"/jobs/{known.job}/tests/over-time.svg")
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert "Temperature" in answer.text
    assert "script-src" not in answer.headers["content-security-policy"]


def test_a_corrected_test_stays_in_the_list_and_leaves_the_drawing(call, office, known):
    at = f"/tanks/{known.tank}/tests"
    for day, degrees in (("01", "24 C"), ("08", "42 C")):
        call.post(at, data={"temp_c": degrees, "at": f"2027-01-{day}T10:00"})
    wrong = kept_tests(office, known)[1].id
    assert f'name="corrects" value="{wrong}"' in call.get(f"{at}?corrects={wrong}").text
    answer = call.post(at, data={"temp_c": "24.2 C", "at": "2027-01-08T10:00", "corrects": wrong})
    assert answer.status_code == 303
    page = call.get(at).text
    assert "corrected by a later entry" in page
    assert "from 24 °C to 24.2 °C" in page
    assert "42 °C" in page


def test_what_is_not_there_and_another_tanks_test_read_the_same(call, office, known):
    theirs = one_of_each(office.book, name="Other", text='name = "theirs"\n')
    call.post(f"/tanks/{theirs.tank}/tests", data={"ph": "7", "at": AT})
    test = kept_tests(office, theirs)[0].id
    answers = [
        call.get(f"/tanks/{NONE}/tests"),
        call.get(f"/jobs/{NONE}/tests"),
        call.post(f"/tanks/{known.tank}/tests", data={"ph": "7", "at": AT, "corrects": test}),
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert len({body(answer) for answer in answers}) == 1
    assert kept_tests(office, known) == []


def test_a_test_from_another_page_is_refused(call, office, known):
    sent = {"ph": "7", "at": AT}
    answer = call.post(f"/tanks/{known.tank}/tests", data=sent, headers={"origin": "https://example.org"})
    assert answer.status_code == 403
    assert kept_tests(office, known) == []


def test_every_reading_has_a_label_and_an_example_that_is_read(office, known):
    from slackwater.wording.render import sentences

    place = testing.place_of_tank(office, known.tank)
    examples = {
        name: str(sentences()[f"records.reading_example.{name}"]).partition(" or ")[0] for name in testing.READABLE
    }
    kept = testing.enter_test(office, place, {**examples, "at": AT}, "metric")
    assert set(kept.readings) == set(testing.READABLE)
    assert {f"records.reading.{name}" for name in testing.READABLE} <= set(sentences())


# ---------------------------------------------------------------- prices

PRICE = {"item": "stone_kg", "amount": "12,50", "currency": "eur", "unit": "kg", "valid_from": "2027-01-01"}


def test_a_price_holds_from_its_day_and_older_ones_stay(call, office):
    assert "No price yet" in call.get("/prices").text
    for changed in ({}, {"amount": "13", "valid_from": "2027-03-01"}, {"amount": "11.75", "valid_from": "2026-06-01"}):
        assert call.post("/prices", data={**PRICE, **changed}).status_code == 303
    (line,) = pricing.held(office)
    assert (pricing.amount(line.now), pricing.amount(line.coming)) == ("12.50 EUR", "13.00 EUR")
    assert prices.on_day(office.book, date(2026, 12, 31))["stone_kg"].amount_minor == 1175
    page = call.get("/prices?item=stone_kg").text
    assert page.index("13.00 EUR") < page.index("12.50 EUR") < page.index("11.75 EUR")


def test_a_price_sent_twice_is_kept_once_and_its_words_are_text(call, office):
    sent = {**PRICE, "item": SCRIPT, "supplier": "x" * 300, "once": once(call.get("/prices").text)}
    for _ in range(2):
        assert call.post("/prices", data=sent).status_code == 303
    assert len(prices.of_item(office.book, SCRIPT)) == 1
    page = call.get("/prices").text
    assert "<script>alert" not in page
    assert "&lt;script&gt;" in page


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"amount": "1,250"}, "could mean a thousand"),
        ({"amount": "-3"}, "-3 was given; 0 or more is expected"),
        ({"amount": "−3.50"}, "0 or more is expected"),
        ({"currency": "XYZ"}, "three letters of a currency in use"),
        ({"amount": "12.505"}, "An amount is expected"),
        ({"amount": "12.5", "currency": "JPY"}, "An amount is expected"),
        ({"currency": "credits"}, "Three letters"),
        ({"valid_from": "spring"}, "A date is expected"),
        ({"item": ""}, "This is needed"),
        ({"amount": "9" * 40}, "An amount is expected"),
    ],
)
def test_a_price_that_cannot_be_kept_is_told_and_nothing_is_lost(call, office, changed, said):
    answer = call.post("/prices", data={**PRICE, "supplier": "Stone yard", **changed})
    assert answer.status_code == 422
    assert said in answer.text
    assert "Stone yard" in answer.text
    assert pricing.held(office) == []


def test_a_currency_without_cents_is_kept_whole(office):
    price = pricing.set_price(office, {**PRICE, "amount": "1200", "currency": "JPY"})
    assert (price.amount_minor, pricing.amount(price)) == (1200, "1200 JPY")


def test_an_item_without_a_price_and_a_price_from_elsewhere_are_refused(call, office):
    assert call.get("/prices?item=nothing").status_code == 404
    assert call.post("/prices", data=PRICE, headers={"origin": "https://example.org"}).status_code == 403
    assert pricing.held(office) == []
