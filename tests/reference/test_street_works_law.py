"""The times that statutes of three countries set, read at the addresses given.

- England: New Roads and Street Works Act 1991 s.70(3) and (4) (legislation.gov.uk/ukpga/1991/22, part III, reinstatement, as of
  5 March 2015: 10 working days, 6 months); S.I. 2007/1951 reg. 17(2) puts 10 for 7 "as respects England".
- Wales: Traffic Management Act 2004 s.54 (legislation.gov.uk/ukpga/2004/18/section/54: 7 working days, 6 months, in force for
  Wales from 1 April 2008); S.I. 2008/540 reg. 11(2): 5 years after reconstruction, 3 after resurfacing.
- Scotland: s.129(3) and (4) of the 1991 Act (as of 26 November 2007: before the end of the next working day, six months);
  S.S.I. 2023/33 reg. 19(10) (two working hours) and 19(8) (three years after resurfacing of a carriageway, one of a footway);
  SROR, 5th edition (hauc-uk.org.uk/documents/sror-5th-edition-october-2023: a guarantee of six years).
"""

import pytest

from pipeline.audit import bind_rules
from pipeline.programme.catalogue import load_catalogue
from pipeline.programme.settings import Thresholds


@pytest.mark.parametrize(
    ("code", "slug", "limits"),
    [
        ("england", "notice-late", {"max_delay": "10 working day"}),
        ("wales", "notice-late", {"max_delay": "7 working day"}),
        ("scotland", "notice-late", {"max_delay": "1 working day"}),
        ("england", "interim-too-old", {"max_interim": "6 month"}),
        ("wales", "interim-too-old", {"max_interim": "6 month"}),
        ("scotland", "interim-too-old", {"max_interim": "6 month"}),
        ("wales", "street-protected", {"protection": "3 year"}),
        ("scotland", "street-protected", {"protection": "3 year"}),
    ],
)
def test_a_country_has_the_times_of_its_own_law(code, slug, limits):
    bound = next(
        one for one in bind_rules(load_catalogue({}, "test", Thresholds(code=code)), "test") if one.rule.slug == slug
    )
    assert bound.written() == limits
    assert {setting.origin for setting, _ in bound.settings} == {"shipped", f"code {code}"}


def test_scotlands_guarantee_is_six_years_and_its_footways_are_protected_for_one():
    rules = {one.rule.slug: one for one in bind_rules(load_catalogue({}, "test", Thresholds(code="scotland")), "test")}
    assert rules["guarantee-ending"].written()["guarantee"] == "6 year"
    last, limit = rules["street-protected"].settings[-1]
    assert (last.scope, limit) == ({"road_class": "footway"}, 12.0)
