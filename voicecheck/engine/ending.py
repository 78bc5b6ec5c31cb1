"""The end of the test: what was found and what is not tested is read out, and wants a yes."""

from __future__ import annotations

from voicecheck.engine import context, putting_back, questions, told
from voicecheck.engine.state import Ask, Asked
from voicecheck.engine.turn import Turn


def end(turn: Turn, agreed: tuple[str, ...]) -> None:
    """End the test, if nothing was found and all is tested, or after a yes to what was.

    agreed: the list that the yes was to. What has come since is read out, and asked about, too.
    """
    if turn.state.maybe_at or turn.state.place_lost:
        context.ask_first(turn)  # it may not be at off any more
        return
    if turn.state.windows:
        turn.warn("window-open")
        return
    found, untested = told.names(turn), told.untested(turn)
    listed = (*found, *untested)
    if not listed or listed == agreed:
        _finish(turn)
        return
    putting_back.remind(turn)
    if found:
        turn.insist("end-found", found=turn.list(found))
    if untested:
        turn.insist("end-untested", untested=turn.list(untested))
    questions.open_question(turn, Ask.COMPLETE, listed=listed)
    turn.set(last=Asked(""))
    questions.repeat(turn)


def _finish(turn: Turn) -> None:
    if turn.missing():
        turn.set(ended=turn.text("ended-incomplete"))
    else:
        turn.set(complete=True)
    turn.move("finish")
