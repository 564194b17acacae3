"""After a UV change: what was baked last, compared with the mesh as it is now."""

from texbake.change.follow import Followed, follow
from texbake.change.last import Last, look_back, remember, tell
from texbake.change.store import layout_path, read_kept, write_kept
from texbake.change.values import Kept

__all__ = [
    "Followed",
    "Kept",
    "Last",
    "follow",
    "layout_path",
    "look_back",
    "read_kept",
    "remember",
    "tell",
    "write_kept",
]
