"""Drawing in a process of its own: the renderer and other libraries of this program cannot live in one.

A library that cuts solids into convex parts brings symbols that the renderer then takes for its own; loaded after it, the
renderer loses parts of a scene or ends the process. A process that loads nothing else is not harmed, nor does it harm.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator, Sequence
from typing import IO, Any

from slackwater.errors import CannotRun, SlackwaterError
from slackwater.picture.mitsuba import USUAL_SAMPLES, Drawn, Studio, is_installed
from slackwater.picture.scene import Camera, PictureScene

GO_ON, STOP = b"g", b"s"
_Asked = tuple[PictureScene, tuple[Camera, ...], int, int, int, int, float | None]


def draw_apart(
    scene: PictureScene,
    cameras: Sequence[Camera],
    *,
    width: int,
    height: int,
    samples: int = USUAL_SAMPLES,
    seed: int = 0,
    seconds: float | None = None,
    on_pass: Callable[[int, int, int], bool] = lambda _number, _done, _of: True,
) -> Iterator[Drawn]:
    """The pictures from some sides, each as it is finished; closing the iterator ends the work.

    Parameters
    ----------
    width, height, samples, seed, seconds
        As `mitsuba.Studio.draw`.
    on_pass : callable
        Told the number of the camera, passes done and all; False ends that picture with the best so far.

    Raises
    ------
    CannotRun
        Where the renderer is not installed, or its process ended before its work was done.
    OutOfRange
    """
    if not is_installed():
        raise CannotRun(
            "Pictures need a renderer that is not installed: run `./go setup picture` once, then ask again."
        )
    # Not by the usual way of starting a Python process, which loads the caller's own first file, and all that it loads.
    begin = f"import sys; sys.path[:] = {sys.path!r}; from slackwater.picture.apart import serve; serve()"
    process = subprocess.Popen(
        [sys.executable, "-c", begin], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    assert process.stdin is not None and process.stdout is not None
    try:
        _send(process.stdin, (scene, tuple(cameras), width, height, samples, seed, seconds))
        finished = 0
        while finished < len(cameras):
            kind, told = pickle.load(process.stdout)
            if kind == "failed":
                raise told
            if kind == "drawn":
                finished += 1
                yield told
            else:
                process.stdin.write(GO_ON if on_pass(finished, *told) else STOP)
                process.stdin.flush()
    except (EOFError, BrokenPipeError, pickle.UnpicklingError):
        raise CannotRun(
            "The renderer ended before the picture was done, most likely for want of memory: ask for a smaller picture."
        ) from None
    finally:
        process.kill()
        process.wait()
        process.stdout.close()
        with contextlib.suppress(BrokenPipeError):
            process.stdin.close()


def _send(stream: IO[bytes], what: Any) -> None:
    pickle.dump(what, stream, protocol=pickle.HIGHEST_PROTOCOL)
    stream.flush()


def serve() -> None:
    """Draw what is asked for on standard input; done in the other process."""
    # What libraries print goes elsewhere: standard output belongs to the pictures.
    out = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    asked: _Asked = pickle.load(sys.stdin.buffer)
    scene, cameras, width, height, samples, seed, seconds = asked

    def on_pass(done: int, of: int) -> bool:
        _send(out, ("pass", (done, of)))
        return sys.stdin.buffer.read(1) == GO_ON

    try:
        studio = Studio(scene)
        for camera in cameras:
            drawn = studio.draw(
                camera, width=width, height=height, samples=samples, seed=seed, seconds=seconds, on_pass=on_pass
            )
            _send(out, ("drawn", drawn))
    except SlackwaterError as error:
        _send(out, ("failed", error))
    except BrokenPipeError:
        # Whoever asked has gone.
        os._exit(1)
