"""Every statement, by its kind; refuses to know what any of them says."""

from __future__ import annotations

from dataclasses import fields
from typing import get_args

from assistant.statements.calculations import *  # noqa: F403
from assistant.statements.calculations import CalculationStatement
from assistant.statements.due import *  # noqa: F403
from assistant.statements.due import DueStatement, Reasons
from assistant.statements.findings import *  # noqa: F403
from assistant.statements.findings import FindingStatement
from assistant.statements.measures import *  # noqa: F403
from assistant.statements.measures import MeasureStatement
from assistant.statements.plan import *  # noqa: F403
from assistant.statements.plan import PlanStatement
from assistant.statements.readings import *  # noqa: F403
from assistant.statements.readings import ReadingStatement
from assistant.statements.trends import *  # noqa: F403
from assistant.statements.trends import TrendStatement
from assistant.statements.trust import *  # noqa: F403
from assistant.statements.trust import TrustStatement
from assistant.statements.work import *  # noqa: F403
from assistant.statements.work import WorkStatement

Statement = (
    CalculationStatement
    | DueStatement
    | Reasons
    | FindingStatement
    | MeasureStatement
    | PlanStatement
    | ReadingStatement
    | TrendStatement
    | TrustStatement
    | WorkStatement
)


def _kind(statement: type[Statement]) -> str:
    return str(next(field.default for field in fields(statement) if field.name == "kind"))


STATEMENTS: dict[str, type[Statement]] = {_kind(statement): statement for statement in get_args(Statement)}
"""Kind -> statement."""
