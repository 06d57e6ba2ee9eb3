"""What one case comes to, by the mechanics: run the insertion, classify its record."""

from ..insertion.case import Case
from ..insertion.classify import classify
from ..insertion.record import Outcome
from ..insertion.run import advance


def evaluate(case: Case) -> Outcome:
    """Advance the case's wire and classify what it left behind."""
    return classify(advance(case))
