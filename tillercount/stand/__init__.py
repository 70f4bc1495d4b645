"""What a stand is worth and what to do about it, under one publisher's rules at a time."""

from tillercount.stand.assess import assess
from tillercount.stand.assessment import Assessment, Step, Verdict
from tillercount.stand.classify import Classified, classify
from tillercount.stand.compare import compare
from tillercount.stand.comparison import Comparison
from tillercount.stand.describe import describe
from tillercount.stand.library import check_rules, list_rules, load_rules
from tillercount.stand.nitrogen import NitrogenPlan
from tillercount.stand.ruleset import Band, Rule, RuleSet
from tillercount.stand.stage import Stage, parse_stage

__all__ = [
    "Assessment",
    "Band",
    "Classified",
    "Comparison",
    "NitrogenPlan",
    "Rule",
    "RuleSet",
    "Stage",
    "Step",
    "Verdict",
    "assess",
    "check_rules",
    "classify",
    "compare",
    "describe",
    "list_rules",
    "load_rules",
    "parse_stage",
]
