"""The offer: options to choose from, a place to accept in, nothing of the firm's own reckoning; what changed between two."""

from __future__ import annotations

from decimal import Decimal
from string import Formatter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from slackwater import plan as planning
from slackwater.actions.plan_job import Written
from slackwater.cli.show import print_plan
from slackwater.finding import Finding, Severity, Verdict
from slackwater.paper.data import FOR_THE_CLIENT, paper_data
from slackwater.paper.offer_change import offer_changes
from slackwater.paper.offer_page import offer_facts, option_data, risk_data
from slackwater.paper.write import write_papers
from slackwater.plan import with_options
from slackwater.reader import ENGLISH
from slackwater.wording.render import sentences
from tests.jobs import job_from
from tests.plans import HARDLY, catalog, plan_of

OPTIONS = [{"name": "Good #1 *plain*", "changes": ["fewer_plants"]}, {"name": "Better"}]


def found():
    return plan_of("light-well", effort=HARDLY)


def optioned(**facts):
    """A plan with two options, the first of which was planned as one that fits."""
    job = job_from("light-well", **{"price.options": OPTIONS, **facts})
    plan = found().model_copy(update={"options": ()})
    with pytest.MonkeyPatch.context() as patch:
        asked = []

        def planned(varied, *_args, **_rest):
            asked.append(varied)
            return plan.model_copy(update={"verdict": Verdict.FITS, "findings": ()})

        patch.setattr(planning, "plan", planned)
        return job, with_options(plan, job, catalog()), asked


def test_each_option_that_changes_something_is_planned_as_a_job_of_its_own():
    _, plan, asked = optioned()
    # The second is the job as it stands, whose plan is there already.
    assert [varied.plants for varied in asked] == [
        job_from(
            "light-well", **{f"plants.{n}.units": units for n, units in enumerate([10, 6, 4, 5, 4, 4, 6, 4, 2])}
        ).plants
    ]
    good, better = plan.options
    assert (good.plants, better.plants, good.verdict) == (45, 60, Verdict.FITS)
    assert better.price == plan.supply.price and better.verdict == plan.verdict and not better.adds
    assert {finding.id for finding in good.spares} <= {finding.id for finding in plan.findings} and good.spares


def test_the_offer_lets_the_client_choose_and_accept_and_keeps_the_reckoning_out(tmp_path):
    wishes = [f"wish number {n}" for n in range(1000)]
    job, plan, _ = optioned(**{"brief.wishes": wishes, "client": "Hotel #1 *Quay*", "price.tax_share": 0.19})
    write_papers(plan, job, catalog(), tmp_path / "out", reader=ENGLISH)
    pages = [page.extract_text() for page in PdfReader(tmp_path / "out" / "offer.pdf").pages]
    text = " ".join("\n".join(pages).split())
    assert "wish number 0" in text and "wish number 999" in text and len(pages) > 15
    last = " ".join(pages[-1].split())
    for needed in ("Accepted by", "name in capitals", "signature", "date", "option"):
        assert needed in last
    # What was typed is no markup, and one option that fits is enough for a sheet to choose from.
    assert "Good #1 *plain*" in text and "Two thirds of the plants" in text and "45 pots, cups and portions" in text
    assert "Not an offer yet" not in text and "the plan of this option does not fit" in text
    assert "A further visit of the same kind" in text
    # Whom it is for, and at what rate the tax was reckoned.
    assert "Hotel #1 *Quay*" in " ".join(pages[0].split()) and "tax (19 %)" in text.replace("\u00a0", " ")
    for own in ("margin", "overhead", "floor, before tax", "risk", "lose money"):
        assert own not in text.lower(), own


def test_each_option_names_what_is_paid_before_the_day():
    job, plan, _ = optioned(**{"price.deposit_share": 0.25})
    offer = paper_data(plan, job, catalog(), ENGLISH)["offer"]
    assert offer["deposit"] == ""
    for told, option in zip(offer["options"], plan.options, strict=True):
        quarter = (option.price.total / 4).quantize(Decimal("0.01"))
        assert f"25 %, {quarter} {option.price.currency}" in told["deposit"].replace("\u202f", "")


def test_without_options_there_is_one_price_to_accept():
    data = paper_data(found(), job_from("light-well"), catalog(), ENGLISH)["offer"]
    assert data["options"] == [] and data["total"] and data["words"]["accepted"] == "Accepted by"


@pytest.mark.parametrize(
    ("share", "told"), [(None, ""), (0.081, " (8.1\u00a0%)"), (0.19, " (19\u00a0%)"), (0, " (0\u00a0%)")]
)
def test_the_rate_of_the_tax_stands_beside_it(share, told):
    job = job_from("light-well", **{"price.tax_share": share})
    assert paper_data(found(), job, catalog(), ENGLISH)["offer"]["tax_rate"] == told


AMOUNTS = st.dictionaries(st.sampled_from("abcdef"), st.decimals(0, 9999, places=2), max_size=6)


def laid(amounts, currency="EUR", texts=(), counts=()):
    return {
        "currency": currency,
        "amounts": [[name, f"{amount}"] for name, amount in amounts.items()],
        "counts": [list(pair) for pair in counts],
        "texts": list(texts),
    }


@given(AMOUNTS, AMOUNTS)
def test_what_changed_adds_up_from_one_offer_to_the_other(before, after):
    told = offer_changes(laid(before), laid(after))["amounts"]
    assert {name for name, *_ in told} == {name for name in {**before, **after} if before.get(name) != after.get(name)}
    for name, _, _, difference in told:
        if difference:
            assert before[name] + Decimal(difference.replace("\u202f", "")) == after[name]
        else:
            assert (name in before) != (name in after)


def test_an_offer_against_itself_has_not_changed_and_other_money_is_not_subtracted():
    one = laid({"Travel": Decimal("10.00")}, texts=["A"], counts=[("soil", 4)])
    assert not any(offer_changes(one, one).values())
    other = laid({"Travel": Decimal("10.00")}, currency="cr", texts=["B"], counts=[("soil", 6)])
    changed = offer_changes(one, other)
    assert changed["amounts"] == [["Travel", "10.00 EUR", "10.00 cr", ""]]
    assert changed["counts"] == [["soil", "4", "6", "+2"]]
    assert (changed["gone"], changed["new"]) == (["A"], ["B"])


def test_the_facts_of_an_offer_hold_its_total_and_the_conditions_of_the_client():
    plan = found()
    condition = Finding(id="tank.floor_unknown", severity=Severity.CONDITION)
    facts = offer_facts(plan, ENGLISH, FOR_THE_CLIENT)
    assert ["Total with tax", f"{plan.supply.price.total}"] in facts["amounts"]
    more = plan.model_copy(update={"findings": (*plan.findings, condition)})
    assert len(offer_facts(more, ENGLISH, FOR_THE_CLIENT)["texts"]) == len(facts["texts"]) + 1


def test_the_terminal_shows_floor_prices_options_and_what_changed(tmp_path, capsys):
    _, plan, _ = optioned()
    before = offer_facts(found(), ENGLISH, FOR_THE_CLIENT)
    written = Written(
        plan=plan,
        folder=tmp_path,
        papers=(),
        carried=risk_data(plan, ENGLISH),
        options=option_data(plan, ENGLISH),
        changed=offer_changes(before, offer_facts(plan, ENGLISH, FOR_THE_CLIENT)),
    )
    print_plan(written, ENGLISH)
    shown = " ".join(capsys.readouterr().out.split())
    odds = plan.supply.price.odds
    for amount in (odds.floor, *(item.total for item in odds.carried), plan.supply.price.visit.each):
        assert f"{amount:,.2f}".replace(",", " ") in shown
    for needed in ("What the price carries", "No risk is chosen", "Good #1 *plain*", "Option Better, total with tax"):
        assert needed in shown


@pytest.mark.parametrize("finding_id", sorted(FOR_THE_CLIENT))
def test_a_condition_speaks_to_the_client_of_what_the_finding_knows(finding_id):
    def filled(name):
        return {field for _, field, _, _ in Formatter().parse(str(sentences()[name])) if field}

    told = str(sentences()[f"client.{finding_id}"])
    assert filled(f"client.{finding_id}") <= filled(f"finding.{finding_id}")
    assert "the client" not in told.lower() and any(word in told.lower() for word in ("we ", "your", "please", "you "))
