"""Sums, rules, accounts and payment codes, against published values and an independent calculation in fractions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from slackwater.invoice.account import is_bic, is_iban
from slackwater.invoice.codes import Category, Kind, unit_code
from slackwater.invoice.issuing import number_of
from slackwater.invoice.model import Address, Buyer, Firm, Seller, Tax, plain
from slackwater.invoice.offered import offered_parts
from slackwater.invoice.rules import faults_of, firm_faults, over_credited
from slackwater.invoice.totals import tax_groups, totals_of
from slackwater.invoice.transfer import NoCode, Transfer, transfer_of
from slackwater.reader import currencies
from tests.invoice.by_rule import cents
from tests.invoice.made import BUYER, FIRM, LESS, SELLER, TAXES, USUAL, credit_note, draft, invoice, line


def sums(*lines, currency="EUR", prepaid="0"):
    return totals_of(lines, currency=currency, prepaid=Decimal(prepaid))


def test_a_published_example_adds_up():
    # The plain example of profile EN 16931 that comes with ZUGFeRD, from memory: 20 x 9.90 at 19 %, 50 x 5.50 at 7 %.
    lines = [line("20", "9.90"), line("50", "5.50", LESS)]
    found = sums(*lines)
    assert [str(value) for value in (found.lines, found.tax, found.gross)] == ["473.00", "56.87", "529.87"]
    assert [(group.basis, group.tax) for group in tax_groups(lines)] == [
        (Decimal("198.00"), Decimal("37.62")),
        (Decimal("275.00"), Decimal("19.25")),
    ]


def test_tax_is_rounded_once_for_each_rate_and_half_away_from_zero():
    # By line 19 % of 0.02 is 0.0038, nothing; of the sum of three it is 0.0114, one cent (BR-CO-17).
    assert sums(*[line("1", "0.02")] * 3).tax == Decimal("0.01")
    # 10 % of 0.05 is 0.005: half a cent goes up, and down below nought.
    ten = Tax(label="ten", category=Category.STANDARD, rate_percent=Decimal(10))
    assert sums(line("1", "0.05", ten)).tax == Decimal("0.01")
    assert sums(line("-1", "0.05", ten)).tax == Decimal("-0.01")
    # Rates that are written otherwise are the same rate.
    same = Tax(label="n", category=Category.STANDARD, rate_percent=Decimal("19.00"))
    assert len(tax_groups([line(), line(tax=same)])) == 1


@pytest.mark.parametrize(
    ("currency", "rounding", "due"), [("EUR", "0.00", "119.60"), ("JPY", "0.40", "120.00"), ("KWD", "0.00", "119.60")]
)
def test_a_currency_without_a_smaller_unit_is_paid_in_whole_ones(currency, rounding, due):
    found = sums(line("1", "109.75", TAXES["Z"]), line("1", "10", TAXES["Z"]), currency=currency, prepaid="0.15")
    assert (str(found.rounding), str(found.due)) == (rounding, due)


money = st.decimals(0, 10**6, places=4)
quantities = st.decimals(-1000, 1000, places=3)
rates = st.sampled_from(["0.1", "2.5", "7", "19", "19.00", "21.25", "100"])


@given(st.lists(st.tuples(quantities, money, rates), min_size=1, max_size=12), st.decimals(0, 100, places=2))
def test_sums_are_those_of_fractions(rows, prepaid):
    lines = [
        line(str(quantity), str(price), Tax(label="x", category=Category.STANDARD, rate_percent=Decimal(rate)))
        for quantity, price, rate in rows
    ]
    by_rate: dict[Fraction, Fraction] = {}
    for quantity, price, rate in rows:
        by_rate[Fraction(rate)] = by_rate.get(Fraction(rate), Fraction(0)) + cents(Fraction(quantity) * Fraction(price))
    net, tax = sum(by_rate.values()), sum(cents(basis * rate / 100) for rate, basis in by_rate.items())
    found = sums(*lines, prepaid=str(prepaid))
    assert tuple(map(Fraction, (found.lines, found.basis, found.tax, found.gross))) == (net, net, tax, net + tax)
    assert Fraction(found.due) == net + tax - Fraction(prepaid)
    assert all(-value.as_tuple().exponent <= 2 for value in (found.lines, found.tax, found.gross, found.due))


@given(
    st.decimals(0, 10**6, places=2),
    st.dictionaries(
        st.sampled_from(["labour:a", "labour:b", "office", "materials", "travel", "visits", "waste", "overhead"]),
        st.decimals(0, 10**5, places=2),
    ),
)
def test_the_parts_of_an_offer_add_up_to_it_and_lie_within_a_cent_of_their_share(price, costs):
    parts = offered_parts(price, costs)
    assert sum(parts.values()) == price
    groups = {"work": ["labour:a", "labour:b", "office"], "goods": ["materials"]}
    direct = sum((Fraction(value) for name, value in costs.items() if name != "overhead"), Fraction(0))
    for group, names in groups.items() if direct else ():
        exact = Fraction(price) * sum((Fraction(costs.get(name, 0)) for name in names), Fraction(0)) / direct
        assert abs(Fraction(parts.get(group, Decimal(0))) - exact) < Fraction(1, 100)


def test_an_offer_without_a_calculation_is_one_line():
    assert offered_parts(Decimal("99.90"), {"overhead": Decimal(9)}) == {"work": Decimal("99.90")}


# Examples of the IBAN registry (SWIFT), and a sign changed in each way that people change one.
@pytest.mark.parametrize("iban", ["GB82WEST12345698765432", "DE89370400440532013000", "FR1420041010050500013M02606"])
def test_published_ibans_are_taken_and_every_other_digit_is_noticed(iban):
    assert is_iban(iban)
    for at in range(4, len(iban)):
        for sign in "0123456789":
            assert is_iban(iban[:at] + sign + iban[at + 1 :]) == (sign == iban[at])
    assert not is_iban(iban[:-1]) and not is_iban(iban.lower()) and not is_iban("")


def test_bics_have_8_or_11_signs():
    assert is_bic("COBADEFF") and is_bic("COBADEFFXXX")
    assert not any(map(is_bic, ("COBADE", "COBADEFFXX", "1234567", "")))


def test_a_payment_code_asks_for_what_is_due_in_euro_only():
    found = transfer_of(invoice(line("1", "100"), prepaid=Decimal("19")))
    assert found == Transfer(
        name="Still Water Ltd", iban=SELLER.iban, bic="COBADEFFXXX", amount=Decimal("100.00"), text="2027-0001"
    )
    assert transfer_of(invoice(line(), currency="CHF")) is NoCode.CURRENCY
    assert transfer_of(invoice(line("1", "0"))) is NoCode.AMOUNT
    assert transfer_of(invoice(line("1000000", "1000000"))) is NoCode.AMOUNT
    assert transfer_of(credit_note(line())) is NoCode.CREDIT
    broken = FIRM.model_copy(update={"seller": SELLER.model_copy(update={"iban": "DE00"})})
    assert transfer_of(invoice(line(), firm=broken)) is NoCode.ACCOUNT


@given(st.text(max_size=300))
def test_no_name_breaks_the_form_of_a_payment_code(name):
    firm = FIRM.model_copy(update={"seller": SELLER.model_copy(update={"name": name})})
    found = transfer_of(invoice(line(), firm=firm, number="X" * 20 + "2027-0001"))
    assert isinstance(found, Transfer)
    assert len(found.name) <= 70 and "\n" not in found.name
    fields = ["BCD", "002", "1", "SCT", found.bic, found.name, "X" * 34, "EUR999999999.99", "", "", found.text]
    assert len("\n".join(fields).encode()) <= 331


def test_each_missing_fact_of_the_firm_is_told_by_itself():
    told = {fault.id for fault in firm_faults(Firm())}
    assert told == {
        *("firm_name_missing", "firm_address_missing", "firm_country_missing", "firm_tax_id_missing"),
        *("firm_iban_missing", "firm_currency_missing", "firm_tax_missing"),
    }
    assert firm_faults(FIRM) == ()
    for name, fault in (("name", "firm_name_missing"), ("iban", "firm_iban_missing")):
        less = FIRM.model_copy(update={"seller": SELLER.model_copy(update={name: ""})})
        assert [found.id for found in firm_faults(less)] == [fault]


@pytest.mark.parametrize(
    ("tax", "fault"),
    [
        (USUAL.model_copy(update={"rate_percent": Decimal(0)}), "rate_needed"),  # BR-S-05
        (USUAL.model_copy(update={"reason": "why"}), "reason_unwanted"),  # BR-S-10
        (TAXES["Z"].model_copy(update={"rate_percent": Decimal(1)}), "rate_nought"),  # BR-Z-05
        (TAXES["E"].model_copy(update={"reason": ""}), "reason_needed"),  # BR-E-10
        (TAXES["AE"].model_copy(update={"reason": ""}), "reason_needed"),  # BR-AE-10
        (TAXES["O"].model_copy(update={"rate_percent": Decimal(19)}), "rate_nought"),  # BR-O-05
    ],
)
def test_a_tax_that_its_category_does_not_allow_is_told(tax, fault):
    firm = FIRM.model_copy(update={"taxes": (tax,)})
    assert f"firm_{fault}" in [found.id for found in firm_faults(firm)]
    assert f"lines_tax_{fault}" in [found.id for found in faults_of(draft(line(tax=tax)), FIRM)]


@pytest.mark.parametrize(
    ("made", "fault"),
    [
        (draft(), "lines_none"),  # BR-16
        (draft(line("0")), "lines_quantity"),
        (draft(line("1", "-1"), line("9")), "lines_price"),  # BR-27
        (draft(line(text="")), "lines_text"),  # BR-25
        (draft(line(unit="furlong")), "lines_unit"),
        (draft(line("-1"), line("1", "99")), "head_less_than_nothing"),
        (draft(line(), prepaid=Decimal("119.01")), "head_prepaid"),
        (draft(line(), prepaid=Decimal("-1")), "head_prepaid"),
        (draft(line(), currency="cr"), "head_currency"),
        (draft(line(), delivered_on=None), "head_delivered_missing"),
        (draft(line(), buyer=Buyer(address=BUYER.address)), "head_name_missing"),  # BR-7
        (
            draft(line(), buyer=Buyer(name="A", address=Address(line_one="1", city="B"))),
            "head_country_missing",
        ),  # BR-11
        (draft(line(), buyer=BUYER.model_copy(update={"vat_id": "1"})), "head_vat_id"),  # BR-CO-9
        (draft(line(tax=TAXES["AE"])), "head_vat_id_needed"),  # BR-AE-02
        (draft(line(tax=TAXES["O"]), line()), "lines_outside_mixed"),  # BR-O-11
        (draft(line(), kind=Kind.CREDIT_NOTE), "head_corrects_missing"),  # BR-55
        (draft(*[line()] * 1001), "lines_too_many"),
    ],
)
def test_each_fault_of_a_draft_is_told_and_is_the_only_one(made, fault):
    assert [found.id for found in faults_of(made, FIRM)] == [fault]


def test_a_sound_draft_has_no_fault_a_free_line_and_something_taken_off_included():
    assert faults_of(draft(line(), line("1", "0"), line("-1", "10"), prepaid=Decimal("107.10")), FIRM) == ()
    assert faults_of(draft(*[line()] * 1000), FIRM) == ()


def test_what_needs_numbers_of_the_firm_says_so():
    no_vat = FIRM.model_copy(update={"seller": SELLER.model_copy(update={"vat_id": ""})})
    assert [found.id for found in faults_of(draft(line(tax=TAXES["G"])), no_vat)] == ["firm_vat_id_needed"]
    only_vat = FIRM.model_copy(update={"seller": SELLER.model_copy(update={"tax_number": ""})})
    assert [found.id for found in faults_of(draft(line(tax=TAXES["O"])), only_vat)] == ["firm_tax_number_needed"]


def test_a_credit_note_gives_back_at_most_what_is_left():
    note = draft(line("1", "100"), kind=Kind.CREDIT_NOTE)
    assert over_credited(note, invoiced=Decimal("200"), credited=Decimal("81")) is None
    assert over_credited(note, invoiced=Decimal("200"), credited=Decimal("81.01")).id == "lines_over_credited"


def test_small_things():
    assert number_of(FIRM, year=2027, n=7) == "2027-0007"
    assert number_of(FIRM.model_copy(update={"number_prefix": "SW-"}), year=2027, n=12345) == "SW-2027-12345"
    assert (unit_code("bag of 9 L"), unit_code("L"), unit_code("thing"), unit_code("")) == ("XBG", "LTR", "H87", "H87")
    assert "EUR" in currencies() and "cr" not in currencies() and "XXX" not in currencies()
    assert plain(" a\x00b\x07\ud800\ufffe\nc\u200f ") == "ab\nc\u200f"
    assert Seller(name="\x01x").name == "x"
