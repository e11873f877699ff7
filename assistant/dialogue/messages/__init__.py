"""What the assistant can say: a closed union of messages, each a kind and typed arguments.

The kind is a stable string that journals hold, whatever the class is called; the wording stands under it in
`grammars/<language>/wording.yaml`. A message knows no language. One file a topic, each with its union; users write
`from assistant.dialogue import messages as m`, whatever the topic.
"""

from __future__ import annotations

from assistant.dialogue.messages.asking import *  # noqa: F403
from assistant.dialogue.messages.asking import AskingMessage
from assistant.dialogue.messages.calculations import *  # noqa: F403
from assistant.dialogue.messages.calculations import CalculationMessage
from assistant.dialogue.messages.device import *  # noqa: F403
from assistant.dialogue.messages.device import DeviceMessage
from assistant.dialogue.messages.parts import *  # noqa: F403
from assistant.dialogue.messages.parts import PartMessage
from assistant.dialogue.messages.plan import *  # noqa: F403
from assistant.dialogue.messages.plan import PlanMessage
from assistant.dialogue.messages.readings import *  # noqa: F403
from assistant.dialogue.messages.readings import ReadingMessage
from assistant.dialogue.messages.remarks import *  # noqa: F403
from assistant.dialogue.messages.remarks import RemarkMessage
from assistant.dialogue.messages.steps import *  # noqa: F403
from assistant.dialogue.messages.steps import StepMessage
from assistant.dialogue.messages.trends import *  # noqa: F403
from assistant.dialogue.messages.trends import TrendMessage
from assistant.dialogue.messages.work import *  # noqa: F403
from assistant.dialogue.messages.work import WorkMessage

Message = (
    AskingMessage
    | CalculationMessage
    | DeviceMessage
    | PartMessage
    | PlanMessage
    | ReadingMessage
    | RemarkMessage
    | StepMessage
    | TrendMessage
    | WorkMessage
)
