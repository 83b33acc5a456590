"""Computes the overview of a recording again from its raw codes, as any stranger would.

Usage: check_overview.py FILE

Every level in /entry/overview is compared with lowest, highest and mean value of the rows that each
block says it holds; the default plot of each group is found by the rules of NeXus. Any
difference ends the program with an error.
"""

import sys
import warnings

import h5py
import numpy as np

# Value shown = factor * SI + offset.
SHOWN = {"bar": (1e-5, 0.0), "mm": (1e3, 0.0), "degC": (1.0, -273.15), "V": (1.0, 0.0)}


def text(value):
    return value.decode() if isinstance(value, bytes) else str(value)


def values(detector):
    """SI values from raw codes, NaN outside the band of a healthy sensor."""
    data = detector["data"]
    codes = data[()].astype(np.float64)
    if data.dtype == np.float64:
        return codes
    attrs = data.attrs
    si = attrs["si_at_zero_code"] + attrs["si_per_code"] * codes
    good = (codes >= attrs["good_code_lowest"]) & (codes <= attrs["good_code_highest"])
    return np.where(good, si, np.nan)


def blocks(list_of_rows, size):
    """The rows of each block side by side, filled up with NaN."""
    n_blocks = -(-len(list_of_rows) // size)
    padded = np.full(n_blocks * size, np.nan)
    padded[: len(list_of_rows)] = list_of_rows
    return padded.reshape(n_blocks, size)


def check_level(level, recording, instrument):
    size = int(level["rows_per_block"][()])
    time = recording["time"][()]
    rows = blocks(time, size)
    np.testing.assert_array_equal(level["time"][()], np.nanmin(rows, axis=1))
    np.testing.assert_array_equal(level["time_until"][()], np.nanmax(rows, axis=1))
    before = np.concatenate(([-np.inf], level["time_until"][:-1]))
    last = level["time_until"][()].copy()
    last[-1] = np.inf
    gaps = zip(recording["gaps/from_s"][()], recording["gaps/until_s"][()])
    has_gap = np.zeros(len(before), dtype=bool)
    for from_s, until_s in gaps:
        has_gap |= (until_s > before) & (from_s < last)
    np.testing.assert_array_equal(level["has_gap"][()] == 1, has_gap)
    n_signals = 0
    for group in level.values():
        if not isinstance(group, h5py.Group) or text(group.attrs["NX_class"]) != "NXdata":
            continue
        names = [text(group.attrs["signal"])]
        names += [text(name) for name in group.attrs.get("auxiliary_signals", [])]
        axis = group[text(group.attrs["axes"])]
        assert axis.attrs["units"] == "s"
        assert set(group) == set(names) | {"time", "title"}, set(group)
        n_signals += len(names)
        for name in (n for n in names if not n.endswith(("_min", "_max"))):
            factor, offset = SHOWN[text(group[name].attrs["units"])]
            shown = blocks(factor * values(instrument[name]) + offset, size)
            np.testing.assert_array_equal(level["count_" + name][()], (~np.isnan(shown)).sum(axis=1))
            with warnings.catch_warnings():
                # A block without any value has none of the three.
                warnings.simplefilter("ignore", RuntimeWarning)
                found = np.nanmean(shown, axis=1), np.nanmin(shown, axis=1), np.nanmax(shown, axis=1)
            for suffix, wanted in zip(("", "_min", "_max"), found):
                stored = group[name + suffix]
                assert stored.dtype == np.float32 and stored.shape == axis.shape
                assert "long_name" in stored.attrs
                how = (stored.compression, stored.shuffle, stored.fletcher32)
                assert how == ("gzip", True, True), how
                # Two roundings to 24 bits of mantissa (IEEE 754 binary32).
                np.testing.assert_allclose(stored[()], wanted, rtol=2.0**-22, atol=1e-9, equal_nan=True)
    return size, len(before), int(has_gap.sum()), n_signals


def main(path):
    with h5py.File(path, "r") as file:
        entry = file["entry"]
        overview = entry["overview"]
        assert text(overview.attrs["NX_class"]) == "NXcollection"
        levels = [group for group in overview.values() if isinstance(group, h5py.Group)]
        levels.sort(key=lambda level: int(level["rows_per_block"][()]))
        for level in levels:
            size, n_blocks, n_lost, n_signals = check_level(level, entry["recording"], entry["instrument"])
            print(f"{n_blocks} blocks of {size} rows, {n_lost} lost samples, {n_signals} signals")


if __name__ == "__main__":
    main(sys.argv[1])
