"""Pictures: what a camera sees against known shapes and an independent ray caster; what a reader takes from the sheet."""

from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image, ImageDraw

from print3d.geometry.mesh import Mesh
from print3d.geometry.mirror import mirror_for_side
from print3d.output.pictures.camera import Camera, Hits, visible
from print3d.output.pictures.hidden import draw_hidden, outlines, without_small_holes
from print3d.output.pictures.render import DrawnBody, corner_normals, render, sight
from print3d.output.pictures.views import FRAME, INK, SHEET, Wearer, bar_mm, shown_box, views, views_picture
from tests.output.conftest import RING_MM, TUBE_MM

X, Y, Z = np.eye(3)
ABOVE = Camera(-Z, X, np.zeros(3), 0.1, (300, 280))
SLANTED = Camera(
    np.array([0.6, 0.0, -0.8]), np.array([0.8, 0.0, 0.6]), np.array([1.0, 2.0, 0.5]), 0.1, (300, 280)
)


def by_rays(mesh: Mesh, camera: Camera) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Faces (h, w), weights (2, h, w) and depths (h, w) by one ray through the middle of each pixel, cast by Embree."""
    pytest.importorskip("embreex")
    from embreex.mesh_construction import TriangleMesh
    from embreex.rtcore_scene import EmbreeScene

    width, height = camera.size
    behind = 100.0
    across = camera.mm_per_pixel * (np.arange(width) - width / 2 + 0.5)[None, :, None] * camera.right
    down = camera.mm_per_pixel * (height / 2 - 0.5 - np.arange(height))[:, None, None] * camera.up
    origins = (camera.centre - behind * camera.forward + across + down).reshape(-1, 3).astype(np.float32)
    scene = EmbreeScene()
    TriangleMesh(scene, mesh.corners().astype(np.float32))
    directions = np.tile(camera.forward.astype(np.float32), (len(origins), 1))
    found = scene.run(origins, directions, query="INTERSECT", output=1)
    face = found["primID"].astype(np.int64)
    depth = np.where(face >= 0, found["tfar"] - behind, np.inf)
    weights = np.array([found["u"], found["v"]])
    return face.reshape(height, width), weights.reshape(2, height, width), depth.reshape(height, width)


def weights_of(hits: Hits) -> np.ndarray:
    """The weights (2, n) at every pixel that is hit."""
    return hits.weights(np.flatnonzero(hits.face >= 0))


def ball(radius_mm: float) -> Mesh:
    body = trimesh.creation.icosphere(4, radius_mm)
    return Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))


def block(size: tuple[float, float, float], centre: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> Mesh:
    body = trimesh.creation.box(size)
    return Mesh(np.asarray(body.vertices, dtype=float) + centre, np.asarray(body.faces, dtype=np.int64))


def dashed(part: Mesh, limb: Mesh, camera: Camera) -> np.ndarray:
    """Which pixels (h, w) the dashes around a part behind a limb take."""
    sheet = Image.new("RGB", camera.size, "white")
    seen = sight([DrawnBody(part, X), DrawnBody(limb, Y)], camera)
    draw_hidden(ImageDraw.Draw(sheet), (0, 0), seen, 1, camera.mm_per_pixel)
    return np.asarray(sheet).min(axis=2) < 255


def test_what_lies_behind_is_dashed_and_what_lies_in_front_is_not() -> None:
    """A block of 8 by 8 mm half behind a plate: dashes along its hidden sides, nothing along the sides that show."""
    plate, camera = block((20.0, 20.0, 1.0), (0.0, 10.0, 5.0)), ABOVE  # it covers what lies at y above 0
    found = dashed(block((8.0, 8.0, 1.0)), plate, camera)
    rows, columns = np.nonzero(found)
    right = camera.right @ Y  # -1 or 1: where y points in the picture
    y = right * (columns - camera.size[0] / 2) * camera.mm_per_pixel
    assert (y > -0.3).all()
    assert y.max() == pytest.approx(4.0, abs=0.3)
    x = (camera.size[1] / 2 - rows) * camera.mm_per_pixel
    assert np.abs(x).max() == pytest.approx(4.0, abs=0.3)
    length = np.count_nonzero(found) * camera.mm_per_pixel / 2.0  # lines are two pixels wide
    assert 0.4 * 16.0 < length < 0.85 * 16.0  # dashes and what is left out between them
    assert not dashed(block((8.0, 8.0, 1.0), (0.0, 0.0, 9.0)), plate, camera).any()


def test_an_outline_goes_once_around_and_leaves_small_holes_out() -> None:
    mask = np.zeros((40, 50), dtype=bool)
    mask[5:35, 10:40] = True
    mask[10:12, 15:17] = False  # a vent
    mask[20:30, 20:30] = False
    outer, inner, vent = sorted(outlines(mask), key=lambda each: -len(each.points))
    assert (len(outer.points), len(inner.points), len(vent.points)) == (120, 40, 8)
    assert all(mask[tuple(each.inside.T)].all() for each in (outer, inner, vent))
    assert len(list(outlines(without_small_holes(mask, 50.0)))) == 2
    assert list(outlines(np.zeros((4, 4), dtype=bool))) == []


def test_a_torus_is_seen_where_it_is(ring: Mesh) -> None:
    """From above: an annulus of pi (12^2 - 8^2) mm2 whose height is sqrt(2^2 - (r - 10)^2)."""
    hits = visible(ring, ABOVE)
    seen = hits.face >= 0
    assert np.array_equal(seen, np.isfinite(hits.depth))
    outer, inner = RING_MM + TUBE_MM, RING_MM - TUBE_MM
    assert seen.sum() * 0.1**2 == pytest.approx(np.pi * (outer**2 - inner**2), rel=0.01)
    rows, columns = np.nonzero(seen)
    across, along = 0.1 * (columns - 149.5), 0.1 * (139.5 - rows)
    off = np.hypot(across, along) - RING_MM
    inside = np.abs(off) < 1.2  # where the surface is less than 37 degrees steep
    height = np.sqrt(TUBE_MM**2 - off[inside] ** 2)
    assert (
        np.abs(-hits.depth[rows, columns][inside] - height).max() < 0.04
    )  # facets lie 12 (1 - cos(pi/64)) + 2 (1 - cos(pi/24)) = 0.032 mm below, over cos 37 degrees


def test_weights_lead_to_the_point_under_the_pixel(ring: Mesh) -> None:
    hits = visible(ring, SLANTED)
    rows, columns = np.nonzero(hits.face >= 0)
    b, c = weights_of(hits)
    corners = ring.corners()[hits.face[rows, columns]]
    shares = np.column_stack([1.0 - b - c, b, c])
    at = SLANTED.project(np.einsum("nk,nkj->nj", shares, corners))
    assert np.abs(at[:, 0] - columns).max() < 0.01
    assert np.abs(at[:, 1] - rows).max() < 0.01
    assert np.abs(at[:, 2] - hits.depth[rows, columns]).max() < 1e-3


def test_rays_see_the_same(ring: Mesh) -> None:
    face, weights, depth = by_rays(ring, SLANTED)
    hits = visible(ring, SLANTED)
    assert ((face >= 0) == (hits.face >= 0)).mean() > 0.9995
    both = (face >= 0) & (hits.face >= 0)
    same = both & (face == hits.face)
    assert same.sum() / both.sum() > 0.995  # the rest lies on edges
    assert np.quantile(np.abs(depth[both] - hits.depth[both]), 0.999) < 1e-3
    assert np.quantile(np.abs(weights[:, same] - hits.weights(np.flatnonzero(same))), 0.999) < 1e-2


@pytest.mark.parametrize("turn_deg", [0.0, 45.0, 30.0])
def test_neighbours_leave_no_gap(turn_deg: float) -> None:
    """Triangles with corners and edges in the middles of pixels: each pixel inside the outline is hit, each outside is not."""
    body = trimesh.creation.box((64.0, 64.0, 2.0)).subdivide().subdivide().subdivide()
    mesh = Mesh(np.asarray(body.vertices, dtype=float), np.asarray(body.faces, dtype=np.int64))
    turn = np.radians(turn_deg)
    up = np.array([np.cos(turn), np.sin(turn), 0.0])
    camera = Camera(-Z, up, np.zeros(3), 1.0, (101, 101))
    hits = visible(mesh, camera)
    rows, columns = np.indices(hits.face.shape)
    at = (columns[..., None] - 50) * camera.right + (50 - rows[..., None]) * up
    out = np.abs(at[..., :2]).max(axis=-1)
    assert (hits.face[out < 31.99] >= 0).all()
    assert (hits.face[out > 32.01] < 0).all()
    assert hits.depth[out < 31.99] == pytest.approx(-1.0, abs=1e-6)


def test_large_triangles_and_those_beyond_the_picture_are_seen() -> None:
    camera = Camera(-Z, X, np.array([3.0, 1.0, 0.0]), 0.05, (64, 48))
    hits = visible(block((400.0, 300.0, 2.0)), camera)  # fills the picture and far more
    assert (hits.face >= 0).all()
    assert hits.depth == pytest.approx(-1.0, abs=1e-4)
    nothing = visible(block((1.0, 1.0, 1.0), (50.0, 0.0, 0.0)), camera)
    assert (nothing.face == -1).all()


@pytest.mark.parametrize("order", [1, -1])
def test_the_nearest_surface_wins(order: int) -> None:
    """A small ball above a large one, in one mesh: from above the small one shows, in either order of the faces."""
    large, small = ball(4.0), ball(2.0)
    both = Mesh(
        np.vstack([large.vertices, small.vertices + [0.0, 0.0, 9.0]]),
        np.vstack([large.faces, small.faces + len(large.vertices)])[::order],
    )
    hits = visible(both, Camera(-Z, X, np.zeros(3), 0.1, (90, 90)))
    rows, columns = np.nonzero(hits.face >= 0)
    off = 0.1 * np.hypot(columns - 44.5, rows - 44.5)
    height = both.corners()[hits.face[rows, columns]].mean(axis=1)[:, 2]
    assert (height[off < 1.9] > 9.0).all()
    assert (height[off > 2.1] < 4.0).all()


def test_a_window_shows_the_same_pixels(ring: Mesh) -> None:
    camera = Camera(-Z, X, np.array([5.0, -3.0, 0.0]), 0.13, (120, 90))
    part, (rows, columns) = camera.window(ring.vertices)
    whole, windowed = visible(ring, camera), visible(ring, part)
    assert (windowed.face >= 0).sum() == (whole.face >= 0).sum()
    assert (windowed.face != whole.face[rows, columns]).mean() < 0.001


def test_light_is_round_on_round_bodies_and_sharp_at_creases(ring: Mesh) -> None:
    box = block((1.0, 2.0, 3.0))
    areas = box.area_vectors()
    flat = areas / np.linalg.norm(areas, axis=1, keepdims=True)
    assert np.abs(corner_normals(box) - flat[:, None, :]).max() < 1e-12
    points = ring.corners()
    spine = points * [1.0, 1.0, 0.0]
    spine *= RING_MM / np.linalg.norm(spine, axis=-1, keepdims=True)
    true = (points - spine) / TUBE_MM
    assert np.einsum("ijk,ijk->ij", corner_normals(ring), true).min() > np.cos(np.radians(2.0))


def test_a_translucent_body_tints_only_what_lies_behind_it() -> None:
    red, blue = np.array([0.8, 0.1, 0.1]), np.array([0.1, 0.1, 0.8])
    camera = Camera(-Z, X, np.zeros(3), 0.2, (80, 60))
    inner = DrawnBody(ball(3.0), red, has_lines=False)

    def shown(opacity: float) -> np.ndarray:
        return render([inner, DrawnBody(ball(5.0), blue, opacity, has_lines=False)], camera).astype(float)

    solid, half, clear = shown(1.0), shown(0.5), shown(0.0)
    middle, edge, corner = (30, 40), (30, 61), (2, 2)
    assert half[middle] == pytest.approx((solid[middle] + clear[middle]) / 2, abs=1.0)
    assert clear[middle][0] > 3 * clear[middle][2]  # the red one behind
    assert solid[middle][2] > 3 * solid[middle][0]
    for picture in (solid, half, clear):
        assert picture[edge] == pytest.approx(solid[edge])  # nothing behind: solid at any opacity
        assert picture[corner] == pytest.approx(255.0)


def test_a_translucent_body_with_nothing_behind_it_is_solid_below_others() -> None:
    camera, red = Camera(-Z, X, np.zeros(3), 0.2, (80, 60)), np.array([0.8, 0.1, 0.1])
    clear = DrawnBody(ball(5.0), np.ones(3), 0.0, has_lines=False)
    faint, solid = (
        render([DrawnBody(ball(3.0), red, opacity, has_lines=False), clear], camera) for opacity in (0.2, 1.0)
    )
    assert np.array_equal(faint, solid)


def test_one_sight_serves_many_colours() -> None:
    """Hidden, translucent and plain bodies in new colours look as if they had been drawn in these."""
    camera = Camera(-Z, X, np.zeros(3), 0.2, (80, 60))
    inner, outer = ball(3.0), ball(5.0)
    drawn = [DrawnBody(inner, np.ones(3)), DrawnBody(outer, np.ones(3), 0.5, has_lines=False)]
    red, by_height = np.array([0.9, 0.1, 0.1]), np.tile(outer.vertices[:, :1] / 10.0 + 0.5, (1, 3))
    seen = sight(drawn, camera)
    for colours in ([red, by_height], [by_height[: len(inner.vertices)], red]):
        bodies = [
            DrawnBody(body.mesh, colour, body.opacity, body.has_lines)
            for body, colour in zip(drawn, colours, strict=True)
        ]
        assert np.array_equal(seen.picture(colours), render(bodies, camera))
    assert not np.array_equal(seen.picture([red, red]), seen.picture([red, by_height]))


def test_bodies_beyond_the_picture_leave_it_white() -> None:
    far = DrawnBody(block((1.0, 1.0, 1.0), (50.0, 0.0, 0.0)), np.zeros(3))
    assert (render([far], Camera(-Z, X, np.zeros(3), 0.1, (64, 48))) == 255).all()
    beside = DrawnBody(block((1.0, 1.0, 1.0)), np.zeros(3))
    alone, both = (
        render(each, Camera(-Z, X, np.zeros(3), 0.1, (64, 48))) for each in ([beside], [far, beside])
    )
    assert np.array_equal(alone, both)


def test_outlines_are_smooth(ring: Mesh) -> None:
    picture = render([DrawnBody(ring, np.zeros(3), has_lines=False)], ABOVE)
    levels = set(np.unique(picture))
    assert levels == {0, 64, 128, 191, 255}  # 0 to 4 of 4 samples


def test_a_map_blends_between_vertices() -> None:
    body = block((20.0, 10.0, 2.0))
    share = body.vertices[:, 0] / 20.0 + 0.5
    colours = np.column_stack([share, np.zeros(8), 1.0 - share])
    picture = render(
        [DrawnBody(body, colours, has_lines=False)], Camera(-Z, Y, np.zeros(3), 0.1, (240, 140))
    ).astype(float)
    row = picture[70, 25:215]
    measured = row[:, 0] / (row[:, 0] + row[:, 2])
    expected = (np.arange(25, 215) - 119.5) * 0.1 / 20.0 + 0.5
    assert np.abs(measured - expected).max() < 0.01


def test_letters_and_edges_are_drawn() -> None:
    """A step of 0.4 mm, as raised letters have, is a dark line seen from straight above; a plain face has none."""
    camera = Camera(-Z, X, np.zeros(3), 0.1, (160, 120))
    plain, letter = block((10.0, 14.0, 2.0)), block((4.0, 4.0, 0.4), (0.0, 0.0, 1.2))
    lines = render([DrawnBody(plain, np.ones(3) * 0.8), DrawnBody(letter, np.ones(3) * 0.8)], camera)[
        :, :, 0
    ].astype(int)
    face = lines[60, 20]
    assert lines[30, 80] == face
    assert lines[60, 80] == face
    assert lines[60, 58:63].min() < 0.75 * face  # the letter's edge, 2 mm from the middle


def test_views_follow_the_anatomy() -> None:
    """Right hand, palm down, seen from above with the fingers away: the thumb, the radial side, is on the left."""
    dorsal, volar, radial, ulnar = views("right")
    assert [view.name for view in (dorsal, volar, radial, ulnar)] == ["Dorsal", "Volar", "Radial", "Ulnar"]
    assert np.cross(dorsal.forward, dorsal.up) @ Y == -1.0
    for side in ("right", "left"):
        thumb = Y if side == "right" else -Y
        for view in views(side):
            right = np.cross(view.forward, view.up)
            assert (
                view.forward @ {"Dorsal": -Z, "Volar": Z, "Radial": -thumb, "Ulnar": thumb}[view.name] == 1.0
            )
            if view.across[0]:
                assert {"radial": 1.0, "ulnar": -1.0}[view.across[1]] == right @ thumb
    panels = np.array([view.panel for view in views("right")])
    assert (panels[:, :2] + panels[:, 2:] <= SHEET).all()
    assert (panels[:, 2] * panels[:, 3]).sum() == SHEET[0] * (
        SHEET[1] - panels[:, 1].min()
    )  # no gap, no overlap


def sheet(path: Path) -> np.ndarray:
    shell, limb = block((40.0, 20.0, 3.0), (30.0, 4.0, -9.0)), block((90.0, 16.0, 15.0), (20.0, 4.0, 0.0))
    path.write_bytes(
        views_picture(
            [mirror_for_side(shell, "left")],
            Wearer(mirror_for_side(limb, "left")),
            title="PY-001",
            side="left",
        )
    )
    return np.asarray(Image.open(path).convert("RGB")).astype(int)


@pytest.fixture(scope="module")
def left_sheet(tmp_path_factory: pytest.TempPathFactory) -> np.ndarray:
    """The sheet of a block on a block."""
    return sheet(tmp_path_factory.mktemp("sheet") / "views.png")


def test_the_bar_measures_the_orthosis(left_sheet: np.ndarray) -> None:
    """In the volar view nothing hides the shell of 40 x 20 mm: count its pixels with the bar drawn beneath it."""
    assert left_sheet.shape == (*SHEET[::-1], 3)
    frame = (np.abs(left_sheet[200:900] - FRAME).max(axis=2) == 0).all(axis=0)
    left = int(np.flatnonzero(frame[20:])[0]) + 21  # the first line between two panels
    volar = left_sheet[:, left : 2 * left]
    shell = volar[:, :, 2] - volar[:, :, 0] > 60
    dark = np.abs(volar - INK).max(axis=2) < 8
    rows, columns = np.nonzero(shell)
    pixels_per_mm = (np.ptp(rows) + 1) / 40.0
    assert (np.ptp(columns) + 1) / pixels_per_mm == pytest.approx(20.0, abs=0.3)
    bar = max(run_length(row) for row in dark[-60:])
    assert bar / pixels_per_mm == pytest.approx(bar_mm(1.0 / pixels_per_mm), abs=0.3)


def run_length(row: np.ndarray) -> int:
    """Longest run of true values."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], row.astype(int), [0]])))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def test_bars_are_round_and_fit() -> None:
    for mm_per_pixel in np.geomspace(0.01, 1.0, 40):
        assert int(str(bar_mm(mm_per_pixel)).rstrip("0")) in (1, 2, 5)
        assert 80 <= bar_mm(mm_per_pixel) / mm_per_pixel <= 200


def test_the_picture_shows_orthosis_and_fingertip() -> None:
    shell, limb = block((40.0, 20.0, 3.0), (30.0, 4.0, -9.0)), block((190.0, 16.0, 25.0), (-20.0, 4.0, 0.0))
    assert shown_box([shell], limb) == pytest.approx(np.array([[-2.0, -6.0, -12.5], [75.0, 14.0, 12.5]]))
    short = block((20.0, 16.0, 15.0), (30.0, 4.0, 0.0))  # a limb that ends inside the shell
    assert shown_box([shell], short) == pytest.approx(np.array([[10.0, -6.0, -10.5], [50.0, 14.0, 7.5]]))
