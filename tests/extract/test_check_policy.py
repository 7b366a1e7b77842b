"""The limits, their sources, and what a firm may put in their place."""

import math

import pytest

from extract.check import check
from extract.check.policy import load_policy, overridden
from extract.errors import UsageError
from extract.record import Record


def test_every_limit_has_a_source_that_goes_with_its_mark():
    for name, limit in load_policy().limits.items():
        assert limit.why, name
        assert (limit.source == "common practice") == (limit.mark == "common practice"), name
        assert ("from memory" in limit.citation()) == (limit.mark == "from memory"), name


def test_a_citation_names_standard_edition_and_section():
    limit = load_policy().limits["min_slope_8_in_up_pct"]
    assert load_policy().source("min_slope_8_in_up_pct") == f"{limit.source}, {limit.edition}, {limit.section}"


def test_an_override_takes_the_place_of_a_value_and_of_its_source():
    policy = load_policy({"drop_in": 1})
    assert (policy["drop_in"], policy.source("drop_in")) == (1.0, "company policy")
    assert load_policy()["drop_in"] == 0.35


def test_what_was_overridden_stands_beside_the_limit_as_shipped():
    own = overridden({"cover_car_in": 18, "drop_in": 1})
    assert [(item.name, item.value, item.shipped.value) for item in own] == [
        ("drop_in", 1.0, 0.35),
        ("cover_car_in", 18.0, 24.0),
    ]
    assert own[1].shipped.citation().startswith("Tamalpais")
    assert overridden({}) == []


def test_an_unknown_name_is_refused_with_the_names_there_are():
    with pytest.raises(UsageError, match=r"no limit named 'min_slop'; there is .*min_slope_3_to_6_in_pct"):
        check(Record(), {"min_slop": 1.0})


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, -1, 1e9, "2", True])
def test_a_value_that_is_no_limit_is_refused(value):
    with pytest.raises(UsageError, match="policy limit drop_in is .*give a number from 0 to 10,000"):
        check(Record(), {"drop_in": value})


def test_a_share_is_no_more_than_the_whole():
    with pytest.raises(UsageError, match="from 0 to 1"):
        load_policy({"grate_clogging": 50})
