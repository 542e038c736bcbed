"""Positions that are listened to in order: the walk, and what the person said of them."""

from witnessmark.listening.chart import Against, Chart, ChartAxis, Point, chart_text, grade_chart
from witnessmark.listening.difference import STAGES, PairPose
from witnessmark.listening.evening import Evening
from witnessmark.listening.judging import (
    Difference,
    Grades,
    Judged,
    difference,
    judged,
    struck_keys,
)
from witnessmark.listening.names import trial_names
from witnessmark.listening.order import Walk, walk
from witnessmark.listening.ranking import Best, Group, Ranking, best_so_far, rank
from witnessmark.listening.steps import Proposal

__all__ = [
    "STAGES",
    "Against",
    "Best",
    "Chart",
    "ChartAxis",
    "Difference",
    "Evening",
    "Grades",
    "Group",
    "Judged",
    "PairPose",
    "Point",
    "Proposal",
    "Ranking",
    "Walk",
    "best_so_far",
    "chart_text",
    "difference",
    "grade_chart",
    "judged",
    "rank",
    "struck_keys",
    "trial_names",
    "walk",
]
