"""What the device found when the work was taken up, whether its clock is right, whether it slept: recorded, and said.

Knows the opening check and moments. Refuses to stop anything: what is found is for people to judge. After a sleep what
was known of the engine is forgotten, as after a long pause.
"""

from __future__ import annotations

from datetime import date

from assistant.dialogue import messages as m
from assistant.dialogue.turn import Turn
from assistant.session import facts as f
from assistant.session.clocks import is_before, without_jump
from assistant.session.inputs import OpeningCheck
from assistant.statements import kinds as s


def take_check(turn: Turn, check: OpeningCheck | None) -> None:
    """What was found when the session was opened."""
    if check is None:
        return
    if check.newest and is_before(turn.at.wall, check.newest):
        why = f.ClockDoubt.BEFORE_SESSION if check.newest_of else f.ClockDoubt.BEFORE_PROGRAM
        turn.record(f.ClockDoubted(why, turn.at.wall, check.newest, check.newest_of))
        shown = _day(turn.at.wall)
        turn.say(m.ClockBeforeVisit(shown, _day(check.newest)) if check.newest_of else m.ClockBeforeProgram(shown))
    for other in check.beside:
        turn.record(f.WorkedBeside(other.technician, other.session, other.since))
        turn.say(m.SomebodyBeside(other.technician))
    if check.set_aside:
        turn.record(f.FilesSetAside(check.set_aside, check.loose))
    if check.loose:
        turn.say(m.RecordMayLackLines())
    for name in check.replaced:
        turn.record(f.CopyReplaced(name))


def watch_clock(turn: Turn) -> None:
    """Whether the clock has jumped since the last fact."""
    latest = turn.visit.latest
    expected = None if latest is None else without_jump(latest, turn.at)
    if expected is not None:
        turn.record(f.ClockDoubted(f.ClockDoubt.JUMPED, turn.at.wall, expected, ""))
        turn.say(m.ClockHasJumped())


def notice_sleep(turn: Turn) -> bool:
    """Whether the device slept since the last fact: then nothing is known of the engine any more, and that is said."""
    latest = turn.visit.latest
    if latest is None or latest.boot == turn.at.boot:
        return False
    turn.record(f.StateForgotten(s.DeviceSlept()))
    turn.say(m.LongPause())
    turn.recall()
    return True


def _day(wall: str) -> date:
    return date.fromisoformat(wall[:10])
