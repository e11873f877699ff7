"""In which order: the tasks of a visit with the cheapest changes of the engine's state between them.

Knows what tasks and changes need and leave, and the precautions between tasks, as data of the equipment file. Refuses
to know which tasks are due. The search is exact.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heappop, heappush

from assistant.engine_state import Known
from assistant.errors import ProcedureError
from assistant.procedure.equipment import Change, Equipment, Task
from assistant.statements import kinds as s

MAX_PLACES_FOR_A_REASON = 1000  # places looked at for one reason; an order of few tasks takes some ten or hundred
_Bounds = list[dict[int, int]]
MANY = 1 << 16  # a cost is the seconds of the changes, and behind them, as digits of their own, their number


@dataclass(frozen=True, slots=True)
class OrderedStage:
    """One line of the order: a task, or a change of the engine's state.

    minutes: from the shortest to the longest.
    reasons: why it stands here.
    """

    name: str
    is_task: bool
    title: str
    minutes: tuple[float, float]
    reasons: tuple[s.PlanStatement | str, ...]


@dataclass(frozen=True, slots=True)
class _Move:
    """A task or a change, as the search sees it. The state is a set of bits, one for each value of a variable that
    anything needs; what nothing needs has no bit, so more bits are never worse."""

    name: str
    needs: int
    clears: int
    sets: int
    cost: int = 0

    @property
    def is_task(self) -> bool:
        """Only changes cost anything."""
        return self.cost == 0

    def after(self, state: int) -> int:
        return state & ~self.clears | self.sets


@dataclass(frozen=True, slots=True)
class _Search:
    """What is to be brought in order. earlier: for each task the set of those that come before it, as bits."""

    tasks: tuple[_Move, ...]
    earlier: tuple[int, ...]
    changes: tuple[_Move, ...]
    begin: int
    end: int


def order(
    equipment: Equipment,
    tasks: Sequence[str],
    found: Mapping[str, Known] | None = None,
    takes: Mapping[str, tuple[float, float]] | None = None,
    first: str | None = None,
    with_reasons: bool = True,
) -> tuple[OrderedStage, ...]:
    """The order of a visit: the tasks, with the changes of the engine's state between them.

    tasks: identifiers, the most urgent first.
    found: the engine's state at the start, None: as the equipment file says.
    takes: minutes of tasks, where they are known better than by the equipment file.
    first: the task that comes first.
    with_reasons: False: without them; each takes an order of its own, of the two neighbours the other way round.

    The minutes of the changes, each in the middle of its range, are the least that there can be, and among orders with
    as many minutes it has the fewest changes; ties lean to the order given. A change that comes about by itself counts
    whole in this, although work goes on meanwhile; its minutes in the result are what is left to wait.
    Errors: ProcedureError when there is no such order.
    """
    search = _search(equipment, tasks, equipment.visit.found if found is None else found, first)
    bounds = _bounds(search)
    way = _cheapest(search, bounds)
    if way is None:
        raise ProcedureError(
            f"tasks {', '.join(tasks)}",
            "no order of them is possible by what they need, and by the precautions",
            "Look at `needs`, `changes` and `precautions` in equipment.yaml",
        )
    minutes = _minutes_of(equipment, way, takes or {})
    reasons = _reasons(equipment, search, bounds, way) if with_reasons else [()] * len(way)
    return tuple(
        OrderedStage(move.name, move.is_task, _entry(equipment, move).title, time, why)
        for move, time, why in zip(way, minutes, reasons, strict=True)
    )


def _entry(equipment: Equipment, move: _Move) -> Task | Change:
    return equipment.tasks[move.name] if move.is_task else equipment.changes[move.name]


def _search(
    equipment: Equipment, tasks: Sequence[str], found: Mapping[str, Known], first: str | None = None
) -> _Search:
    needs = {name: equipment.needs_of(name) for name in tasks}
    wanted = [*needs.values(), *(change.needs for change in equipment.changes.values()), equipment.visit.left]
    bits = {pair: 1 << bit for bit, pair in enumerate(dict.fromkeys(pair for each in wanted for pair in each.items()))}

    def mask(state: Mapping[str, Known]) -> int:
        return sum(bits.get(pair, 0) for pair in state.items())

    def move(name: str, needed: Mapping[str, Known], leaves: Mapping[str, Known], cost: int = 0) -> _Move:
        clears = sum(bit for (variable, _), bit in bits.items() if variable in leaves)
        return _Move(name, mask(needed), clears, mask(leaves), cost)

    moves = tuple(move(name, needs[name], equipment.tasks[name].leaves) for name in tasks)
    earlier = [0] * len(tasks)
    for place, name in enumerate(tasks):
        for precaution in equipment.minded(name):
            for other, later in enumerate(tasks):
                if precaution.before in equipment.tasks[later].does:
                    earlier[other] |= 1 << place
    if first is not None:
        for place, name in enumerate(tasks):
            earlier[place] |= 0 if name == first else 1 << tasks.index(first)
    changes = tuple(
        move(name, change.needs, change.leaves, round(sum(change.minutes) * 30) * MANY + 1)
        for name, change in equipment.changes.items()
    )
    return _Search(moves, tuple(earlier), changes, mask(found), mask(equipment.visit.left))


class _GivenUp(Exception):
    """A search took more effort than it was worth."""


def _cheapest(search: _Search, bounds: _Bounds | None, effort: int | None = None) -> tuple[_Move, ...] | None:
    """The moves of the cheapest way, None when there is none.

    bounds: as `_bounds` gives them for these tasks.
    effort: how many places are looked at before `_GivenUp`.

    A* over (tasks done, state). Three things keep it small and lose nothing:

    - A task that can be done, changes nothing here, and never leaves what it does not need itself, is done at once:
      moved here from a later place, it leaves every state on the way with the same bits or more.
    - Tasks that differ in name only are done in the order given.
    - What is still to come costs at least as much as the dearest single task: to get where it can be done, and from
      there to how the set is left, where every other task may help and is done as often as one likes.

    At worst that is 2^tasks x states; with few different needs it is the product of how many tasks share each.
    """
    tasks, changes = search.tasks, search.changes
    everything = (1 << len(tasks)) - 1
    earlier = _twins_in_order(search)
    if bounds is None:
        return None
    unchanging = tuple(task.sets & ~task.needs == 0 for task in tasks)

    def at_once(done: int, state: int) -> tuple[int, tuple[_Move, ...]]:
        taken: list[_Move] = []
        again = True
        while again:
            again = False
            for place, task in enumerate(tasks):
                if (
                    unchanging[place]
                    and not done >> place & 1
                    and earlier[place] & ~done == 0
                    and task.needs & ~state == 0
                    and task.after(state) == state
                ):
                    done |= 1 << place
                    taken.append(task)
                    again = True
        return done, tuple(taken)

    def still(done: int, state: int) -> int | None:
        """At least so much is still to come; None when it cannot come to an end."""
        most = 0
        for place in (-1, *(place for place in range(len(tasks)) if not done >> place & 1)):
            least = bounds[place].get(state)
            if least is None:
                return None
            most = max(most, least)
        return most

    done, taken = at_once(0, search.begin)
    start = (done, search.begin)
    came: dict[tuple[int, int], tuple[tuple[int, int], tuple[_Move, ...]]] = {start: (start, taken)}
    costs = {start: 0}
    closed: set[tuple[int, int]] = set()
    first = still(*start)
    waiting: list[tuple[int, int, int, tuple[int, int]]] = [] if first is None else [(first, 0, 0, start)]
    number = 0
    while waiting:
        _, _, _, here = heappop(waiting)
        if here in closed:
            continue
        closed.add(here)
        if effort is not None and len(closed) > effort:
            raise _GivenUp
        done, state = here
        if done == everything and search.end & ~state == 0:
            return _way_to(here, start, came)
        possible = [
            (done | 1 << place, task)
            for place, task in enumerate(tasks)
            if not done >> place & 1 and earlier[place] & ~done == 0 and task.needs & ~state == 0
        ]
        possible += [
            (done, change) for change in changes if change.needs & ~state == 0 and change.after(state) & ~state != 0
        ]
        for then, move in possible:
            after = move.after(state)
            then, taken = at_once(then, after)
            there, cost = (then, after), costs[here] + move.cost
            if there in costs and costs[there] <= cost:
                continue
            to_come = still(*there)
            if to_come is None:
                continue
            costs[there] = cost
            came[there] = (here, (move, *taken))
            number += 1
            heappush(waiting, (cost + to_come, -then.bit_count(), number, there))
    return None


def _way_to(
    here: tuple[int, int],
    start: tuple[int, int],
    came: Mapping[tuple[int, int], tuple[tuple[int, int], tuple[_Move, ...]]],
) -> tuple[_Move, ...]:
    way: tuple[_Move, ...] = ()
    while True:
        before, moves = came[here]
        way = (*moves, *way)
        if here == start:
            return way
        here = before


def _twins_in_order(search: _Search) -> tuple[int, ...]:
    """Which tasks come before each, with those that differ in name only one after the other."""
    earlier = list(search.earlier)
    last: dict[tuple[int, ...], int] = {}
    for place, task in enumerate(search.tasks):
        later = sum(1 << other for other, before in enumerate(search.earlier) if before >> place & 1)
        kind = (task.needs, task.clears, task.sets, search.earlier[place], later)
        if kind in last:
            earlier[place] |= 1 << last[kind]
        last[kind] = place
    return tuple(earlier)


def _bounds(search: _Search) -> _Bounds | None:
    """For each task, and last for the end alone: state -> what is at least still to come while it is not done.

    None when the end cannot be reached at all.
    """
    moves = (*search.changes, *dict.fromkeys(search.tasks))
    into: dict[int, list[tuple[int, int]]] = {search.begin: []}
    waiting = [search.begin]
    while waiting:
        state = waiting.pop()
        for move in moves:
            if move.needs & ~state == 0 and (after := move.after(state)) != state:
                if after not in into:
                    into[after] = []
                    waiting.append(after)
                into[after].append((state, move.cost))

    def spread(seeds: Mapping[int, int]) -> dict[int, int]:
        least: dict[int, int] = {}
        waiting = [(cost, state) for state, cost in seeds.items()]
        waiting.sort()
        while waiting:
            cost, state = heappop(waiting)
            if state in least:
                continue
            least[state] = cost
            for before, more in into[state]:
                if before not in least:
                    heappush(waiting, (cost + more, before))
        return least

    end = spread({state: 0 for state in into if search.end & ~state == 0})
    if not end:
        return None
    known: dict[tuple[int, int, int], dict[int, int]] = {}
    result = []
    for task in search.tasks:
        kind = (task.needs, task.clears, task.sets)
        if kind not in known:
            ready = (state for state in into if task.needs & ~state == 0)
            known[kind] = spread({state: end[task.after(state)] for state in ready if task.after(state) in end})
        result.append(known[kind])
    return [*result, end]


def _minutes_of(
    equipment: Equipment, way: Sequence[_Move], takes: Mapping[str, tuple[float, float]]
) -> list[tuple[float, float]]:
    """How long each move takes. Of what comes about by itself only what is left, once the work since is done."""
    result: list[tuple[float, float]] = []
    begun: dict[str, int] = {}  # change -> the move from which on it goes on
    for place, move in enumerate(way):
        entry = _entry(equipment, move)
        shortest, longest = takes.get(move.name, entry.minutes) if move.is_task else entry.minutes
        if isinstance(entry, Change) and entry.by_itself:
            since = result[begun.get(move.name, 0) : place]
            shortest = max(0.0, shortest - sum(high for _, high in since))
            longest = max(0.0, longest - sum(low for low, _ in since))
        result.append((shortest, longest))
        for name, other in equipment.changes.items():
            if any(entry.leaves.get(variable) is value for variable, value in other.needs.items()):
                begun[name] = place + 1
    return result


def _reasons(
    equipment: Equipment, search: _Search, bounds: _Bounds | None, way: Sequence[_Move]
) -> list[tuple[s.PlanStatement, ...]]:
    """Why each move stands where it does."""
    done = [move.name for move in way if move.is_task]
    cost = sum(move.cost for move in way)
    result: list[tuple[s.PlanStatement, ...]] = []
    state = search.begin
    for place, move in enumerate(way):
        if move.is_task:
            reasons = [*_by_precaution(equipment, move, done)]
            following = next((later for later in way[place + 1 :] if later.is_task), None)
            if following is not None and not _exchangeable(state, move, way[place + 1]):
                reasons += _by_cost(equipment, search, bounds, move, following, cost)
            result.append(tuple(reasons))
        else:
            result.append(_whose_sake(equipment, way, place))
        state = move.after(state)
    return result


def _exchangeable(state: int, move: _Move, other: _Move) -> bool:
    """Whether a task can just as well come before the one that stands before it."""
    if not other.is_task or other.needs & ~state or move.needs & ~other.after(state):
        return False
    return move.after(other.after(state)) == other.after(move.after(state))


def _by_precaution(equipment: Equipment, move: _Move, done: Sequence[str]) -> Iterator[s.PlanStatement]:
    for precaution in equipment.precautions.values():
        if precaution.before in equipment.tasks[move.name].does:
            first = [task for task in done if precaution.doing in equipment.tasks[task].does]
            if first:
                yield s.AfterTasks(_titles(equipment, first), precaution.because)


def _by_cost(
    equipment: Equipment, search: _Search, bounds: _Bounds | None, move: _Move, following: _Move, cost: int
) -> Iterator[s.PlanStatement]:
    """What it would cost to do the next task before this one, where nothing but cost speaks against it.

    cost: of all changes of the order that was found.
    """
    first, second = search.tasks.index(move), search.tasks.index(following)
    if search.earlier[second] >> first & 1:
        return
    earlier = list(search.earlier)
    earlier[first] |= 1 << second
    try:
        other = _cheapest(replace(search, earlier=tuple(earlier)), bounds, MAX_PLACES_FOR_A_REASON)
    except _GivenUp:
        return
    title = equipment.tasks[following.name].title
    if other is None:
        yield s.OnlyThisWayRound(title)
        return
    seconds, changes = divmod(sum(step.cost for step in other) - cost, MANY)
    if seconds:
        yield s.FewerMinutes(title, seconds / 60)
    elif changes:
        yield s.FewerChanges(title, changes)


def _whose_sake(equipment: Equipment, way: Sequence[_Move], place: int) -> tuple[s.PlanStatement, ...]:
    """For what a change is made: what needs the state that it leaves, before that is changed again.

    Tasks, and how the set is left, are named; a change that needs it only where nothing else does.
    """
    ends: list[s.PlanStatement] = []
    means: list[s.PlanStatement] = []
    for variable, value in _entry(equipment, way[place]).leaves.items():
        if value is Known.UNKNOWN:
            continue
        known = equipment.state[variable]
        words = known.yes if value is Known.YES else known.no
        tasks: list[str] = []
        changes: list[str] = []
        because = ""
        for later in way[place + 1 :]:
            entry = _entry(equipment, later)
            minded = equipment.minded(later.name) if later.is_task else ()
            wanting = [precaution for precaution in minded if precaution.needs.get(variable) is value]
            if wanting or entry.needs.get(variable) is value:
                (tasks if later.is_task else changes).append(later.name)
            because = wanting[0].because if wanting else because
            if variable in entry.leaves:
                break
        else:
            if equipment.visit.left.get(variable) is value:
                ends.append(s.LeftSo(words))
        if tasks:
            titles = _titles(equipment, tasks)
            ends.append(s.MindedFor(words, titles, because) if because else s.NeededFor(words, titles))
        elif changes:
            means.append(s.NeededFor(words, (equipment.changes[changes[0]].title,)))
    return tuple(ends or means[:1])


def _titles(equipment: Equipment, tasks: Iterable[str]) -> tuple[str, ...]:
    return tuple(equipment.tasks[name].title for name in tasks)
