"""Opens a recording as any stranger would: h5py for the file, NeXus for what to plot.

Usage: check_h5.py FILE SLOPE_PA_PER_S

Finds the default plot by the attributes of the NeXus base classes (manual of the NeXus
International Advisory Committee, chapter "Find the default plottable data"), computes all values
again from raw codes and calibration, and compares a regression of the signal with the slope
that was recorded. Any difference ends the program with an error.
"""

import sys

import h5py
import numpy as np
import scipy.stats

# Value shown = factor * SI + offset.
SHOWN = {"bar": (1e-5, 0.0), "mm": (1e3, 0.0), "degC": (1.0, -273.15), "V": (1.0, 0.0)}


def text(value):
    return value.decode() if isinstance(value, bytes) else str(value)


def of_class(place, wanted):
    found = text(place.attrs["NX_class"])
    assert found == wanted, f"{place.name} is {found}, not {wanted}"
    return place


def default_plot(file):
    entry = of_class(file[text(of_class(file, "NXroot").attrs["default"])], "NXentry")
    return of_class(entry[text(entry.attrs["default"])], "NXdata")


def check_plot(group):
    axes = np.atleast_1d(group.attrs["axes"])
    assert len(axes) == 1, f"{group.name} has {len(axes)} axes"
    time = group[text(axes[0])]
    assert text(time.attrs["units"]) == "s"
    names = [text(group.attrs["signal"])]
    names += [text(name) for name in group.attrs.get("auxiliary_signals", [])]
    for name in names:
        assert group[name].shape == time.shape, f"{group.name}/{name} is not as long as its axis"
        assert "long_name" in group[name].attrs
    others = set(group) - set(names) - {text(axes[0]), "title"}
    assert not others, f"{group.name} has signals that are not named: {others}"
    return names


def referred(codes, attrs, instrument):
    """Codes as they would be at the supply's nominal voltage, NaN without a plausible supply."""
    supply = values_again(instrument[text(attrs["supply_channel"])], instrument)
    is_fed = (supply >= attrs["supply_lowest_v"]) & (supply <= attrs["supply_highest_v"])
    zero = attrs["code_at_zero_volt"]
    at_nominal = zero + (codes - zero) * (attrs["supply_nominal_v"] / np.where(is_fed, supply, np.nan))
    good = (at_nominal >= attrs["signal_code_lowest"]) & (at_nominal <= attrs["signal_code_highest"])
    return np.where(good, at_nominal, np.nan)


def values_again(detector, instrument):
    """SI values from raw codes, NaN outside the band of a healthy sensor."""
    data = detector["data"]
    codes = data[()]
    if data.dtype == np.float64:
        return codes
    assert data.dtype == np.int32, data.dtype
    attrs = data.attrs
    used = codes.astype(np.float64)
    if "supply_channel" in attrs:
        used = referred(used, attrs, instrument)
    values = attrs["si_at_zero_code"] + attrs["si_per_code"] * used
    good = (codes >= attrs["good_code_lowest"]) & (codes <= attrs["good_code_highest"])
    return np.where(good, values, np.nan)


def check_values(group, name, instrument):
    shown = group[name]
    assert shown.dtype == np.float32, shown.dtype
    factor, offset = SHOWN[text(shown.attrs["units"])]
    again = factor * values_again(of_class(instrument[name], "NXdetector"), instrument) + offset
    # One rounding to 24 bits of mantissa (IEEE 754 binary32).
    np.testing.assert_allclose(shown[()], again, rtol=2.0**-23, atol=1e-30, equal_nan=True)
    return int(np.isnan(again).sum())


def check_storage(place):
    if isinstance(place, h5py.Dataset) and place.size and place.ndim:
        if place.dtype.kind in "fi":
            how = (place.compression, place.shuffle, place.fletcher32)
            assert how == ("gzip", True, True), f"{place.name} is stored as {how}"


def main(path, slope_pa_per_s):
    with h5py.File(path, "r") as file:
        plot = default_plot(file)
        entry = plot.parent
        instrument = of_class(entry["instrument"], "NXinstrument")
        n_absent = 0
        n_signals = 0
        for group in entry.values():
            if text(group.attrs.get("NX_class", "")) == "NXdata":
                for name in check_plot(group):
                    n_absent += check_values(group, name, instrument)
                    n_signals += 1
        assert n_signals == len(instrument), "a channel is in no plot"
        file.visititems(lambda _name, place: check_storage(place))

        signal = plot[text(plot.attrs["signal"])]
        time = plot[text(plot.attrs["axes"])]
        fit = scipy.stats.linregress(time[()], signal[()].astype(np.float64))
        found_pa_per_s = fit.slope / SHOWN[text(signal.attrs["units"])][0]
        assert abs(found_pa_per_s - slope_pa_per_s) < 1e-4 * abs(slope_pa_per_s), found_pa_per_s

        recording = entry["recording"]
        assert "[unit]" in recording["setup_toml"].asstr()[()]
        assert recording["ending"].asstr()[()] == "complete"
        assert list(recording["phases/name"].asstr()[()]) == ["settle", "hold"]
        assert list(recording["gaps/cause"].asstr()[()]) == ["lost"]
        assert recording["loss/n_samples_lost"][()] == 3
        against = [
            f", {name} against {text(detector['data'].attrs['supply_channel'])}"
            for name, detector in instrument.items()
            if "supply_channel" in detector["data"].attrs
        ]
        absent = f"{n_absent} absent" + "".join(against)
        print(f"{plot.name} {n_signals} signals {signal.shape[0]} rows {absent}")


if __name__ == "__main__":
    main(sys.argv[1], float(sys.argv[2]))
