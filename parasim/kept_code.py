"""Machine code that was kept, checked before it runs; built on names of numba's own that a release may move.

Without them `parasim.compiled` leaves the keeping to numba, which runs what it finds unchecked.
"""

import hashlib
import pickle
import shutil
from pathlib import Path
from typing import Any

from numba.core import caching

from parasim.cache import without_cache


class _CheckedFile(caching.IndexDataCacheFile):
    """Files of one function; a digest goes before the machine code, which must not run when it is damaged."""

    def _save_data(self, name: str, data: Any) -> None:
        text = self._dump(data)
        with self._open_for_write(self._data_path(name)) as file:
            file.write(hashlib.sha256(text).digest() + text)

    def _load_data(self, name: str) -> Any:
        content = Path(self._data_path(name)).read_bytes()
        digest, text = content[:32], content[32:]
        if hashlib.sha256(text).digest() != digest:
            raise ValueError(f"{name} is damaged")
        return pickle.loads(text)


class KeptCode(caching.FunctionCache):
    """numba's cache of one function, which never stands in the way of compiling it."""

    def __init__(self, function: Any) -> None:
        super().__init__(function)
        own = self._cache_file
        self._cache_file = _CheckedFile(
            own._cache_path, own._index_name.removesuffix(".nbi"), own._source_stamp
        )

    def load_overload(self, signature: Any, target: Any) -> Any:
        """Machine code as it was kept; what cannot be read is removed, with all of this source state."""
        try:
            return super().load_overload(signature, target)
        except Exception:  # a damaged pickle can raise anything
            shutil.rmtree(self.cache_path, ignore_errors=True)
            return None

    def save_overload(self, signature: Any, code: Any) -> None:
        """Keep machine code, or warn once that there is no room for it."""
        if not _refused:
            try:
                super().save_overload(signature, code)
            except Exception as error:  # no room, or a numba that writes in another way
                _refused.append(str(self.cache_path))
                without_cache(Path(self.cache_path), getattr(error, "strerror", None) or str(error))


_refused: list[str] = []
"""Holds the directory once it could not be written in this process."""
