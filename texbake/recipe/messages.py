"""What pydantic found wrong, told to the person who wrote the recipe."""

from pathlib import Path
from typing import Any

from pydantic import ValidationError
from pydantic_core import ErrorDetails

from texbake.errors import UserError
from texbake.recipe.finish_keys import FinishKeys
from texbake.recipe.keys import Keys
from texbake.recipe.mistake import WrongValueError, advice, nearest, shown
from texbake.recipe.models import FABRICS, RecipeKeys
from texbake.recipe.shape import known
from texbake.recipe.shipped import fabric_names
from texbake.recipe.tree import Node, find, plain

At = tuple[int | str, ...]


def dotted(at: At) -> str:
    """Write a path as a colourway would: ``fabrics.drill.warp``."""
    return ".".join(map(str, at))


def told(what: str, fix: str, node: Node, at: At, path: Path, *, key: bool = False) -> UserError:
    """Return an error about the value at ``at``, or about its key."""
    line = node.key_line if key or isinstance(node.value, (dict, list)) else node.line
    where = f"{node.place}: " if node.place else ""
    where += f"{dotted(at)}: " if at else ""
    return UserError(f"{where}{what}", fix=fix, path=node.source or path, line=line)


def translate(
    found: ValidationError, tree: Node, path: Path, root: type[Keys] = RecipeKeys
) -> list[UserError]:
    """Return one error for each that pydantic met; empty values are told elsewhere.

    ``root`` is the model of the file, for one that is no recipe.
    """
    models = {at: model for at, model in known(plain(tree), root) if model is not None}
    errors = (_one(error, tree, models, path) for error in found.errors(include_url=False))
    return [error for error in errors if error is not None]


def _one(
    error: ErrorDetails, tree: Node, models: dict[At, type[Keys]], path: Path
) -> UserError | None:
    at, node = place(tree, error["loc"])
    if node.value is None:
        return None
    match error["type"]:
        case "extra_forbidden":
            what, fix = _unknown(str(at[-1]), models[at[:-1]], find(tree, at[:-1]))
            return told(what, fix, node, at, path, key=True)
        case "missing":
            return told(*_missing(str(error["loc"][-1]), models[at], at), node, at, path, key=True)
        case "value_error":
            return _mistake(error, node, at, path)
        case _:
            return told(*_form(error, models.get(at)), node, at, path)


def place(tree: Node, loc: At) -> tuple[At, Node]:
    """Return where pydantic's ``loc`` lies in the tree.

    Behind a fabric's name pydantic puts the tag of its model, and behind a short form
    (``thread: red``) the key that it stands for: neither is in the file.
    """
    if loc[:1] == ("fabrics",) and len(loc) > 2 and loc[2] in FABRICS:
        loc = (*loc[:2], *loc[3:])
    at: At = ()
    for part in loc:
        if find(tree, (*at, part)) is not None:
            at = (*at, part)
    node = find(tree, at)
    return at, tree if node is None else node


def _mistake(error: ErrorDetails, node: Node, at: At, path: Path) -> UserError:
    cause = error.get("ctx", {}).get("error")
    if not isinstance(cause, WrongValueError):
        raise TypeError(f"a validator raised {cause!r}, not a WrongValueError")
    of_key = error["loc"][-1:] == ("[key]",)
    inner = find(node, cause.at) if cause.at else None
    place_at = (*at, *cause.at) if inner is not None else at
    return told(cause.what, cause.fix, inner or node, place_at, path, key=of_key)


def _keys(model: type[Keys]) -> str:
    return f"a {model.noun} has: {', '.join(f.alias or k for k, f in model.model_fields.items())}"


def _unknown(key: str, model: type[Keys], parent: Node | None) -> tuple[str, str]:
    """Say why a key is not known, and which are."""
    if model in FABRICS.values():
        if key in FABRICS:
            stands = next(k for k in FABRICS if FABRICS[k] is model)
            what = f"a fabric has one structure, and {stands!r} stands here already"
            return what, f"keep one of {', '.join(FABRICS)}"
        for other in FABRICS.values():
            if key in other.model_fields:
                return _elsewhere(key, model, other, parent)
    what = f"a {model.noun} has no key {key!r}"
    if model is FinishKeys and any(key in fabric.model_fields for fabric in FABRICS.values()):
        return f"{what}, but its fabric has", f"write {key} beside finish, not in it"
    return what, advice(key, model.model_fields, _keys(model))


def _elsewhere(
    key: str, model: type[Keys], other: type[Keys], parent: Node | None
) -> tuple[str, str]:
    """Say why a key of another structure means nothing here."""
    structure = parent.value.get(model.noun) if parent is not None else None
    is_text = structure is not None and isinstance(structure.value, str)
    this = f"a {model.noun} ({structure.value})" if structure is not None and is_text else ""
    means = (other.model_fields[key].description or "").split(";")[0].rstrip(".").lower()
    what = f"{key!r} belongs to a {other.noun} ({means}), and this is {this or f'a {model.noun}'}"
    return what, f"take it out; {_keys(model)}"


def _missing(key: str, model: type[Keys], at: At) -> tuple[str, str]:
    if key in FABRICS:
        own = f"give it exactly one of {', '.join(FABRICS)}, as in weave: plain"
        return "the fabric has no structure", _brought(str(at[-1])) + own
    examples = model.model_fields[key].examples or ["..."]
    return f"a {model.noun} needs {key!r}", f"add {key}: {written(examples[0])}"


def _brought(name: str) -> str:
    """Say how a fabric comes to its structure that has, or nearly has, a shipped one's name."""
    shipped = fabric_names()
    if name in shipped:
        return f"Texbake brings one of this name: add include: {name}; or "
    near = nearest(name, shipped)
    return "" if near is None else f"did you mean {near!r}? With include: {near}; or "


def written(value: Any) -> str:  # noqa: ANN401  # any example
    """Write a value as a flow of YAML."""
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(map(written, value))}]"
    if isinstance(value, dict):
        return "{" + ", ".join(f"{written(k)}: {written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, bool):
        return str(value).lower()
    quoted = isinstance(value, str) and value.startswith(("#", "{", "-", "x.", "xx", "."))
    return f'"{value}"' if quoted else str(value)


def _form(error: ErrorDetails, model: type[Keys] | None) -> tuple[str, str]:
    """Say that a mapping or a list was needed."""
    found = f"found {shown(error['input'])}"
    if error["type"] == "list_type":
        return found, "write a list: each entry begins with - , or all stand in [ ]"
    if model is None:
        return found, "write a mapping: names, each followed by : and its value"
    return found, f"write a mapping of keys; {_keys(model)}"
