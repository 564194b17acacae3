"""Which keys may stand where in one recipe: the models, laid along its tree."""

from collections.abc import Iterator
from typing import Any, get_args, get_origin

from texbake.recipe.keys import Keys
from texbake.recipe.models import FABRICS, RecipeKeys, structure_of

Path = tuple[int | str, ...]


def known(
    data: dict[str, Any], root: type[Keys] = RecipeKeys
) -> Iterator[tuple[Path, type[Keys] | None]]:
    """Yield every path that may stand in this recipe, with the model of the mapping there.

    Names and list items are those that the recipe has; keys are all that the models allow.
    ``root`` is the model of the file, for one that is no recipe.
    """
    yield (), root
    yield from _below(root, data, ())


def _below(model: type[Keys], data: object, at: Path) -> Iterator[tuple[Path, type[Keys] | None]]:
    raw = data if isinstance(data, dict) else {}
    for key, field in model.model_fields.items():
        inner = inner_models(field.annotation)
        value = raw.get(key)
        if not inner:
            yield (*at, key), None
            if key == "colours" and isinstance(value, dict):  # names, which colourways may use
                yield from (((*at, key, name), None) for name in value)
        elif not (named := _items(field.annotation, value)):
            many = has_origin(field.annotation, dict) or has_origin(field.annotation, list)
            yield (*at, key), None if many else inner[0]
            if not many:
                yield from _below(inner[0], value, (*at, key))
        else:
            yield (*at, key), None
            for name, item in named:
                chosen = FABRICS[structure_of(item)] if len(inner) > 1 else inner[0]
                yield (*at, key, name), chosen
                yield from _below(chosen, item, (*at, key, name))


def _items(annotation: object, value: object) -> list[tuple[int | str, object]]:
    """Return the named or numbered items of a container, none for a single model."""
    if isinstance(value, dict) and has_origin(annotation, dict):
        return list(value.items())
    if isinstance(value, list) and has_origin(annotation, list):
        return list(enumerate(value))
    return []


def inner_models(annotation: object) -> list[type[Keys]]:
    """Return the models that an annotation leads to, through unions, lists and mappings."""
    if isinstance(annotation, type) and get_origin(annotation) is None:
        return [annotation] if issubclass(annotation, Keys) else []
    return [model for inner in get_args(annotation) for model in inner_models(inner)]


def has_origin(annotation: object, origin: type) -> bool:
    """Say whether an annotation is, or holds in a union, a ``dict`` or a ``list``."""
    if get_origin(annotation) is origin:
        return True
    return any(has_origin(inner, origin) for inner in get_args(annotation))
