"""A library that is not there or does not load: what is missing, and what to do about it."""

PACKAGE_OF = {
    "PIL": "pillow", "netgen": "netgen-mesher", "igl": "libigl", "OCP": "cadquery", "fontTools": "fonttools",
    "pydantic_core": "pydantic", "annotated_types": "annotated-types",
}  # fmt: skip
"""Module -> package, where the names differ."""
SYSTEM_LIBRARY = "cannot open shared object file"
CAD_KERNEL = ("cadquery", "OCP")


def missing_library(error: ImportError) -> str | None:
    """Return what is missing and how to get it.

    None if it is a module of this program, which is our own mistake.
    """
    module = (error.name or "").split(".")[0]
    # guard: library: does not load
    if SYSTEM_LIBRARY in str(error):
        library = str(error).split(":")[0]
        return (
            f"{module or 'a library'} needs the system's {library}, which is not installed; on Debian and Ubuntu: "
            "apt-get install libgl1 libx11-6"
        )
    # guard: library: our own mistake
    if not module or module == "print3d":
        return None
    package = PACKAGE_OF.get(module, module)
    left_out = "; or leave STEP out: --formats stl,3mf" if module in CAD_KERNEL else ""
    return f"{module} is not installed, print3d needs it; install it by: pip install {package}{left_out}"
