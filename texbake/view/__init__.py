"""The garment as a picture: a small software renderer, on the maps as they are baked."""

from texbake.view.draw import Scene, radiance, render
from texbake.view.frames import corner_normals, corner_tangents, model_of
from texbake.view.near import panel_to_show
from texbake.view.picture import SIZE_PX, VIEWS, show_each, show_picture
from texbake.view.read import read_albedo, read_set
from texbake.view.values import Camera, Cell, Ground, Light, Model
from texbake.view.views import AZIMUTHS_DEG, check_views

__all__ = [
    "AZIMUTHS_DEG",
    "SIZE_PX",
    "VIEWS",
    "Camera",
    "Cell",
    "Ground",
    "Light",
    "Model",
    "Scene",
    "check_views",
    "corner_normals",
    "corner_tangents",
    "model_of",
    "panel_to_show",
    "radiance",
    "read_albedo",
    "read_set",
    "render",
    "show_each",
    "show_picture",
]
