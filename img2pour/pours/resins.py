"""The table of resins: plain generic names, every figure the user's to change."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from pathlib import Path
from typing import TypeGuard

from img2pour.errors import SettingsError
from img2pour.units import quoted

DATA_SHEET_NOTICE = (
    "The resin's own data sheet governs: check ratio, depth, pot life and cure against it."
)
AGREEMENT = 0.02  # two ratios of one data sheet may differ by rounding; own judgement
POT_LIFE_HALVES_PER_C = 10.0  # common practice: pot life about halves for each 10 C (18 F) more


@dataclass(frozen=True)
class Resin:
    """A two-part resin, as its data sheet describes it.

    Attributes
    ----------
    name : str
        Its plain name.
    parts_a, parts_b : float
        Parts by volume of resin and hardener.
    density_a_g_per_ml, density_b_g_per_ml : float
        Density of each part.
    pot_life_min, pot_life_c, pot_life_g : float
        Minutes in the pot at that temperature, for that mass of mixed resin.
    least_depth_mm, greatest_depth_mm : float
        Of one pour.
    cure_hours : float
        At 21 C, until it can be cut.
    price_per_litre : float
        Of mixed resin, in the user's own money.
    pigment_share : float
        By weight of the mixed resin, 0 to 0.1.
    """

    name: str
    parts_a: float
    parts_b: float
    density_a_g_per_ml: float
    density_b_g_per_ml: float
    pot_life_min: float
    pot_life_c: float
    pot_life_g: float
    least_depth_mm: float
    greatest_depth_mm: float
    cure_hours: float
    price_per_litre: float
    pigment_share: float

    @property
    def share_a(self) -> float:
        """Share by volume of part A."""
        return self.parts_a / (self.parts_a + self.parts_b)

    @property
    def parts_b_by_weight(self) -> float:
        """Grams of part B for each 100 g of part A: 100 (b rho_b) / (a rho_a)."""
        weight_a = self.parts_a * self.density_a_g_per_ml
        return 100.0 * self.parts_b * self.density_b_g_per_ml / weight_a

    @property
    def mixed_density_g_per_ml(self) -> float:
        """Density of the mix if volumes add: (a rho_a + b rho_b) / (a + b)."""
        weight = self.parts_a * self.density_a_g_per_ml + self.parts_b * self.density_b_g_per_ml
        return weight / (self.parts_a + self.parts_b)

    def pot_life_at_min(self, temperature_c: float) -> float:
        """Minutes in the pot at another temperature: t0 2^-((T - T0) / 10 C); a rule of thumb.

        More mass in one cup shortens it further, spreading it out makes it longer.
        """
        warmer_c = temperature_c - self.pot_life_c
        return float(self.pot_life_min * 2.0 ** (-warmer_c / POT_LIFE_HALVES_PER_C))


# Key in the file -> (attribute, least, greatest): what is allowed, both ends included.
_NUMBERS: dict[str, tuple[float, float]] = {
    "density_a_g_per_ml": (0.5, 3.0),
    "density_b_g_per_ml": (0.5, 3.0),
    "pot_life_min": (1.0, 1440.0),
    "pot_life_c": (5.0, 40.0),
    "pot_life_g": (10.0, 5000.0),
    "least_depth_mm": (0.05, 100.0),
    "greatest_depth_mm": (0.1, 300.0),
    "cure_hours": (0.5, 720.0),
    "price_per_litre": (0.0, 10000.0),
    "pigment_share": (0.0, 0.1),
}
_RATIOS = ("parts_by_volume", "parts_by_weight")
_KEYS = ("name", *_RATIOS, *_NUMBERS)


def standard_resins() -> tuple[Resin, ...]:
    """Return the table that comes with img2pour."""
    text = files("img2pour.pours").joinpath("resins.toml").read_text(encoding="utf-8")
    return read_resins(text, source="resins.toml", known=())


def read_resins(
    text: str, *, source: str = "resins.toml", known: Iterable[Resin] | None = None
) -> tuple[Resin, ...]:
    """Read a table of resins over the `known` ones (the standard table unless given).

    A name that is known changes only the figures that are given; a new name needs all of them.

    Parameters
    ----------
    text : str
        TOML with one ``[[resin]]`` for each.
    source : str
        The file's name, for messages.
    known : iterable of Resin, optional
        What the file builds on.

    Raises
    ------
    SettingsError
        Naming every fault of the file at once, one a line, each with its place.
    """
    table = {resin.name: resin for resin in (standard_resins() if known is None else known)}
    entries = _entries(text, source)
    faults: list[tuple[int, str]] = []
    seen: set[str] = set()
    for number, entry in enumerate(entries):
        here = _Entry(entry, source, text, number, faults)
        resin = here.resin(table, seen)
        if resin is not None:
            table[resin.name] = resin
    if faults:
        raise SettingsError("\n".join(words for _, words in sorted(faults)), name="resins")
    return tuple(table.values())


def load_resins(path: Path | None) -> tuple[Resin, ...]:
    """Return the standard table, with the file's laid over it if there is one.

    Raises
    ------
    SettingsError
        When the file cannot be read or is wrong.
    """
    if path is None:
        return standard_resins()
    from img2pour.job.reading import load_text

    return read_resins(load_text(path, "table of resins"), source=path.name)


def find_resin(resins: Iterable[Resin], name: str) -> Resin:
    """Return the resin of that name.

    Raises
    ------
    SettingsError
        When there is none, saying which there are.
    """
    table = {resin.name: resin for resin in resins}
    if name in table:
        return table[name]
    message = f"there is no resin {quoted(name)}; there are: {', '.join(table)}"
    raise SettingsError(message, name="resin", value=name)


def _entries(text: str, source: str) -> list[Mapping[str, object]]:
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as why:
        raise SettingsError(f"{source}: not readable as TOML: {why}", name="resins") from why
    strangers = [key for key in content if key != "resin"]
    entries = content.get("resin", [])
    if strangers or not isinstance(entries, list) or not all(isinstance(e, dict) for e in entries):
        found = f"; it has {', '.join(map(quoted, strangers))}" if strangers else ""
        raise SettingsError(f"{source}: write each resin below a line [[resin]]{found}")
    return entries


@dataclass(frozen=True)
class _Entry:
    """One [[resin]] of a file while it is being read; faults go to the shared list."""

    values: Mapping[str, object]
    source: str
    text: str
    number: int
    faults: list[tuple[int, str]]

    def resin(self, table: Mapping[str, Resin], seen: set[str]) -> Resin | None:
        before = len(self.faults)
        name = self._name(seen)
        for key in self.values:
            if key not in _KEYS:
                self._fault(key, f"{quoted(key)} is not known; known are: {', '.join(_KEYS)}")
        base = table.get(name)
        if base is None:
            self._fault_what_is_missing()
        figures = {key: self._number(key) for key in _NUMBERS if key in self.values}
        ratios = {key: self._ratio(key) for key in _RATIOS if key in self.values}
        if len(self.faults) > before:
            return None
        resin = _with_figures(base, name, figures)
        resin = self._with_ratio(resin, ratios)
        return self._checked(resin) if len(self.faults) == before else None

    def _fault(self, key: str, words: str) -> None:
        line = self._line(key)
        self.faults.append((line, f"{self.source}, line {line}: {words}"))

    def _line(self, key: str) -> int:
        """Return the line of a key of this entry, or of its header where the key has none."""
        lines = self.text.splitlines()
        headers = [i for i, line in enumerate(lines) if re.match(r"\s*\[\[\s*resin\s*\]\]", line)]
        if self.number >= len(headers):  # written as an inline array
            return 1
        start = headers[self.number]
        end = headers[self.number + 1] if self.number + 1 < len(headers) else len(lines)
        pattern = re.compile(rf"\s*[\"']?{re.escape(key)}[\"']?\s*=")
        return 1 + next((i for i in range(start, end) if pattern.match(lines[i])), start)

    def _name(self, seen: set[str]) -> str:
        name = self.values.get("name")
        if not isinstance(name, str) or not name.strip() or not name.isprintable():
            self._fault("name", 'each [[resin]] needs a name, like name = "casting 2:1"')
            return ""
        if name in seen:
            self._fault("name", f"{quoted(name)} is there twice; keep one")
        seen.add(name)
        return name

    def _fault_what_is_missing(self) -> None:
        missing = [key for key in _NUMBERS if key not in self.values]
        if not any(key in self.values for key in _RATIOS):
            missing.insert(0, "parts_by_volume (or parts_by_weight)")
        if missing:
            name = quoted(self.values.get("name", ""))
            self._fault("name", f"{name} is new, so it also needs: {', '.join(missing)}")

    def _number(self, key: str) -> float:
        least, greatest = _NUMBERS[key]
        value = self.values[key]
        if _is_number(value) and least <= float(value) <= greatest:
            return float(value)
        self._fault(key, f"{key} is {quoted(value)}; write a number from {least:g} to {greatest:g}")
        return math.nan

    def _ratio(self, key: str) -> tuple[float, float]:
        value = self.values[key]
        good = isinstance(value, list) and len(value) == 2 and all(map(_is_number, value))
        if good and all(0.01 <= float(part) <= 1000 for part in value):  # type: ignore[attr-defined]
            return float(value[0]), float(value[1])  # type: ignore[index]
        self._fault(
            key,
            f"{key} is {quoted(value)}; write two numbers above 0: resin, hardener, like [2, 1]",
        )
        return math.nan, math.nan

    def _with_ratio(self, resin: Resin, ratios: Mapping[str, tuple[float, float]]) -> Resin:
        by_weight = ratios.get("parts_by_weight")
        by_volume = ratios.get("parts_by_volume")
        if by_weight is not None:
            from_weight = (
                by_weight[0] / resin.density_a_g_per_ml,
                by_weight[1] / resin.density_b_g_per_ml,
            )
            if by_volume is None:
                return replace(resin, parts_a=from_weight[0], parts_b=from_weight[1])
            off = (from_weight[0] / from_weight[1]) / (by_volume[0] / by_volume[1]) - 1.0
            if abs(off) > AGREEMENT:
                self._fault(
                    "parts_by_weight",
                    f"parts by weight and by volume differ by {abs(off):.0%} at these densities; "
                    "check all four against the data sheet",
                )
        if by_volume is not None:
            return replace(resin, parts_a=by_volume[0], parts_b=by_volume[1])
        return resin

    def _checked(self, resin: Resin) -> Resin:
        if resin.least_depth_mm > resin.greatest_depth_mm:
            self._fault(
                "least_depth_mm",
                f"{quoted(resin.name)}: the least depth ({resin.least_depth_mm:g} mm) is more than "
                f"the greatest ({resin.greatest_depth_mm:g} mm)",
            )
        return resin


def _with_figures(base: Resin | None, name: str, figures: Mapping[str, float]) -> Resin:
    if base is None:
        return Resin(name=name, parts_a=1.0, parts_b=1.0, **figures)
    return replace(base, **figures)  # type: ignore[arg-type]  # only floats, never the name


def _is_number(value: object) -> TypeGuard[float]:
    return (
        isinstance(value, int | float)
        and not isinstance(value, bool)
        and math.isfinite(float(value))
    )
