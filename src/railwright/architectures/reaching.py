"""How far what is not served has come."""

from __future__ import annotations

from railwright.architectures.architecture import Unserved


class Reaching:
    """Marks what is not served inside with how many demands were met before."""

    def __init__(self, reached: float) -> None:
        self.reached = reached

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, Unserved):
            error.reached = max(error.reached, self.reached)
