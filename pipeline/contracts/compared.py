"""The tables of groups compared and of what their registers record."""

from typing import Final

from pipeline.contracts.column import Column

__all__ = ["COMPLETENESS", "RATES"]

RATES: Final = (
    Column(
        "measure",
        "text",
        "",
        "Measure",
        "what is counted: a rule; workmanship (all rules on the work on reinstated cores); flagged or work findings "
        "(cores with such a finding)",
    ),
    Column("by", "text", "", "By", "what the cores are grouped by"),
    Column("group", "text", "", "Group", "name of the group"),
    Column("cores", "integer", "", "Cores", "cores of the group that were assessed"),
    Column("with_findings", "integer", "", "With findings", "findings among the checks of these cores"),
    Column("rate", "number", "", "Rate", "findings per check; of one rule, the share of cores with it"),
    Column("low", "number", "", "Low", "lower end of the 95 % interval of that rate"),
    Column("high", "number", "", "High", "upper end of that interval, with every core at the limit counted as found"),
    Column("others_rate", "number", "", "Rate of the others", "rate of all other groups together, in the same rules"),
    Column("p", "number", "", "p", "chance of such a difference if there were none; missing where not compared"),
    Column("p_corrected", "number", "", "p, corrected", "that chance, corrected for the number of comparisons"),
    Column(
        "differs",
        "text",
        "",
        "Differs",
        "more or less: a difference that holds. raw only, adjusted only: the two disagree. Else not shown, too few, "
        "not recorded, no others or not compared",
    ),
    Column("checks", "integer", "", "Checks", "assessments of these cores by the rules counted"),
    Column("at_limit", "integer", "", "At the limit", "of these checks, those whose value is too coarse to decide"),
    Column(
        "not_recorded", "integer", "", "Not recorded", "checks that could not be made because a value is not recorded"
    ),
    Column("design_effect", "number", "", "Design effect", "by what the clustering of findings multiplies variances"),
    Column("alike_share", "number", "", "Alike", "share of the checks with alike cores in other groups"),
    Column("alike_rate", "number", "", "Rate of the others, alike", "rate of the others on cores alike to the group's"),
    Column("p_adjusted", "number", "", "Adjusted p", "chance of such a difference among alike cores"),
    Column("p_adjusted_corrected", "number", "", "Adjusted p, corrected", "that chance, corrected likewise"),
    Column("adjusted_by", "text", "", "Adjusted by", "strata of alike cores, a logistic model, or none: not possible"),
    Column("adjusted_for", "text", "", "Adjusted for", "what alike cores have in common"),
    Column("odds_ratio", "number", "", "Odds ratio", "Mantel-Haenszel odds ratio, where a difference is at issue"),
    Column("homogeneity_p", "number", "", "Homogeneity p", "chance of strata so unequal if one ratio held"),
)
COMPLETENESS: Final = (
    Column("by", "text", "", "By", "register or crew"),
    Column("group", "text", "", "Group", "name of the register or crew"),
    Column("column", "text", "", "Column", "column of the register that rules need"),
    Column("applies_to", "text", "", "Applies to", "cores for which rules need it: all, open or reinstated"),
    Column("cores", "integer", "", "Cores", "number of such cores"),
    Column("kept", "text", "", "Kept", "whether the register has the column: yes, no, or partly for several registers"),
    Column("filled", "integer", "", "Filled", "cores whose cell can be used"),
    Column("unreadable", "integer", "", "Unreadable", "cores whose cell cannot be read"),
    Column("empty", "integer", "", "Empty", "cores whose cell is empty"),
    Column(
        "share_filled",
        "number",
        "",
        "Share filled",
        "share of the cores with the column whose cell can be used; missing without it, and where an empty cell is an "
        "answer",
    ),
)
