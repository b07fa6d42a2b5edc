"""Files of sensors that are read again and again: each as it stands, or only while its device is awake."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from shipworthy.machine.capture.value_file import ValueFile
from shipworthy.machine.root import Root
from shipworthy.model.runlog import Column

Values = tuple[float | None, ...]
SUSPENDED = b"suspended"


class Plain:
    """A value that stands in its file as it is. The same bytes are not understood anew each time."""

    def __init__(self, file: ValueFile, meaning: Callable[[str], float | None]) -> None:
        self._file, self._meaning = file, meaning
        self._data = b""
        self._value: Values = (None,)

    def __call__(self) -> Values:
        data = self._file.data()
        if data != self._data:
            self._data, self._value = data, (self._meaning(data.decode("ascii", "replace").strip()),)
        return self._value


class WhileAwake:
    """The files of a device that the kernel may suspend. While it is, they are not asked: that could wake it.

    folder: the device's own in sysfs. meaning: a column's value by its text. asleep: each value meanwhile.
    keep: whether the files may stay open between two samples.
    """

    def __init__(
        self,
        root: Root,
        folder: str,
        columns: list[Column],
        meaning: Callable[[Column, str], float | None],
        *,
        asleep: float | None,
        keep: bool,
    ) -> None:
        self._status = ValueFile(root, f"{folder}/power/runtime_status", keep=keep)
        self._readers = tuple(
            Plain(ValueFile(root, column.source, keep=keep), partial(meaning, column)) for column in columns
        )
        self._asleep: Values = (asleep,) * len(columns)

    def __call__(self) -> Values:
        if self._status.data().strip() == SUSPENDED:
            return self._asleep
        return tuple(value for reader in self._readers for value in reader())
