"""The pieces in which clocks run on a placed day, between restarts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from slackwater.day.model import ClockPiece, DayProblem, Event, Placed


def clock_pieces(problem: DayProblem, placed: Sequence[Placed], options: Mapping[str, str]) -> tuple[ClockPiece, ...]:
    """Each span in which a clock runs, from its start to the first restart, between restarts, and to its end.

    A clock runs when both its activities are done and, if it hangs on an option, that option was taken.
    """
    when = {item.activity: item for item in placed}

    def at(event: Event) -> int:
        item = when[event.activity]
        return item.start if event.side == "start" else item.end

    found = []
    for clock in problem.clocks:
        if clock.starts.activity not in when or clock.ends.activity not in when:
            continue
        if clock.only_if is not None:
            choice, _, option = clock.only_if.partition(".")
            if options.get(choice) != option:
                continue
        taken = [name for name in clock.restarts if name in when]
        marks = [clock.starts]
        for name in taken:
            marks += [Event(activity=name, side="start"), Event(activity=name, side="end")]
        marks.append(clock.ends)
        limit_min = clock.piece_limit_min(len(taken))
        for a, b in zip(marks[::2], marks[1::2], strict=True):
            found.append(ClockPiece(clock=clock.id, starts=a, ends=b, start=at(a), end=at(b), limit_min=limit_min))
    return tuple(found)
