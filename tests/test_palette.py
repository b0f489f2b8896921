"""Finding the colours of art whose colours are known."""

import io
from collections.abc import Callable, Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from img2pour.colour import srgb_difference, srgb_from_linear
from img2pour.colours.pieces import find_pieces, find_runs
from img2pour.colours.wood import choose_wood, edge_share
from img2pour.errors import SettingsError
from img2pour.labels import label_picture
from img2pour.palette import Palette, find_palette
from img2pour.picture import picture_from_array

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

NAVY, SAND, RUST, MOSS, CREAM, PLUM = (
    (11, 31, 58),
    (233, 216, 166),
    (174, 62, 36),
    (74, 96, 46),
    (250, 246, 235),
    (96, 42, 88),
)
SIX = (NAVY, SAND, RUST, MOSS, CREAM, PLUM)


def cover_of_discs(
    size: int, discs: Sequence[tuple[float, float, float]], blur: float = 0
) -> list[Floats]:
    """Return how much of each pixel each disc covers (one ramp of a pixel, or blurred)."""
    y, x = np.mgrid[0:size, 0:size] + 0.5
    width = max(1.0, 3 * blur)
    return [np.clip((r - np.hypot(x - cx, y - cy)) / width + 0.5, 0, 1) for cx, cy, r in discs]


def paint(size: int, colours: Sequence[tuple[int, ...]], covers: Sequence[Floats]) -> Floats:
    """Lay colours over the first one, each where its cover says."""
    picture = np.tile(np.array(colours[0], dtype=float), (size, size, 1))
    for colour, cover in zip(colours[1:], covers, strict=True):
        picture += cover[..., None] * (np.array(colour, dtype=float) - picture)
    return picture


def five_discs(size: int = 400, blur: float = 0) -> Floats:
    discs = [
        (0.3 * size, 0.3 * size, 0.21 * size),
        (0.72 * size, 0.3 * size, 0.17 * size),
        (0.3 * size, 0.73 * size, 0.14 * size),
        (0.7 * size, 0.7 * size, 0.19 * size),
        (0.31 * size, 0.29 * size, 0.09 * size),
    ]
    return paint(size, SIX, cover_of_discs(size, discs, blur))


def rounded(picture: Floats) -> Bytes:
    return np.clip(np.rint(picture), 0, 255).astype(np.uint8)


def noisy(picture: Floats, sigma: float = 4.0) -> Bytes:
    return rounded(picture + np.random.default_rng(7).normal(0, sigma, picture.shape))


def as_jpeg(rgb: Bytes, quality: int) -> Bytes:
    target = io.BytesIO()
    Image.fromarray(rgb).save(target, "JPEG", quality=quality)
    return np.asarray(Image.open(io.BytesIO(target.getvalue())))


def palette_of(rgb: Bytes, wish: object = "auto") -> Palette:
    return find_palette(picture_from_array(np.ascontiguousarray(rgb)), wish)


def furthest(palette: Palette, colours: Sequence[tuple[int, ...]]) -> float:
    """Return the largest CIEDE2000 from a wanted colour to the nearest one found."""
    gaps = srgb_difference(np.array(colours, dtype=float)[:, None], palette.rgb[None])
    return float(gaps.min(axis=1).max())


SPOILT: dict[str, tuple[Callable[[], Bytes], float]] = {
    "clean": (lambda: rounded(five_discs()), 0.05),
    "blurred": (lambda: rounded(five_discs(blur=2)), 0.3),
    "noisy": (lambda: noisy(five_discs(blur=1)), 1.0),
    "jpeg 85": (lambda: as_jpeg(noisy(five_discs(blur=1)), 85), 1.0),
    "jpeg 75": (lambda: as_jpeg(rounded(five_discs()), 75), 1.5),
}


@pytest.mark.parametrize("kind", SPOILT)
def test_the_right_number_of_true_colours_is_found(kind: str) -> None:
    draw, allowed = SPOILT[kind]
    palette = palette_of(draw())
    assert len(palette.colours) == 6
    assert furthest(palette, SIX) <= allowed
    assert palette.explained_share > 0.9
    assert palette.notes == ()


def test_shares_are_those_of_the_areas() -> None:
    size = 400
    palette = palette_of(rounded(five_discs(size)))
    # The last disc lies inside the first, none of the others touch.
    areas = np.pi * np.array([0.21**2 - 0.09**2, 0.17**2, 0.14**2, 0.19**2, 0.09**2])
    wanted = dict(zip(SIX, [1 - areas.sum(), *areas], strict=True))
    shares = [colour.share for colour in palette.colours]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(1.0)
    for colour in palette.colours:
        nearest = min(SIX, key=lambda one: float(srgb_difference(one, colour.rgb)))
        assert colour.share == pytest.approx(wanted[nearest], abs=0.004)


def test_many_palettes_are_counted_right() -> None:
    random = np.random.default_rng(11)
    right = 0
    for number in (2, 3, 4, 5, 6, 8, 10, 12):
        colours: list[tuple[int, ...]] = []
        while len(colours) < number:
            colour = tuple(int(level) for level in random.integers(0, 256, 3))
            if all(srgb_difference(colour, other) >= 18 for other in colours):
                colours.append(colour)
        discs = [(*(random.uniform(40, 260, 2)), random.uniform(14, 50)) for _ in range(number - 1)]
        covers = cover_of_discs(300, discs)
        left = np.ones((300, 300))
        for cover in reversed(covers):
            left = left * (1 - cover)
        seen = [colours[0]]
        for at, cover in enumerate(covers):
            over = np.prod([1 - later for later in covers[at + 1 :]], axis=0) * cover
            if over.sum() > 150:
                seen.append(colours[at + 1])
        palette = palette_of(rounded(paint(300, colours, covers)))
        right += len(palette.colours) == len(seen) and furthest(palette, seen) < 0.3
    assert right == 8


@pytest.mark.parametrize("width", [2.0, 3.0, 5.0])
@pytest.mark.parametrize("quality", [None, 90])
def test_a_colour_of_thin_strokes_only_is_found(width: float, quality: int | None) -> None:
    size = 300
    y, x = np.mgrid[0:size, 0:size] + 0.5
    lines = [
        np.clip(width / 2 - np.abs((x - 150) * np.cos(a) + (y - 150) * np.sin(a)) + 0.5, 0, 1)
        for a in (0.2, 1.1, 2.3)
    ]
    stroke = np.max(lines, axis=0)
    disc = cover_of_discs(size, [(90.0, 200.0, 60.0)])[0]
    rgb = rounded(paint(size, (CREAM, RUST, NAVY), (disc, stroke)))
    palette = palette_of(rgb if quality is None else as_jpeg(rgb, quality))
    assert len(palette.colours) == 3
    allowed = 0.5 if quality is None else (12 if width < 3 else 6)
    assert furthest(palette, (CREAM, RUST, NAVY)) <= allowed


def test_a_colour_whose_light_varies_a_little_stays_one() -> None:
    picture = np.full((400, 400, 3), 249.0)
    picture[60:340, 60:340] = (202.4, 212.0, 219.2)
    y, x = np.mgrid[0:400, 0:400]
    drift = 2.5 * (np.cos(x / 40) * np.cos(y / 30))[..., None] * np.array([1, -1, 1])
    assert len(palette_of(noisy(picture + drift, 1)).colours) == 2


def test_dark_edges_that_overshoot_add_no_colour() -> None:
    picture = np.full((500, 500, 3), 249.0)
    y, x = np.mgrid[0:500, 0:500] + 0.5
    for cx, cy in ((130, 130), (370, 130), (130, 370), (370, 370)):
        away, turn = np.hypot(x - cx, y - cy), np.arctan2(y - cy, x - cx)
        cover = np.clip(90.5 - away, 0, 1)[..., None]
        picture += cover * (np.array((32.0, 32.0, 34.0)) - picture)
        picture[(away > 87) & (away < 89) & (turn % 0.5 < 0.25)] = (9, 10, 12)
    assert len(palette_of(rounded(picture)).colours) == 2


def test_blends_in_linear_light_add_no_colour_and_are_told() -> None:
    covers = cover_of_discs(300, [(100.0, 100.0, 60.0), (210.0, 200.0, 70.0)])
    light = [tuple((np.array(colour) / 255) ** 2.2) for colour in ((200, 30, 40), NAVY, MOSS)]
    linear = paint(300, light, covers)
    palette = palette_of(rounded(srgb_from_linear(linear)))
    assert len(palette.colours) == 3
    assert palette.look.linear_light
    assert not palette_of(rounded(five_discs())).look.linear_light


@pytest.mark.parametrize("sigma", [0.6, 1.0, 1.5, 2.0])
def test_blur_is_measured(sigma: float) -> None:
    cv2 = pytest.importorskip("cv2")
    picture = cv2.GaussianBlur(five_discs(), (0, 0), sigma)
    assert palette_of(rounded(picture)).blur_px == pytest.approx(sigma, abs=0.06)
    assert palette_of(noisy(picture, 3)).blur_px == pytest.approx(sigma, abs=0.1)


def test_clean_art_has_no_blur_and_no_noise() -> None:
    palette = palette_of(rounded(five_discs()))
    assert palette.blur_px < 0.2
    assert palette.noise < 0.1
    assert not palette.look.subsampled


@pytest.mark.parametrize("sigma", [2.0, 4.0, 8.0])
def test_noise_is_measured(sigma: float) -> None:
    assert palette_of(noisy(five_discs(), sigma)).noise == pytest.approx(sigma, rel=0.1)


def test_jpeg_with_coarse_colour_is_told() -> None:
    assert palette_of(as_jpeg(rounded(five_discs()), 85)).look.subsampled


@pytest.mark.parametrize("number", [1, 2, 4, 6])
def test_fewer_colours_keep_true_ones(number: int) -> None:
    palette = palette_of(rounded(five_discs()), number)
    assert len(palette.colours) == number
    for colour in palette.colours:
        assert min(srgb_difference(colour.rgb, one) for one in SIX) < 0.05


def test_more_colours_than_there_are_is_told() -> None:
    palette = palette_of(rounded(np.tile(np.array(RUST, dtype=float), (50, 60, 1))), 5)
    assert len(palette.colours) == 1
    assert palette.notes == ("The picture holds only 1 colours that can be told apart, not 5.",)


def test_one_flat_colour_is_a_palette() -> None:
    palette = palette_of(np.full((40, 50, 3), 200, dtype=np.uint8))
    assert [colour.hex for colour in palette.colours] == ["#c8c8c8"]
    assert palette.colours[0].share == 1.0
    assert palette.explained_share == 1.0


def test_a_fixed_list_keeps_order_names_and_codes() -> None:
    wish = (("#e9d8a6", "sand"), ("#0b1f3a", None), ("#ff00ff", "shocking"), ("#AE3E24", "sand"))
    palette = palette_of(rounded(five_discs()), wish)
    assert [colour.hex for colour in palette.colours] == [
        "#e9d8a6",
        "#0b1f3a",
        "#ff00ff",
        "#ae3e24",
    ]
    assert [colour.name for colour in palette.colours] == [
        "sand",
        "midnightblue",
        "shocking",
        "sand 2",
    ]
    assert "Colour shocking (#ff00ff) is not in the picture." in palette.notes


def test_a_fixed_colour_is_measured_in_the_picture() -> None:
    palette = palette_of(rounded(five_discs()), (("#122848", "navy"), ("#e9d8a6", None)))
    assert palette.colours[0].hex == "#122848"
    np.testing.assert_allclose(palette.colours[0].rgb, NAVY, atol=0.6)


def soft_tones() -> Bytes:
    """Return a grainy picture of soft tones, without any flat colour."""
    y, x = np.mgrid[0:300, 0:300] / 300
    portrait = np.stack([200 * x + 30, 120 * y + 90 * x + 20, 220 * (1 - x) * y + 15], axis=-1)
    return noisy(portrait, 6)


def test_a_picture_without_flat_colours_is_reduced_and_told() -> None:
    palette = palette_of(soft_tones())
    assert 2 <= len(palette.colours) <= 8
    assert palette.explained_share < 0.7
    assert "no clear flat colours" in palette.notes[0]
    assert f"{100 * palette.explained_share:.0f} %" in palette.notes[0]


def test_colours_of_our_own_choice_can_be_told_apart_in_resin() -> None:
    rgb = palette_of(soft_tones()).rgb
    gaps = srgb_difference(rgb[:, None], rgb[None])
    assert gaps[np.triu_indices(len(rgb), 1)].min() >= 6


def test_soft_tones_part_along_calm_lines() -> None:
    picture = picture_from_array(soft_tones())
    labels = label_picture(picture, find_palette(picture))
    pieces = np.unique(find_pieces(find_runs(labels)))
    # One for each tone, and the crumbs that are left where three meet; grain makes twice as many.
    assert len(pieces) < 40


def test_colours_too_close_for_resin_are_named() -> None:
    covers = cover_of_discs(200, [(100.0, 100.0, 60.0)])
    palette = palette_of(rounded(paint(200, ((90, 60, 40), (98, 68, 48)), covers)), 2)
    if len(palette.colours) == 2:
        assert any("hard to tell apart" in note for note in palette.notes)
    close = palette_of(rounded(five_discs()), (("#0b1f3a", "navy"), ("#0d2440", "ink")))
    assert any("navy" in note and "ink" in note and "resin" in note for note in close.notes)


def test_outside_pixels_do_not_count() -> None:
    rgb = rounded(five_discs())
    outside = np.zeros(rgb.shape[:2], dtype=bool)
    outside[:, :200] = True
    rgb[outside] = (0, 255, 0)
    palette = find_palette(picture_from_array(rgb, outside))
    assert furthest(palette, (NAVY, RUST, CREAM)) < 0.3
    assert all(srgb_difference(colour.rgb, (0, 255, 0)) > 20 for colour in palette.colours)
    assert sum(colour.share for colour in palette.colours) == pytest.approx(1.0)


def test_turned_and_mirrored_pictures_have_the_same_palette() -> None:
    rgb = as_jpeg(noisy(five_discs(300)), 85)
    palette = palette_of(rgb)
    for turned in (np.rot90(rgb), rgb[::-1], rgb[:, ::-1], rgb.swapaxes(0, 1)):
        again = palette_of(turned)
        assert again.colours == palette.colours
        assert again.blur_px == pytest.approx(palette.blur_px, abs=1e-9)


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (0, "out of range"),
        (65, "out of range"),
        (-3, "out of range"),
        ("many", "neither auto"),
        ((), "holds 0 colours"),
        ((("#12345", None),), "no colour code"),
        ((("#123456", None), ("123456", "again")), "given twice"),
        (tuple((f"#0000{at:02x}", None) for at in range(65)), "holds 65 colours"),
    ],
)
def test_wrong_wishes_are_one_clear_line(wish: object, words: str) -> None:
    with pytest.raises(SettingsError, match=words) as caught:
        palette_of(np.zeros((8, 8, 3), dtype=np.uint8), wish)
    assert "\n" not in str(caught.value)
    assert caught.value.name == "colours"


def bordered_labels() -> tuple[Bytes, Palette]:
    """Label a picture of 10 x 20 px whose left 6 columns are navy, all others sand."""
    rgb = np.empty((10, 20, 3), dtype=np.uint8)
    rgb[:, :6], rgb[:, 6:] = NAVY, SAND
    palette = palette_of(rgb, (("#0b1f3a", "navy"), ("#e9d8a6", "sand")))
    labels = np.ones((10, 20), dtype=np.uint8)
    labels[:, :6] = 0
    return labels, palette


def test_edge_share_counts_the_pixel_sides_along_the_border() -> None:
    labels, _ = bordered_labels()
    # 6 + 6 + 10 of the 60 sides are navy.
    np.testing.assert_allclose(edge_share(labels, 2), [22 / 60, 38 / 60])
    labels[:, 15:] = 255
    np.testing.assert_allclose(edge_share(labels, 2), [22 / 50, 28 / 50])


def test_wood_is_chosen_told_or_asked_for() -> None:
    labels, palette = bordered_labels()
    shares = edge_share(labels, 2)
    index, note = choose_wood(shares, palette, "auto")
    assert index == 1
    assert note == "sand is taken as the wood: it covers 63 % of the picture's edge."
    assert choose_wood(shares, palette, "none") == (None, "")
    assert choose_wood(shares, palette, "NAVY") == (0, "")
    assert choose_wood(shares, palette, "#0b1f3b") == (0, "")
    labels[:, :8] = 0
    with pytest.raises(SettingsError, match=r"sand covers most .* only 57 %.*navy, sand"):
        choose_wood(edge_share(labels, 2), palette, "auto")
    for wish in ("oak", "#00ff00"):
        with pytest.raises(SettingsError, match="no colour of the picture; choose one of"):
            choose_wood(shares, palette, wish)
