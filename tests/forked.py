"""Acts that are done in a process of their own, which kills itself in the midst of them.

Outside check: a process that is sent SIGKILL ends at once and cleans up nothing (signal(7) of the Linux manual).
"""

import os
import signal
import traceback
from collections.abc import Callable


def killed_at(step: int, act: Callable[[Callable[..., None]], object]) -> bool:
    """Do ``act`` in a process that kills itself the ``step``-th time that the act calls what it is given; False where
    the act came to its end before.
    """
    if (child := os.fork()) == 0:
        left = step

        def count(*_told: object) -> None:
            nonlocal left
            left -= 1
            if left == 0:
                os.kill(os.getpid(), signal.SIGKILL)

        try:
            act(count)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
        os._exit(0)
    _child, status = os.waitpid(child, 0)
    assert status in (0, signal.SIGKILL), f"step {step}: ended with {status}"
    return status != 0
