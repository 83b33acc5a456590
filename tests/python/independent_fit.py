"""Estimates the figures of a hold from its archive file alone and compares them with ours.

Usage: independent_fit.py FILE OURS_JSON [SHIFT]

Opens FILE with h5py, finds the signals by the attributes of the NeXus base classes, and takes
only geometry and oil from the setup text. Drift is the difference of the ends of a cubic through
the position, leak-down the slope of a line through the cap pressure. Cap loss and rod gain, as
means over the hold, come from a fit of both chamber balances, written from first principles:

  mass      m = V(x, p) * density(p, T); what the cap loses by its flow, m says    (continuity)
  volume    (dead + area * column) * (1 + p/K_wall), K_wall of a thick open tube         (Lame)
  density   compression-only mixture of air and oil, air isothermal; the oil's isothermal K is
            its isentropic one divided by 1 + alpha*K*dT/dp and rises 11 times the pressure
  heat      dT/dp = 1.33 K per 100 bar; then the oil relaxes to the wall as a long column does,
            by the series of the squared zeros of J0, up to 1/0.3 times faster by convection
  flow      past the piston by a power of the pressure difference, out by one of the pressure,
            both more where the oil is warmer

Everything not known exactly is free within bounds that are plausible for any bench, and half of
such a range over sqrt(3) counts as its standard uncertainty (rectangular, JCGM 100 4.3.7). The
standard error is that of the Jacobian, widened where residuals scatter or hang together more
than assumed. Stated on top: 1 % of the flow for the law of stiffness, and what changes if heat
relaxes by its first mode alone. Figures agree if they differ by no more than both expanded
uncertainties (k = 2) combined. OURS_JSON holds our figures, and under "sharp" how large the
combined uncertainty may be, lest agreement means nothing. SHIFT moves ours by that many combined
sigma first. Exit 1 with a sentence for each figure that does not agree or is not sharp.
"""

import json
import sys
import tomllib

import h5py
import numpy as np
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import least_squares
from scipy.signal import lfilter
from scipy.special import jn_zeros
from scipy.stats import linregress

N_BINS = 60
ATMOSPHERE_BAR = 1.013
PRESSING_K_PER_BAR = 1.33e-2
DIFFUSIVITY_MM2_PER_S = 0.079  # of mineral oil
STEEL_BAR, POISSON, STEEL_PER_K = 2.06e6, 0.3, 11.5e-6
STIFFNESS_PART = 0.01
# Lowest and highest of what is free. Stiffness, dead volumes and expansion by the setup's; fresh
# is heat before pressing in K, wall_rate in K/min, faster by convection, thinning of warm oil.
RANGES = {
    "stiffness": (0.86, 1.14), "air_cap": (0.0, 0.02), "air_rod": (0.0, 0.02),
    "dead_cap": (0.65, 1.35), "dead_rod": (0.65, 1.35), "expansion": (0.93, 1.07),
    "fresh_cap": (-1.0, 3.0), "fresh_rod": (-1.0, 3.0), "faster": (1.0, 3.33),
    "wall_rate": (-0.1, 0.1), "immersion": (0.6, 1.0), "lag_s": (10.0, 90.0),
    "probe_start": (-2.0, 2.0), "piston_power": (0.4, 1.2), "outer_power": (0.4, 1.2),
    "thinning_per_k": (0.0, 0.06),
}


def text(value):
    return value.decode() if isinstance(value, bytes) else str(value)


def read(path):
    """Time, signals in the units shown, hold window and setup text of a file."""
    with h5py.File(path, "r") as file:
        entry = file[text(file.attrs["default"])]
        plots = [g for g in entry.values() if text(g.attrs.get("NX_class", "")) == "NXdata"]
        default = entry[text(entry.attrs["default"])]
        signals = {}
        for group in plots:
            names = [group.attrs["signal"], *group.attrs.get("auxiliary_signals", [])]
            for name in map(text, names):
                signals[name] = (group[name][()].astype(float), text(group[name].attrs["units"]))
        (axis,) = np.atleast_1d(default.attrs["axes"])
        assert text(default[axis].attrs["units"]) == "s"
        first = text(default.attrs["signal"])
        units = {"p_cap": "bar", "p_rod": "bar", "x": "mm", "t_oil": "degC"}
        assert first == "p_cap" and {n: u for n, (_, u) in signals.items()} == units, signals
        phases = entry["recording/phases"]
        hold = list(phases["name"].asstr()[()]).index("hold")
        window = phases["from_s"][hold], phases["until_s"][hold]
        setup = tomllib.loads(entry["recording/setup_toml"].asstr()[()])
        return default[axis][()], {n: s for n, (s, _) in signals.items()}, window, setup


def number(typed, unit):
    value, found = typed.split(" ", 1)
    assert found == unit, typed
    return float(value)


def binned(t, values, edges):
    good = np.isfinite(values)
    place = np.digitize(t[good], edges) - 1
    inside = (place >= 0) & (place < len(edges) - 1)
    place, values = place[inside], values[good][inside]
    return np.bincount(place, values, len(edges) - 1) / np.bincount(place, minlength=len(edges) - 1)


def hanging_together(r):
    """Factor by which neighbours that are alike widen a standard error (first-order memory)."""
    alike = float(np.clip(np.corrcoef(r[:-1], r[1:])[0, 1], 0.0, 0.9))
    return np.sqrt((1 + alike) / (1 - alike))


class Balance:
    """Both chambers over the hold, in mL, bar, mm, K, min."""

    def __init__(self, t, signals, window, setup, n_modes):
        length = window[1] - window[0]
        self.step = length / N_BINS
        n_before = int((window[0] - t[0]) / self.step)
        edges = window[0] + self.step * np.arange(-n_before, N_BINS + 1)
        self.data = {name: binned(t, s, edges) for name, s in signals.items()}
        self.t = 0.5 * (edges[1:] + edges[:-1]) - edges[0]
        self.hold = slice(n_before, None)
        self.minutes = self.t[self.hold] / 60
        tube, oil = setup["cylinder"], setup["oil"]
        bore, rod, stroke, wall = (number(tube[k], "mm") for k in ("bore", "rod", "stroke", "wall"))
        self.areas = np.pi / 4 * bore**2, np.pi / 4 * (bore**2 - rod**2)
        self.stroke = stroke
        self.dead = [number(tube[f"{side}_dead_volume"], "mL") for side in ("cap", "rod")]
        outer = bore + 2 * wall
        lame = (outer**2 + bore**2) / (outer**2 - bore**2)
        self.wall_bar = STEEL_BAR / (2 * (lame + POISSON))
        self.alpha = number(oil["expansion"], "1/K")
        self.stiffness = number(oil["stiffness"], "GPa") * 1e4
        self.modes = jn_zeros(0, n_modes) ** 2
        self.slowest_s = (bore / 2) ** 2 / DIFFUSIVITY_MM2_PER_S
        # Bins scatter by their noise: seen in third differences, blind to any slow course.
        x, p = self.data["x"][self.hold], self.data["p_cap"][self.hold]
        noise = [np.std(np.diff(s, 3)) / np.sqrt(20) for s in (x, p)]
        self.sigma = [a * 1e-3 * noise[0] + 0.05 * noise[1] + 1e-3 for a in self.areas]

    def temperatures(self, p, fresh, faster, wall):
        """Mean oil temperature over the wall's first from the start of the recording on."""
        shares = (4 / self.modes) / np.sum(4 / self.modes)
        mean = np.zeros_like(p)
        forcing = PRESSING_K_PER_BAR * np.diff(p, prepend=0.0) - np.diff(wall, prepend=0.0)
        forcing[0] += fresh
        for share, mode in zip(shares, self.modes):
            keep = np.exp(-self.step * mode * faster / self.slowest_s)
            mean += share * lfilter([1.0], [1.0, -keep], forcing)
        return mean + wall

    def log_density(self, p, k, air):
        oil = (1 - air) * np.exp(-p / k) + air * ATMOSPHERE_BAR / (p + ATMOSPHERE_BAR)
        return -np.log(oil)

    def residuals(self, theta):
        cap_flow, rod_flow, *offsets = theta[:5]
        free = dict(zip(RANGES, theta[5:]))
        wall = free["wall_rate"] * self.t / 60
        alpha = self.alpha * free["expansion"]
        oils, changes, k = [], [], []
        for side, column in enumerate((self.data["x"], self.stroke - self.data["x"])):
            name = ("cap", "rod")[side]
            p = self.data[f"p_{name}"]
            isentropic = self.stiffness * free["stiffness"] + 11 * np.mean(p)
            k.append(isentropic / (1 + alpha * isentropic * PRESSING_K_PER_BAR))
            oil = self.temperatures(p, free[f"fresh_{name}"], free["faster"], wall)
            dead = self.dead[side] * free[f"dead_{name}"]
            volume = (dead + self.areas[side] * column * 1e-3) * (1 + p / self.wall_bar)
            log = self.log_density(p, k[side], free[f"air_{name}"]) - alpha * oil
            log = (log + 3 * STEEL_PER_K * wall)[self.hold]
            changes.append(volume[self.hold] * np.exp(log - log[0]))
            oils.append(oil)
        p_cap, p_rod = self.data["p_cap"][self.hold], self.data["p_rod"][self.hold]
        thin = [np.exp(free["thinning_per_k"] * (oil[self.hold] - oil[-1])) for oil in oils]
        piston = thin[0] * (p_cap - p_rod) ** free["piston_power"]
        outer = thin[1] * p_rod ** free["outer_power"]
        piston, outer = piston / np.mean(piston), outer / np.mean(outer)
        # All flows in the state of the cap's oil at the start; the rod's oil is less dense.
        denser = np.exp(p_cap[0] / k[0] - p_rod[0] / k[1])
        lost = cumulative_trapezoid(cap_flow * piston, self.minutes, initial=0)
        gained = cap_flow * piston - (cap_flow - rod_flow) * outer
        gained = cumulative_trapezoid(gained, self.minutes, initial=0) * denser
        felt = free["immersion"] * oils[0] + (1 - free["immersion"]) * wall
        keep = np.exp(-self.step / free["lag_s"])
        late = lfilter([1 - keep], [1, -keep], felt, zi=[keep * free["probe_start"]])[0]
        probe = self.data["t_oil"] - late
        return np.concatenate([
            (changes[0] - changes[0][0] + lost - offsets[0]) / self.sigma[0],
            (changes[1] - changes[1][0] - gained - offsets[1]) / self.sigma[1],
            (probe - self.data["t_oil"][self.hold][0] - offsets[2])[self.hold] / 0.02,
        ])

    def fit(self):
        """Means of cap loss and rod gain, mL/min, each with its standard error."""
        low, high = np.array(list(RANGES.values())).T
        middle, spread = (low + high) / 2, (high - low) / np.sqrt(12)

        def cost(theta):
            return np.concatenate([self.residuals(theta), (theta[5:] - middle) / spread])

        start = np.concatenate([[0.1, 0.1, 0, 0, 0], middle])
        wide = np.full(5, np.inf)
        bounds = np.concatenate([-wide, low]), np.concatenate([wide, high])
        found = least_squares(cost, start, bounds=bounds, x_scale=np.r_[np.ones(5), spread])
        assert found.success, found.message
        covariance = np.linalg.inv(found.jac.T @ found.jac)
        parts = np.split(found.fun[: 3 * N_BINS], 3)
        widened = [max(1.0, np.std(r)) * hanging_together(r) for r in parts]
        return found.x[:2], np.sqrt(np.diag(covariance)[:2]) * max(widened[:2])


def estimates(path):
    """Value and standard uncertainty of each figure, in our units."""
    t, signals, window, setup = read(path)
    balance = Balance(t, signals, window, setup, n_modes=3)
    flows, errors = balance.fit()
    others, _ = Balance(t, signals, window, setup, n_modes=1).fit()
    allowed = np.hypot(STIFFNESS_PART * flows, flows - others)
    minutes = balance.minutes - balance.minutes[0]
    x, p = balance.data["x"][balance.hold], balance.data["p_cap"][balance.hold]
    cubic, of_cubic = np.polyfit(minutes, x, 3, cov=True)
    ends = np.array([minutes[-1] ** 2, minutes[-1], 1.0])
    drift = ends @ cubic[:3], np.sqrt(ends @ of_cubic[:3, :3] @ ends)
    line = linregress(minutes, p)
    left = p - line.intercept - line.slope * minutes
    return {
        "drift": (drift[0], drift[1] * hanging_together(x - np.polyval(cubic, minutes))),
        "leak_down": (-line.slope, line.stderr * hanging_together(left)),
        "cap_loss": (flows[0], np.hypot(errors[0], allowed[0])),
        "rod_gain": (flows[1], np.hypot(errors[1], allowed[1])),
    }


def main(path, ours_path, shift=0.0):
    with open(ours_path, encoding="utf-8") as file:
        given = json.load(file)
    complaints = []
    heads = f"{'ours':>10}{'U':>9}{'independent':>13}{'U':>9}{'apart by':>10}"
    print(f"{'figure':10}{heads} of combined U")
    for name, (value, standard) in estimates(path).items():
        own, unit = given["figures"][name], given["figures"][name]["unit"]
        combined = np.hypot(own["expanded"], 2 * standard)
        ours = own["value"] + shift * combined / 2
        apart = abs(ours - value) / combined
        print(
            f"{name:10}{ours:10.5f}{own['expanded']:9.5f}{value:13.5f}{2 * standard:9.5f}"
            f"{apart:10.2f} of {combined:.5f} {unit}"
        )
        if not apart <= 1:
            complaints.append(
                f"{name} of ours does not agree: {ours:.5f} {unit} against {value:.5f} {unit}, "
                f"{apart:.2f} times the combined uncertainty apart"
            )
        sharp = given["sharp"].get(name, "inf")
        largest = float(sharp[:-1]) / 100 * abs(value) if sharp.endswith("%") else float(sharp)
        if not combined < largest:
            complaints.append(
                f"{name} is not compared sharply: the combined uncertainty is "
                f"{combined:.5f} {unit}, not below {sharp}"
            )
    sys.exit("\n".join(complaints) or 0)


if __name__ == "__main__":
    main(*sys.argv[1:3], *map(float, sys.argv[3:4]))
