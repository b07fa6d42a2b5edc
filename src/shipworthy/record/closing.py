"""What is closed at the end of its `with`, whichever way that ends."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import Self


class Closing(ABC):
    """Closes itself. An error goes on to the caller."""

    @abstractmethod
    def close(self) -> None:
        """Let go of what is held."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()
