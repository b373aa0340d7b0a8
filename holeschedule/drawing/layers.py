"""What the geometry of each layer is for: the user's word, then the layer's name."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from holeschedule.errors import DrawingError
from holeschedule.model import Role
from holeschedule.tables import role_of_layer


@dataclass(frozen=True, slots=True)
class LayerRole:
    """A role that the user states; `diameter` [in] is that of the POINTs on a layer of holes."""

    role: Role
    diameter: float | None = None


@dataclass(frozen=True, slots=True)
class LayerRoles:
    """Roles by layer name. The user's word (`stated`) overrides the plain words in a name."""

    stated: Mapping[str, LayerRole] = field(default_factory=dict)

    def role_of(self, layer: str) -> Role | None:
        """The role of `layer`, None where geometry has to tell."""
        stated = self._stated(layer)
        return stated.role if stated else role_of_layer(layer)

    def is_stated(self, layer: str) -> bool:
        """Whether the user said what this layer is for."""
        return self._stated(layer) is not None

    def point_diameter(self, layer: str) -> float | None:
        """Diameter [in] of the holes that POINT entities on `layer` stand for."""
        stated = self._stated(layer)
        return stated.diameter if stated and stated.role is Role.HOLES else None

    def check_names(self, layers: Iterable[str], where: str) -> None:
        """Refuse a stated layer that the drawing does not have.

        Raises
        ------
        DrawingError
            With the layers the drawing has, sorted.
        """
        have = sorted(layers)
        known = {name.casefold() for name in have}
        for name in self.stated:
            if name.casefold() not in known:
                raise DrawingError(
                    f"{where}: no geometry on layer {name!r}; the layers with geometry are"
                    f" {', '.join(have) or 'none'}. Correct the --layer option."
                )

    def _stated(self, layer: str) -> LayerRole | None:
        # DXF layer names are the same in any case
        wanted = layer.casefold()
        return next((r for name, r in self.stated.items() if name.casefold() == wanted), None)
