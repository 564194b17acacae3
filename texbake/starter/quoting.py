"""Text as YAML: plain where nobody could misread it, else in double quotes."""

import json
import re

_PLAIN = re.compile(r"(?:\.\./)*[A-Za-z_][A-Za-z0-9_]*(?:[-./][A-Za-z0-9_]+)*")
# What some YAML reader takes for a truth value, a nothing or a number (1.1 and 1.2).
_WORDS = frozenset({"null", "true", "false", "yes", "no", "on", "off", "y", "n"})


def scalar(text: str) -> str:
    """Write text as a YAML scalar that reads back as the same text.

    Parameters
    ----------
    text : str
        Printable.

    >>> print(scalar("front-left"), scalar("lining: inner"), scalar("on"))
    front-left "lining: inner" "on"
    """
    if _PLAIN.fullmatch(text) and text.lower() not in _WORDS:
        return text
    return json.dumps(text, ensure_ascii=False)
