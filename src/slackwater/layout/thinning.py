"""Meshes and beds as a screen shows them: few triangles, the same outline. Nothing is counted with these."""

from __future__ import annotations

import numpy as np

from slackwater.layout.scene import Bed, Faces, Floats

FIRST_CELLS = 64
"""Cells along the longest side that a mesh is first laid into."""


def thinned(vertices_m: Floats, faces: Faces, most: int) -> tuple[Floats, Faces]:
    """A mesh of at most so many triangles, or the mesh itself where it has no more.

    Parameters
    ----------
    vertices_m : array [n, 3]
    faces : array [m, 3]
    most : int
        [at least 12]

    Returns
    -------
    vertices, faces

    References
    ----------
    J. Rossignac and P. Borrel (1993): corners within one cell of a grid become one corner, their mean.
    """
    low, high = vertices_m.min(axis=0), vertices_m.max(axis=0)
    longest = max(float((high - low).max()), 1e-9)
    cells = float(FIRST_CELLS)
    found = vertices_m, faces
    while len(found[1]) > most and cells >= 2:
        found = _clustered(vertices_m, faces, low, longest / cells)
        cells *= 0.8
    return found


def _clustered(vertices_m: Floats, faces: Faces, low: Floats, cell_m: float) -> tuple[Floats, Faces]:
    places = np.floor((vertices_m - low) / cell_m).astype(np.int64)
    along = int(places.max()) + 1
    # One number a cell sorts as the three do, and sorting it costs a tenth.
    _, of, counts = np.unique(places @ (along * along, along, 1), return_inverse=True, return_counts=True)
    sums = np.stack([np.bincount(of, weights=vertices_m[:, axis], minlength=len(counts)) for axis in range(3)], axis=1)
    corners = of[faces]
    flat = (corners[:, 0] == corners[:, 1]) | (corners[:, 1] == corners[:, 2]) | (corners[:, 2] == corners[:, 0])
    return sums / counts[:, None], corners[~flat].astype(np.int32)


def spread(count: int, most: int) -> np.ndarray[tuple[int], np.dtype[np.intp]]:
    """Numbers of at most so many of `count` nodes, evenly, the first and the last among them."""
    return np.unique(np.linspace(0, count - 1, min(count, most)).round().astype(np.intp))


def shown_bed(bed: Bed, most: int) -> tuple[Floats, Floats, Floats]:
    """x, y and heights of at most about so many nodes of a bed."""
    share = min(1.0, (most / (len(bed.x_m) * len(bed.y_m))) ** 0.5)
    columns = spread(len(bed.x_m), max(2, int(len(bed.x_m) * share)))
    rows = spread(len(bed.y_m), max(2, int(len(bed.y_m) * share)))
    return bed.x_m[columns], bed.y_m[rows], bed.top_m[np.ix_(rows, columns)]
