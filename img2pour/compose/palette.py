"""The colours of all pieces as one list: the artwork's first, then what the pieces bring."""

from __future__ import annotations

from collections.abc import Sequence

from img2pour.colour import ciede2000, lab_from_srgb, rgb_from_hex
from img2pour.errors import SettingsError
from img2pour.job.values import NamedHex
from img2pour.units import quoted

WOOD = "wood"

SAME_TO_THE_EYE = 2.0
"""CIEDE2000 between colours that are hardly told apart side by side; common practice, no source."""


class Colours:
    """Colours by name and ``#rrggbb``; asking for a new one adds it.

    Parameters
    ----------
    known : sequence of (name, hex)
    wood : int or None
        Index of the one that is wood.
    wood_hex : str
        How wood is shown where none of the known colours is it.
    """

    def __init__(self, known: Sequence[tuple[str, str]], wood: int | None, wood_hex: str) -> None:
        self.all: list[tuple[str, str]] = list(known)
        self._wood, self._wood_hex = wood, wood_hex

    @property
    def wood(self) -> int:
        """Index of the wood, added where there is none."""
        if self._wood is None:
            self._wood = self._add(WOOD, self._wood_hex)
        return self._wood

    @property
    def wood_if_any(self) -> int | None:
        """Index of the wood, or None."""
        return self._wood

    def of_piece(self, colour: NamedHex | None) -> int:
        """Return the index of a colour as a piece gives it; None is the wood.

        Raises
        ------
        SettingsError
            When only a name is given and no colour has it.
        """
        if colour is None:
            return self.wood
        code, name = colour
        if code:
            return self.of_hex(code, name or code)
        for index, (known, hex_) in enumerate(self.all):
            if name in {known, hex_}:
                return index
        if name == WOOD:
            return self.wood
        names = ", ".join(known for known, _ in self.all)
        raise SettingsError(
            f"a piece has the colour {quoted(name)}, but the artwork has {names}; correct the "
            f'name, or give a colour of its own like "#0b1f3a={name}"',
            name="colour",
            value=name,
        )

    def of_hex(self, code: str, name: str) -> int:
        """Return the index of a colour by its code, else by its name; it is added where new."""
        for index, (_, hex_) in enumerate(self.all):
            if hex_ == code:
                return index
        return self._add(name, code)

    def of_picture(self, code: str, name: str) -> int:
        """Return the index of a colour that was found in a picture.

        Two pictures hardly ever give the very same code: a known colour that no eye tells from it
        is it, and the two flow together.
        """
        if code not in {known for _, known in self.all}:
            found = lab_from_srgb([rgb_from_hex(known) for _, known in self.all] or [(0, 0, 0)])
            away = ciede2000(found, lab_from_srgb(rgb_from_hex(code)))
            nearest = int(away.argmin())
            if self.all and away[nearest] <= SAME_TO_THE_EYE:
                return nearest
        return self.of_hex(code, name)

    def _add(self, name: str, code: str) -> int:
        taken = {known for known, _ in self.all}
        number, free = 2, name
        while free in taken:
            free, number = f"{name} {number}", number + 1
        self.all.append((free, code))
        return len(self.all) - 1
