"""Replaces entries in the text of a YAML mapping, and leaves every other character as it is."""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

PICKS = ("at", "object", "group", "material", "island", "islands")
_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_-]*")
_WORDS = frozenset({"true", "false", "null", "yes", "no", "on", "off"})


@dataclass(frozen=True, slots=True)
class _Edit:
    """Text that takes the place of ``[start, stop)``."""

    start: int
    stop: int
    text: str


@dataclass(frozen=True, slots=True)
class _Pair:
    """A key and its value, with their places."""

    key: str
    start: int
    column: int
    stop: int
    value: Any  # ruamel's node


def rename_panels(text: str, groups: Mapping[str, Mapping[str, tuple[int, ...]]]) -> str | None:
    """Name panels of a recipe by their islands.

    Parameters
    ----------
    text : str
        Of the recipe's file.
    groups : mapping of entry to panels and their islands
        What stands in the place of each entry of ``panels``; under "" what is added.

    Returns
    -------
    str or None
        None if the text is not of a form that can be changed here.
    """
    from ruamel.yaml import YAML
    from ruamel.yaml.error import YAMLError

    try:
        root = YAML(typ="safe", pure=True).compose(text)
    except YAMLError:
        return None
    break_ = "\r\n" if "\r\n" in text else "\n"
    panels = next((pair for pair in _pairs(root) if pair.key == "panels"), None)
    entries = {} if panels is None else {pair.key: pair for pair in _pairs(panels.value)}
    flow = panels is not None and bool(panels.value.flow_style)
    edits: list[_Edit] = []
    for entry, named in groups.items():
        if entry and entry not in entries:
            return None  # it stands in a file that this one includes
        if entry and [*named] == [entry]:
            edits += _picked(text, entries[entry], named[entry])
        elif entry:
            edits.append(_fanned(text, entries[entry], named, ", " if flow else break_))
    if added := groups.get(""):
        edits.append(_added(text, panels, added, break_))
    for edit in sorted(edits, key=lambda e: -e.start):
        text = text[: edit.start] + edit.text + text[edit.stop :]
    return text


def _pairs(node: Any) -> list[_Pair]:  # noqa: ANN401  # ruamel's node
    """Keys and values of a mapping; none of anything else."""
    if not hasattr(node, "flow_style") or not isinstance(node.value, list):
        return []
    pairs = [pair for pair in node.value if isinstance(pair, tuple)]
    return [
        _Pair(str(k.value), k.start_mark.index, k.start_mark.column, _stop(v), v) for k, v in pairs
    ]


def _stop(node: Any) -> int:  # noqa: ANN401  # ruamel's node
    """Where a value ends: block collections end with their last value, not with what follows."""
    inside = getattr(node, "value", None)
    if isinstance(inside, list) and inside and not node.flow_style:
        last = inside[-1]
        return _stop(last[1] if isinstance(last, tuple) else last)
    return int(node.end_mark.index)


def _picked(text: str, entry: _Pair, islands: tuple[int, ...]) -> list[_Edit]:
    """Put island numbers in the place of how an entry finds its panel."""
    pairs = _pairs(entry.value)
    picks = [pair for pair in pairs if pair.key in PICKS]
    if not picks:
        return []
    edits = [_Edit(picks[0].start, picks[0].stop, _islands(islands))]
    for pair in picks[1:]:
        if entry.value.flow_style:
            before = pairs[pairs.index(pair) - 1]
            edits.append(_Edit(before.stop, pair.stop, ""))
        else:
            line = text.rfind("\n", 0, pair.start) + 1
            edits.append(_Edit(line, _line_end(text, pair.stop) + 1, ""))
    return edits


def _fanned(text: str, entry: _Pair, named: Mapping[str, tuple[int, ...]], between: str) -> _Edit:
    """Put one entry for each panel in the place of one that stands for several."""
    whole = text[entry.start : entry.stop]
    copies = []
    for name, islands in named.items():
        copy = whole
        edits = _picked(text, entry, islands)
        key_stop = text.index(":", entry.start)
        edits.append(_Edit(entry.start, key_stop, _word(name)))
        for edit in sorted(edits, key=lambda e: -e.start):
            low, high = edit.start - entry.start, edit.stop - entry.start
            copy = copy[:low] + edit.text + copy[high:]
        copies.append(copy)
    gap = between if between == ", " else between + " " * entry.column
    return _Edit(entry.start, entry.stop, gap.join(copies))


def _added(
    text: str, panels: _Pair | None, named: Mapping[str, tuple[int, ...]], break_: str
) -> _Edit:
    """Add entries after the last one, or a mapping of panels at the end of the file."""
    lines = [f"{_word(name)}: {{{_islands(islands)}}}" for name, islands in named.items()]
    pairs = [] if panels is None else _pairs(panels.value)
    if panels is not None and pairs and panels.value.flow_style:
        return _Edit(pairs[-1].stop, pairs[-1].stop, "".join(f", {line}" for line in lines))
    if pairs:
        at = _line_end(text, pairs[-1].stop)
        at -= text[:at].endswith("\r")
        return _Edit(at, at, "".join(f"{break_}{' ' * pairs[-1].column}{line}" for line in lines))
    body = "".join(f"  {line}{break_}" for line in lines)
    gap = "" if text.endswith("\n") or not text else break_
    return _Edit(len(text), len(text), f"{gap}{break_}panels:{break_}{body}")


def _line_end(text: str, start: int) -> int:
    """Where the line ends, before its break."""
    found = text.find("\n", start)
    return len(text) if found < 0 else found


def _islands(islands: tuple[int, ...]) -> str:
    if len(islands) == 1:
        return f"island: {islands[0]}"
    return f"islands: [{', '.join(str(i) for i in islands)}]"


def _word(name: str) -> str:
    """Write a key, in quotes if it needs them."""
    plain = _PLAIN.fullmatch(name) and name.lower() not in _WORDS
    return name if plain else json.dumps(name, ensure_ascii=False)
