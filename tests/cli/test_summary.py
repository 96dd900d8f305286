"""What an audit says in the terminal when it is done."""

from dataclasses import replace

from pipeline.cli.summary import summary


def test_only_a_rule_that_speaks_of_some_core_can_want_inputs(demo, capsys):
    """Three rules: one was asked, one had its inputs for no core, one speaks of no core."""
    rules = demo.audit.rules.head(3).assign(found=0, assessed=[9, 0, 0], not_assessed=[1, 4, 0])
    summary(replace(demo, audit=replace(demo.audit, rules=rules)))
    said = " ".join(capsys.readouterr().out.split())
    assert f"Not assessed for any core, for want of inputs: {rules['rule'].iloc[1]}. " in said
    summary(replace(demo, audit=replace(demo.audit, rules=rules.assign(not_assessed=0))))
    assert "for want of inputs" not in capsys.readouterr().out
