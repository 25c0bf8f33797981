"""The sweep's outermost kernels, compiled once and kept on disk by numba.

numba looks at the file of a kept kernel to see whether it is out of date, not at the files of what it calls. So the
inner kernels are not kept by themselves, and every kept one holds a checksum of all kernel sources (a variable of its
closure, which numba takes into account): when any of them changes, it is compiled anew.
"""

from __future__ import annotations

import functools
import gc
import threading
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

from numba import njit

from guidestar.angles import (
    kernels as angle_kernels,
)
from guidestar.angles import (
    kernels_circle,
    kernels_light,
    kernels_pairs,
    kernels_places,
    kernels_sure,
    kernels_sure_lit,
)
from guidestar.maps import kernel_counts, kernel_mean, kernel_order, kernel_sure, kernel_target, kernel_windows

_MODULES = (
    angle_kernels,
    kernels_circle,
    kernels_light,
    kernels_pairs,
    kernels_places,
    kernels_sure,
    kernels_sure_lit,
    kernel_counts,
    kernel_mean,
    kernel_order,
    kernel_sure,
    kernel_target,
    kernel_windows,
)


def _checksum() -> int:
    sources = [Path(str(module.__file__)) for module in _MODULES]
    return zlib.crc32(b"".join(source.read_bytes() for source in sources if source.is_file()))


def _kept(stamp: int) -> tuple[Callable[..., Any], ...]:
    """Return the outermost kernels; each gives back the checksum, which makes it part of what numba compares."""
    kept = njit(nogil=True, error_model="numpy", cache=True)

    @kept
    def assign(
        vectors: Any,
        need: Any,
        zones: Any,
        patches: Any,
        quotas: Any,
        plain_need: Any,
        seen: Any,
        counts: Any,
        layer: Any,
        cell: Any,
    ) -> Any:
        kernel_order.assign(vectors, need, zones, patches, quotas, plain_need, seen, counts, layer, cell)
        return stamp

    @kept
    def put(
        vectors: Any,
        need: Any,
        step: Any,
        layer: Any,
        cell: Any,
        following: Any,
        to_vectors: Any,
        to_need: Any,
        to_step: Any,
    ) -> Any:
        kernel_order.put(vectors, need, step, layer, cell, following, to_vectors, to_need, to_step)
        return stamp

    @kept
    def fill_places(inner: Any, outer: Any, table: Any, corners: Any, half_mm: Any, side: Any, mirrored: Any) -> Any:
        kernels_places.fill(inner, outer, table, corners, half_mm, side, mirrored)
        return stamp

    @kept
    def fill_lit(field: Any, lengths: Any) -> Any:
        kernel_mean.fill_lit(field, lengths)
        return stamp

    @kept
    def fill_plain(table: Any, focal_mm: Any, inner_mm: Any, outer_mm: Any) -> Any:
        return kernel_mean.fill_plain(table, focal_mm, inner_mm, outer_mm), stamp

    @kept
    def sweep_targets(
        field: Any, stars: Any, further: Any, ra: Any, dec: Any, wish: Any, inner: Any, outer: Any, rows: Any
    ) -> Any:
        return kernel_target.sweep_targets(field, stars, further, ra, dec, wish, inner, outer, rows), stamp

    @kept
    def mean_stars(field: Any, stars: Any, lengths: Any, ra: Any, dec: Any, inner: Any, outer: Any, mean: Any) -> Any:
        return kernel_mean.mean_stars(field, stars, lengths, ra, dec, inner, outer, mean), stamp

    return assign, put, fill_places, fill_lit, fill_plain, sweep_targets, mean_stars


_OBJECTS = 50_000


class _RarerCollections:
    """While a kernel is compiled on any thread, Python looks for circles only among this many new objects.

    Compiling makes millions of small ones.
    """

    def __init__(self) -> None:
        self._lock, self._inside, self._usual = threading.Lock(), 0, gc.get_threshold()

    def __enter__(self) -> None:
        with self._lock:
            if not self._inside:
                self._usual = gc.get_threshold()
                gc.set_threshold(max(self._usual[0], _OBJECTS) if self._usual[0] else 0, *self._usual[1:])
            self._inside += 1

    def __exit__(self, *_: object) -> None:
        with self._lock:
            self._inside -= 1
            if not self._inside:
                gc.set_threshold(*self._usual)


_rarer_collections = _RarerCollections()


def _compiled_when_asked(kernel: Any) -> Any:
    """Return a kernel that is compiled, or loaded, when it is first called; as it is where numba is switched off."""
    if not hasattr(kernel, "signatures"):
        return kernel

    @functools.wraps(kernel)
    def call(*given: Any) -> Any:
        if not kernel.signatures:
            with _rarer_collections:
                return kernel(*given)
        return kernel(*given)

    call.stats = kernel.stats  # type: ignore[attr-defined]  # tells where it is kept
    return call


STAMP = _checksum()
assign, put, fill_places, fill_lit, fill_plain, sweep_targets, mean_stars = map(_compiled_when_asked, _kept(STAMP))
