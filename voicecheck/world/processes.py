"""Work of many pieces on several processors."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from multiprocessing import get_context
from typing import TypeVar

Piece = TypeVar("Piece")
Made = TypeVar("Made")


def side_by_side(
    work: Callable[[Piece], Made],
    pieces: Iterable[Piece],
    jobs: int | None,
    *,
    in_order: bool = True,
) -> Iterator[Made]:
    """What becomes of each piece; not in order: as they are done.

    work: can be sent to another process. jobs: processes; 1: this one; None: one for each
    processor. They stop with the first error, whoever made it, and not after all the rest.
    """
    if jobs == 1:
        yield from map(work, pieces)
        return
    # A forked process would lack the threads that the listeners' libraries have, and their locks.
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        try:
            waiting = [pool.submit(work, piece) for piece in pieces]
            for done in waiting if in_order else as_completed(waiting):
                yield done.result()
        except BaseException:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
