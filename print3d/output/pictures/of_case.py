"""Every picture of a case, drawn once and kept with it."""

from print3d.built import Built
from print3d.checks.limits import limits_of_case
from print3d.checks.pressure import is_pressed, pressed_at_rest
from print3d.checks.stiffness import is_in_effort, shown_in_effort
from print3d.kept import kept
from print3d.language.catalogue import text
from print3d.output.pictures.map_pictures import free_end_picture, map_pictures
from print3d.output.pictures.scene import Scene, build_scene
from print3d.output.pictures.views import Wearer, views_picture
from print3d.output.title import title_of

MAPS = ("pressure", "wall", "gap", "stress")
"""Maps that are also pictures."""


def picture_names(built: Built) -> list[str]:
    """Return the names of all pictures, before any is drawn."""
    is_there = {"pressure": is_pressed(built.findings), "stress": is_in_effort(built.findings)}
    maps = [name for name in MAPS if is_there.get(name, True)]
    return ["views", *maps, *(["free_end"] if built.modelled.freed else [])]


@kept
def scene_of(built: Built) -> Scene:
    """Return what pictures of maps and the report's viewer draw."""
    orthosis, limits = built.modelled, limits_of_case(built.case)
    return build_scene(built, shown_in_effort(orthosis, limits), pressed_at_rest(orthosis, limits))


@kept
def views_of(built: Built) -> bytes:
    """Return the orthosis on its limb from four sides, as PNG."""
    meshes, language = list(built.meshes.values()), built.case.header.language
    return views_picture(
        meshes, wearer_of(built), title=title_of(built.case), side=built.side, language=language
    )


def wearer_of(built: Built) -> Wearer:
    """Return the limb of a case with its marks and straps."""
    return Wearer(built.skin, built.skin_marks, [strap.body for strap in built.straps])


@kept
def pictures_of(built: Built) -> dict[str, bytes]:
    """Return every picture as PNG, by name."""
    scene, language = scene_of(built), built.case.header.language
    titles = {
        name: f"{text(f'report.picture.title_{name}', language)}: {built.case.mark}"
        for name in (*MAPS, "free_end")
    }
    maps = {name: titles[name] for name in MAPS if name in scene.scales}
    made = {"views": views_of(built), **map_pictures(scene, maps, language)}
    end = free_end_picture(scene, title=titles["free_end"], language=language)
    return made if end is None else {**made, "free_end": end}
