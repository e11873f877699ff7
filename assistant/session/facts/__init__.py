"""Facts: what happened, in the past tense. A closed union of frozen dataclasses; the visit is their fold.

A fact carries all that a reader of the record needs, so that a session stays readable when the procedures
have changed: titles, limits and phrases are copied into it. One file a topic, each with its union; users write
`from assistant.session import facts as f`, whatever the topic.
"""

from __future__ import annotations

from assistant.session.facts.device import *  # noqa: F403
from assistant.session.facts.device import DeviceFact
from assistant.session.facts.engine import *  # noqa: F403
from assistant.session.facts.engine import EngineFact
from assistant.session.facts.exchanges import *  # noqa: F403
from assistant.session.facts.exchanges import ExchangeFact
from assistant.session.facts.histories import *  # noqa: F403
from assistant.session.facts.histories import HistoryFact
from assistant.session.facts.parts import *  # noqa: F403
from assistant.session.facts.parts import PartFact
from assistant.session.facts.places import *  # noqa: F403
from assistant.session.facts.readings import *  # noqa: F403
from assistant.session.facts.readings import ReadingFact
from assistant.session.facts.remarks import *  # noqa: F403
from assistant.session.facts.remarks import RemarkFact
from assistant.session.facts.steps import *  # noqa: F403
from assistant.session.facts.steps import StepFact
from assistant.session.facts.texts import *  # noqa: F403
from assistant.session.facts.visits import *  # noqa: F403
from assistant.session.facts.visits import VisitFact

Fact = DeviceFact | EngineFact | ExchangeFact | HistoryFact | PartFact | ReadingFact | RemarkFact | StepFact | VisitFact
