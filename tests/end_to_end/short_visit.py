"""A short visit with the microphone and loudspeaker that the system has: `short_visit.py FOLDER [--headset]`"""

from __future__ import annotations

import sys
import time
from contextlib import closing
from pathlib import Path

from assistant.app.demo import speech_setup
from assistant.app.live import LiveWorld
from assistant.app.visit_owner import VisitOwner
from assistant.app.watching import Screen
from assistant.edge.clock import MachineClock
from assistant.edge.files.library import order_work
from assistant.edge.files.store import SessionFolder
from assistant.edge.sound.detached import DetachedMicrophone, DetachedPlayer
from assistant.edge.sound.voice_detector import SileroDetector
from assistant.hearing.ear import Ear
from assistant.session.inputs import WorkOrdered

ordered = order_work("bench", ("short",), "technician", Path(__file__).parent)
means = speech_setup()
folder = SessionFolder.create(Path(sys.argv[1]), "visit", ordered.files)
owner = VisitOwner(ordered.work, folder, MachineClock())
ear = Ear(means.recogniser, means.language.graph, SileroDetector(), time.perf_counter)
with DetachedMicrophone() as microphone, closing(DetachedPlayer()) as player:
    world = LiveWorld(
        *(owner, folder, ear, means.voice, means.language, microphone, player, Screen(sys.stdout)),
        headset="--headset" in sys.argv,
    )
    world.run(WorkOrdered(ordered.order))
folder.close()
means.voice.close()
