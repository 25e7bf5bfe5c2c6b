"""The compiled loop of the transient: W lanes of a block side by side, each with its own step.

All lanes of a block go through the stages of their steps together, each with its own time, step
length and outcome: a lane that fails or jumps repeats while the others go on. What a lane keeps
stands in the block's memory (`rows.Rows`).
"""

from __future__ import annotations

from typing import Any

from llvmlite import ir

from railwright.engine.columns_code import write_columns
from railwright.engine.output_code import OutputFunction
from railwright.engine.rows import DOUBTFUL, NO_RESTART, PAUSED, STORM, TOO_MANY, TOO_SHORT, Rows
from railwright.engine.step_code import write_functions
from railwright.engine.stepping import FAR, GAMMA, IMPLICIT, WEIGHT
from railwright.engine.vector_code import LONG

ITERATIONS, RESTART_ITERATIONS = 8, 80
"""Newton iterations of a stage, and more of them, cut short, for the state after a jump."""
SAFETY, SHRINK, GROW = 0.85, 0.2, 4.0
"""A step's next length: safety factor and bounds, as factors of the last one."""
LESSENED = 0.25
"""Factor after a Newton iteration that failed, and after a jump."""
SETTLE = 0.02
"""Length of the step behind a jump, as a share of the one wished for."""
SETTLING = 3.0
"""Value of `restart` in the first of two such steps: one leaves too much of a stiff part."""
TINY = 1e-3
"""A step below this share of the one wished for tells nothing about slopes."""
JUMP = 1e-6
"""Length of the step that finds a consistent state, as a share of the step before."""
APART = 0.02
"""An output closer to an end of the step than this share of it is as exact as that end."""
SHARPNESS = 0.1
"""How sharply events are located, as a share of step and relative tolerance."""
LEAST = 1e-16
"""A step shorter than this share of the time has failed."""
END_SLOPE = ((1.0 - GAMMA) / GAMMA, 1.0 / (GAMMA * (GAMMA - 1.0)), (2.0 - GAMMA) / (1.0 - GAMMA))
"""Weights of start, first stage and end in the slope of the parabola through them, at the end."""
DISTRUST = 1e-12
"""Below this ratio of a pivot to its terms a lane stops: it needs another order of elimination.
Short steps alone bring it down, since charges then hide all that conducts."""
MOST_TRIES = 12
MOST_EVENTS_AT_ONCE = 200.0


def transient_module(rows: Rows, width: int) -> ir.Module:
    """The LLVM module with `prepare`, `run` and `observe`."""
    module = ir.Module("railwright transient")
    write_functions(module, rows, width)
    if rows.columns is not None:
        write_columns(module, rows, width)
    _Run(module, rows, width).write()
    return module


class _Run(OutputFunction):
    """The loop itself."""

    def write(self) -> None:
        self.repeat(self._round)
        self.close()

    def _round(self, number: Any) -> Any:
        """One step of every running lane; whether any goes on."""
        self._choose_step()
        self._first_stage()
        self._second_stage()
        self.call("judge")
        self._decide()
        return self.any(self.running())

    # The length of the step.

    def _choose_step(self) -> None:
        code = self.code
        start, wish = self.row("start"), self.row("wish")
        restart = self.single()
        stop = self.smaller(self.row("until"), self.row("due"))
        # Never nil, since it is divided by.
        least = code.add(code.mul(code.abs(start), self.splat(2e-16)), self.splat(1e-30))
        reach = code.max(code.sub(stop, start), least)
        # Behind a jump what is stiff comes to rest first, in a short step that damps it.
        wanted = code.choose(self.settling(), code.mul(wish, self.splat(SETTLE)), wish)
        step = self.smaller(wanted, self.smaller(self.row("longest"), self.row("pace")))
        whole = code.at_least(step, code.mul(reach, self.splat(1.0 - 1e-9)))
        # Two even steps to the corner rather than a long and a tiny one.
        even = self.smaller(step, code.mul(reach, self.splat(0.5)))
        step = code.choose(whole, reach, even)
        ahead = self.row("ahead")
        early = self.greater(step, ahead)
        step = code.choose(early, ahead, step)
        jump = self.jumping()
        step = code.choose(jump, code.mul(wish, self.splat(JUMP)), step)
        exact = self.both(whole, self.no(self.either(early, jump)))
        self.put("step", step)
        end = code.choose(exact, stop, code.add(start, step))
        self.end = end
        share = code.choose(restart, self.splat(1.0), self.splat(IMPLICIT))
        inverse = code.div(self.splat(1.0), code.mul(share, step))
        self.put("inverse", inverse)
        relative, absolute = self.row("relative"), self.row("absolute")
        for place in range(self.unknowns):
            allowed = code.add(code.mul(relative, code.abs(self.row("first", place))), absolute)
            self.put("weight", code.div(self.splat(1.0), allowed), place)

    # The stages.

    def _iterate(self, moving: Any, awaited: Any, name: str, most: int) -> None:
        """Let lanes move until those that are awaited rest."""
        b, counter = self.builder, self.counter
        self.put("moving", self.code.choose(moving, self.splat(1.0), self.splat(0.0)))

        def once(_: Any) -> Any:
            self.call(name)
            b.store(b.add(b.load(counter), LONG(1)), counter)
            return self.any(self.both(awaited, self.above("moving", 0.5)))

        self.when(self.any(self.both(awaited, moving)), lambda: self.repeat(once, most))

    def _crawl(self, restart: Any) -> None:
        """A lane that jumps and does not rest starts again from where it was, in small steps."""
        moving = self.above("moving", 0.5)
        lost = self.both(restart, moving)

        def again() -> None:
            for place in range(self.unknowns):
                self.keep(self.rows["x"] + place, lost, self.row("first", place))
            self._iterate(moving, self.running(), "crawl", RESTART_ITERATIONS)

        self.when(self.any(lost), again)

    def _at_time(self, time: Any) -> None:
        """Set the instant at which the equations hold, and the driven inputs to it."""
        code, names = self.code, self.rows.step.system.parameters
        self.put("time", time)
        for place, name in enumerate(self.rows.step.driven):
            if name in names:
                since = code.sub(time, self.row("drive since", place))
                value = code.mul(self.row("drive slope", place), since)
                value = code.add(self.row("drive", place), value)
                self.put("parameter", value, names.index(name))

    def _first_stage(self) -> None:
        code = self.code
        restart, step = self.single(), self.row("step")
        part = code.add(self.row("start"), code.mul(step, self.splat(GAMMA)))
        midway = code.choose(restart, self.end, part)
        self.put("midway", midway)
        self._at_time(midway)
        lead = code.choose(restart, self.splat(0.0), code.mul(step, self.splat(IMPLICIT)))
        for place in range(self.stored):
            moved = code.mul(lead, self.row("rate", place))
            self.put("history", code.add(self.row("begun", place), moved), place)
        before = self.row("before")
        known = self.greater(before, self.splat(0.0))
        ratio = code.div(step, code.choose(known, before, self.splat(1.0)))
        at = code.add(code.mul(ratio, self.splat(GAMMA)), self.splat(1.0))
        at = self.smaller(at, self.splat(2.5))
        weights = _lagrange(code, at, (0.0, GAMMA, 1.0))
        none = self.either(restart, self.no(known))
        weights = [code.choose(none, self.splat(0.0), w) for w in weights[:2]] + [
            code.choose(none, self.splat(1.0), weights[2])
        ]
        for place in range(self.unknowns):
            guess = code.mul(weights[0], self.row("earlier", place))
            guess = code.add(guess, code.mul(weights[1], self.row("inner", place)))
            guess = code.add(guess, code.mul(weights[2], self.row("first", place)))
            self.put("x", guess, place)
        # Lanes with but one stage have time until the end of the second one.
        self._iterate(self.running(), self.no(restart), "iterate", ITERATIONS)
        self.call("amounts")

    def _second_stage(self) -> None:
        code = self.code
        restart, step = self.single(), self.row("step")
        moving = self.above("moving", 0.5)
        failed = self.both(moving, self.no(restart))
        self._at_time(self.end)
        share = code.mul(step, self.splat(WEIGHT))
        for place in range(self.stored):
            middle = self.row("newest", place)
            self.put("middle", middle, place)
            both = code.add(self.row("rate", place), middle)
            history = code.add(self.row("begun", place), code.mul(share, both))
            # A lane that jumps has its whole step behind it.
            self.put("history", code.choose(restart, self.row("history", place), history), place)
        before = self.row("before")
        known = self.greater(before, self.splat(0.0))
        ratio = code.div(code.choose(known, before, self.splat(1.0)), step)
        back = code.mul(ratio, self.splat(GAMMA - 1.0))
        weights = _lagrange_of(code, self.splat(1.0), (back, self.splat(0.0), self.splat(GAMMA)))
        plain = (self.splat(0.0), self.splat(1.0 - 1.0 / GAMMA), self.splat(1.0 / GAMMA))
        weights = [code.choose(known, w, p) for w, p in zip(weights, plain, strict=True)]
        for place in range(self.unknowns):
            halfway = self.row("x", place)
            self.put("halfway", halfway, place)
            guess = code.mul(weights[0], self.row("inner", place))
            guess = code.add(guess, code.mul(weights[1], self.row("first", place)))
            guess = code.add(guess, code.mul(weights[2], halfway))
            self.put("x", code.choose(restart, halfway, guess), place)
        go_on = self.both(self.running(), code.choose(restart, moving, self.no(failed)))
        self._iterate(go_on, self.running(), "iterate", ITERATIONS)
        self._crawl(restart)
        self.failed = self.either(failed, self.above("moving", 0.5))
        self.call("amounts")
        if self.rows.columns is not None:
            for place in range(self.unknowns):
                self.keep(self.rows["halfway"] + place, restart, self.row("x", place))

    # What becomes of the step.

    def _decide(self) -> None:
        code = self.code
        running, restart, jump = self.running(), self.single(), self.jumping()
        step, wish, failed = self.row("step"), self.row("wish"), self.failed
        error = self.row("error")
        sound = self.both(running, self.no(failed))
        too_far, shorter = self._overshoot(jump)
        bent, before = self._bent(restart)
        too_far, shorter = self.either(too_far, bent), self.smaller(shorter, before)
        wrong = self.both(self.no(jump), self.no(code.at_least(self.splat(1.0), error)))
        accepted = self.both(sound, self.no(self.either(too_far, wrong)))

        factor = self._factor(error)
        grown = code.mul(step, factor)
        # A step cut short by a corner or an event says little about the next one.
        grown = code.choose(self.greater(wish, step), code.max(grown, wish), grown)
        grown = code.choose(restart, wish, grown)
        # Where a guard was overrun the next try ends at the crossing; the error may allow more.
        base = code.choose(restart, wish, step)
        retry = code.choose(wrong, code.mul(base, self.smaller(factor, self.splat(0.9))), wish)
        # A jump that cannot be solved is given more time, a step that cannot less.
        other = code.choose(jump, self.splat(1.0 / LESSENED), self.splat(LESSENED))
        retry = code.choose(failed, code.mul(base, other), retry)
        self.keep(self.rows["wish"], running, code.choose(accepted, grown, retry))
        self.keep(self.rows["before"], self.both(running, failed), self.splat(0.0))

        done = code.at_least(self.end, self.row("until"))
        fired = self.both(accepted, self._fires())
        self._carry_columns(accepted)
        rests = self.both(accepted, self.both(done, self.no(fired)))
        ends = self._lap(fired)
        # Of several jumps at one instant the last one is written.
        lasting = self.both(accepted, self.no(self.both(jump, self.both(fired, self.no(ends)))))
        self.write_outputs(lasting, self.either(done, ends))
        self._accept(accepted, restart)
        self._count(running, accepted, jump, fired)
        fired = self.both(fired, self.no(ends))
        self.keep(self.rows["status"], self.either(rests, ends), self.splat(PAUSED))
        self._plan(accepted, fired, too_far, shorter, ends)
        # Last, so that a lane can go on from here as if it had not been held up.
        spent = self.greater(self.row("steps"), code.everywhere(self.budget))
        spent = self.both(self.running(), spent)
        self.keep(self.rows["status"], spent, self.splat(TOO_MANY))

    def _factor(self, error: Any) -> Any:
        code = self.code
        least = code.max(error, self.splat(1e-12))
        power = code.exp(code.mul(code.log(least), self.splat(-1.0 / 3.0)))
        factor = code.mul(power, self.splat(SAFETY))
        factor = self.smaller(factor, self.splat(GROW))
        factor = code.max(factor, self.splat(SHRINK))
        # An error that is not a number calls for the shortest.
        known = code.at_least(error, self.splat(0.0))
        return code.choose(known, factor, self.splat(SHRINK))

    def _sharpness(self) -> Any:
        code = self.code
        near = code.mul(code.mul(self.row("wish"), self.row("relative")), self.splat(SHARPNESS))
        return code.max(near, code.mul(code.abs(self.end), self.splat(4e-16)))

    def _sensed(self) -> list[int]:
        return [i for i in range(self.events) if i not in self.rows.step.timed]

    def _overshoot(self, jump: Any) -> tuple[Any, Any]:
        """Lanes that ran past a crossing, and the length of a step that ends just behind it."""
        code = self.code
        step, sharp = self.row("step"), self._sharpness()
        too_far = self.greater(self.splat(0.0), self.splat(1.0))
        best: Any = self.splat(FAR)
        for place in self._sensed():
            old, new = self.row("guard before", place), self.row("guard", place)
            crossed = self.both(
                self.greater(self.splat(0.0), old), code.at_least(new, self.splat(0.0))
            )
            share = code.div(new, code.sub(new, old))
            woke = self.greater(self.splat(-0.5 * FAR), old)
            share = code.choose(woke, self.splat(0.5), share)
            beyond = code.mul(share, step)
            over = self.both(crossed, self.greater(beyond, sharp))
            over = self.both(over, self.no(jump))
            length = code.add(code.sub(step, beyond), code.mul(sharp, self.splat(0.5)))
            best = code.choose(self.both(over, self.greater(best, length)), length, best)
            too_far = self.either(too_far, over)
        return too_far, best

    def _bent(self, restart: Any) -> tuple[Any, Any]:
        """Lanes with an output that no parabola tells, and the length of a step for which one does.

        It ends at the output, or is short enough.
        """
        code, step, bend = self.code, self.row("step"), self.row("bend")
        left = code.sub(self.awaited(), self.row("start"))
        share = code.div(left, step)
        inside = self.both(
            self.greater(share, self.splat(APART)), self.greater(self.splat(1.0 - APART), share)
        )
        bent = self.both(self.greater(bend, self.splat(1.0)), inside)
        bent = self.both(self.both(bent, self.running()), self.no(restart))
        factor = code.max(code.div(self.splat(SAFETY), bend), self.splat(SHRINK))
        length = code.max(code.mul(step, factor), left)
        return bent, code.choose(bent, length, self.splat(FAR))

    def _fires(self) -> Any:
        """Lanes in which some guard is not below nil."""
        code, zero = self.code, self.splat(0.0)
        fires = self.greater(zero, self.splat(1.0))
        # Rounding of the instant must not leave a clock waiting.
        slack = code.mul(code.abs(self.end), self.splat(4e-16))
        for place in range(self.events):
            guard = self.row("guard", place)
            if place in self.rows.step.timed:
                reached = code.at_least(code.add(guard, slack), zero)
                guard = code.choose(reached, code.max(guard, zero), guard)
                self.put("guard", guard, place)
            fires = self.either(fires, code.at_least(guard, zero))
        return fires

    def _carry_columns(self, accepted: Any) -> None:
        """Carry the sensitivities through the step, and note how fast the unknowns move."""
        if self.rows.columns is None:
            return
        code, one, zero = self.code, self.splat(1.0), self.splat(0.0)
        carried = self.both(accepted, self.above("carry", 0.5))
        self.put("accepted", code.choose(carried, one, zero))

        def spread() -> None:
            self.call("spread first")
            self.call("spread second")

        self.when(self.any(carried), spread)
        step = self.row("step")
        per_second = code.choose(self.jumping(), zero, code.div(one, step))
        # The differences of a tiny step in front of an event are all rounding.
        long = self.greater(step, code.mul(self.row("wish"), self.splat(TINY)))
        fresh = self.both(accepted, self.either(long, self.jumping()))
        settling = self.settling()
        weights = [
            code.choose(settling, self.splat(straight), self.splat(curved))
            for straight, curved in zip((-1.0, 0.0, 1.0), END_SLOPE, strict=True)
        ]
        for place in range(self.unknowns):
            rows = (self.row(name, place) for name in ("first", "halfway", "x"))
            total: Any = zero
            for weight, row in zip(weights, rows, strict=True):
                total = code.add(total, code.mul(row, weight))
            self.keep(self.rows["slope"] + place, fresh, code.mul(total, per_second))

    def _accept(self, accepted: Any, restart: Any) -> None:
        code = self.code
        step = self.row("step")
        smooth = self.both(accepted, self.no(restart))
        for place in range(self.unknowns):
            first = self.row("first", place)
            self.keep(self.rows["earlier"] + place, smooth, first)
            self.keep(self.rows["inner"] + place, smooth, self.row("halfway", place))
            self.keep(self.rows["first"] + place, accepted, self.row("x", place))
        for place in range(self.stored):
            self.keep(self.rows["begun"] + place, accepted, self.row("amount", place))
            self.keep(self.rows["rate"] + place, accepted, self.row("newest", place))
        for place in range(self.rows.sizes["largest"]):
            self.keep(self.rows["largest"] + place, accepted, self.row("size", place))
        self.keep(self.rows["start"], accepted, self.end)
        self.keep(self.rows["before"], accepted, code.choose(restart, self.splat(0.0), step))

    def _plan(self, accepted: Any, fired: Any, too_far: Any, shorter: Any, ends: Any) -> None:
        """Let events act and foresee the next ones."""
        code = self.code
        jump = self.jumping()
        one, zero, far = self.splat(1.0), self.splat(0.0), self.splat(FAR)
        ahead: Any = far
        step = self.row("step")
        sharp = self._sharpness()
        for place in self._sensed():
            old, new = self.row("guard before", place), self.row("guard", place)
            rising = self.both(self.greater(new, old), self.greater(zero, new))
            rising = self.both(rising, self.greater(old, self.splat(-0.5 * FAR)))
            left = code.div(code.mul(code.sub(zero, new), step), code.sub(new, old))
            left = code.add(left, code.mul(sharp, self.splat(0.5)))
            ahead = code.choose(self.both(rising, self.greater(ahead, left)), left, ahead)
        ahead = code.choose(jump, far, ahead)
        ahead = code.choose(accepted, ahead, code.choose(too_far, shorter, far))
        self.keep(self.rows["ahead"], self.running(), ahead)
        for place in range(self.events):
            self.keep(self.rows["guard before"] + place, accepted, self.row("guard", place))
        # The unknowns at the instant of the event are those of the accepted step.
        if self.rows.columns is not None:
            self._delay(self.both(self.either(fired, ends), self.above("carry", 0.5)))
            leaves = self.both(self.either(fired, ends), self.no(jump))
            for place in range(self.stored):
                self.keep(self.rows["outgoing"] + place, leaves, self.row("newest", place))
        self.put("fired", code.choose(fired, one, zero))
        self.when(self.any(fired), lambda: self.call("fire"))
        again = code.choose(self.above("restart", 2.5), self.splat(2.0), zero)
        following = code.choose(jump, self.splat(SETTLING), again)
        self.keep(self.rows["restart"], accepted, code.choose(fired, one, following))
        self.keep(self.rows["ahead"], fired, far)
        less = code.mul(self.row("wish"), self.splat(LESSENED))
        self.keep(self.rows["wish"], self.both(fired, self.no(jump)), less)

    def _delay(self, fired: Any) -> None:
        """Let the sensitivities know which event fires or ends the course."""
        code = self.code
        self.put("fired", code.choose(fired, self.splat(1.0), self.splat(0.0)))
        cause = self.splat(-1.0)
        for place in range(self.events):
            acts = code.at_least(self.row("guard", place), self.splat(0.0))
            cause = code.choose(acts, self.splat(float(place)), cause)
        self.put("cause", cause)
        self.when(self.any(fired), lambda: self.call("delay"))

    def _lap(self, fired: Any) -> Any:
        """Count the ticks of the clock; lanes that pause at this one."""
        clock = self.rows.step.clock
        if clock is None:
            return self.greater(self.splat(0.0), self.splat(1.0))
        code, laps = self.code, self.row("laps")
        ticks = self.both(fired, code.at_least(self.row("guard", clock), self.splat(0.0)))
        self.put("laps", code.choose(ticks, code.sub(laps, self.splat(1.0)), laps))
        return self.both(ticks, self.greater(self.splat(0.5), laps))

    def _count(self, running: Any, accepted: Any, jump: Any, fired: Any) -> None:
        code = self.code
        one, zero = self.splat(1.0), self.splat(0.0)
        refused = self.both(running, self.no(accepted))
        for name, mask in (("steps", accepted), ("rejected", refused)):
            self.keep(self.rows[name], mask, code.add(self.row(name), one))
        tries = code.choose(refused, code.add(self.row("tries"), one), zero)
        self.put("tries", tries)
        # Events in a row at one instant; a regular step ends the row.
        storm = code.choose(fired, code.add(self.row("events"), one), self.row("events"))
        storm = code.choose(self.both(accepted, self.no(self.either(jump, fired))), zero, storm)
        self.put("events", storm)
        short = code.mul(
            code.max(code.abs(self.row("start")), self.row("longest")), self.splat(LEAST)
        )
        stuck = self.both(self.both(refused, self.no(jump)), self.greater(short, self.row("wish")))
        self.keep(self.rows["status"], stuck, self.splat(TOO_SHORT))
        lost = self.both(self.both(refused, jump), self.greater(tries, self.splat(MOST_TRIES)))
        self.keep(self.rows["status"], lost, self.splat(NO_RESTART))
        sure = code.at_least(self.row("trust"), self.splat(DISTRUST))
        # What failed may have failed for its pivots. In the instant of a jump that succeeds the
        # charge of a floating capacitor hides all else by itself.
        passed = self.both(accepted, self.no(jump))
        low = self.greater(self.splat(DISTRUST), self.row("trust"))
        unsure = self.both(self.no(sure), passed)
        unsure = self.either(unsure, self.both(low, self.either(stuck, lost)))
        self.keep(self.rows["status"], unsure, self.splat(DOUBTFUL))
        raging = self.greater(storm, self.splat(MOST_EVENTS_AT_ONCE))
        self.keep(self.rows["status"], raging, self.splat(STORM))


def _lagrange(code: Any, at: Any, nodes: tuple[float, float, float]) -> list[Any]:
    return _lagrange_of(code, at, tuple(code.splat(n) for n in nodes))


def _lagrange_of(code: Any, at: Any, nodes: tuple[Any, ...]) -> list[Any]:
    """Weights of three nodes in the parabola through them, at a place."""
    weights = []
    for own in range(3):
        a, b = (nodes[i] for i in range(3) if i != own)
        above = code.mul(code.sub(at, a), code.sub(at, b))
        below = code.mul(code.sub(nodes[own], a), code.sub(nodes[own], b))
        weights.append(code.div(above, below))
    return weights
