"""Holds the figures of physics_cases against SciPy's own integrators, fits and distributions.

Usage: compare.py PROGRAM. Exit 0: all agree, 1: some do not, 77: there is no SciPy here.
"""
import subprocess
import sys

try:
    import numpy as np
    from scipy.integrate import solve_ivp
    from scipy.optimize import brentq, curve_fit
    from scipy.stats import chi2, norm, t as student
except ImportError as error:
    print(f"skipped: {error}")
    sys.exit(77)

expected = {}  # name: (value, relative tolerance, why)


def pumpdown():
    """The pumpdown equations as they are written, integrated stage by stage with event location (Radau)."""
    volume, ultimate = 14.0, 0.1

    def load(t):
        x = np.sqrt((t * t + 3600.0) / (3600.0**2 + 3600.0))
        return 2.31e-3 / x + 3.9e-4 / np.sqrt(x)

    # (until the total falls to this, speeds of air, water, argon, what the pump reaches alone)
    stages = [(30000.0, (0.06,) * 3, ultimate), (3000.0, (0.15,) * 3, ultimate), (3.0, (0.4,) * 3, ultimate),
              (0.0, (3.67, 7.28, 3.07), 0.0)]
    times = [100.0, 400.0, 700.0, 900.0, 5000.0, 40000.0]
    targets = [3.0, 1e-2, 2e-4]
    state, clock, end = np.array([1e5, 1000.0, 325.0]), 0.0, 2e5
    for until, speeds, u in stages:
        def slope(t, p):
            return [(2e-5 - speeds[0] * (p[0] - u)) / volume, (load(t) - speeds[1] * p[1]) / volume,
                    (1e-4 - speeds[2] * p[2]) / volume]

        def falls_to(level):
            def event(t, p):
                return np.log(max(p.sum(), 1e-300) / level)
            event.direction = -1
            event.terminal = level == until
            return event

        levels = ([until] if until > 0 else []) + [x for x in targets if x != until]
        run = solve_ivp(slope, (clock, end), state, method="Radau", rtol=1e-9, atol=1e-13, dense_output=True,
                        events=[falls_to(x) for x in levels])
        for level, hits in zip(levels, run.t_events):
            if level in targets and len(hits):
                expected.setdefault(f"pumpdown_to_{level:g}",
                                    (hits[0], 3e-6, "our load is linear over a step of 1 % of the clock"))
        for t in times:
            if clock < t <= run.t[-1]:
                expected[f"pumpdown_at_{t:.0f}"] = (run.sol(t).sum(), 3e-6, "as above; late pressures follow the load")
        state, clock = run.y[:, -1], run.t[-1]


def fits():
    i = np.arange(150)
    wobble = np.sin(7.0 * i * i)
    t = 1800 * 30.0 ** (i / 149.0) / 3600
    p = (2e-4 * t**-0.9 + 3e-5) * (1 + 0.02 * wobble)
    (a, n, c), _ = curve_fit(lambda t, a, n, c: a * t**-n + c, t, p, p0=(1e-4, 1, 1e-5), sigma=p, xtol=1e-14, ftol=1e-14)
    x = 6.0 * i
    q = 1e-4 + 2e-6 * x + 4e-3 * (1 - np.exp(-x / 200)) + 2e-5 * wobble
    (_, slope, b, tau), _ = curve_fit(lambda x, p0, a, b, tau: p0 + a * x + b * (1 - np.exp(-x / tau)), x, q,
                                      p0=(1e-4, 1e-6, 1e-3, 100), xtol=1e-14, ftol=1e-14)
    why = "two minimisers of one sum of squares"
    for name, value in dict(decay_a=a, decay_n=n, decay_c=c, rise_a=slope, rise_b=b, rise_tau=tau).items():
        expected[name] = (value, 1e-5, why)


def statistics():
    why = "two libraries of special functions"
    expected["student_99_16"] = (student.ppf(0.995, 16), 1e-9, why)
    expected["student_95_3.5"] = (student.ppf(0.975, 3.5), 1e-9, why)
    expected["normal_95"] = (norm.ppf(0.975), 1e-12, why)
    x, u = np.array([10, 10.4, 9.1, 11.7]), np.array([0.3, 0.5, 0.4, 0.9])
    mean = np.average(x, weights=u**-2)
    expected["weighted_mean"] = (mean, 1e-14, why)
    expected["weighted_probability"] = (chi2.sf((((x - mean) / u) ** 2).sum(), 3), 1e-11, why)
    estimates()


def estimates():
    """Cox (2002): the mean by least squares on a column of ones, differences by their full covariance."""
    x, u = np.array([90, 93, 88.5, 104]), np.array([2.4, 3, 1, 5])
    weight = np.diag(u**-2)
    ones = np.ones((4, 1))
    covariance = np.linalg.inv(ones.T @ weight @ ones)
    mean = (covariance @ ones.T @ weight @ x)[0]
    squares = (x - mean) @ weight @ (x - mean)
    # Differences are (I - 1 c) x: their covariance by the law of propagation.
    take = np.eye(4) - ones @ covariance @ ones.T @ weight
    difference = np.sqrt(np.diag(take @ np.diag(u**2) @ take.T))
    why = "two ways to the same sums"
    assert chi2.sf(squares, 3) < 0.05
    expected["estimates_mean_nm"] = (mean, 1e-12, why)
    expected["estimates_widened_nm"] = (np.sqrt(covariance[0, 0] * squares / 3), 1e-12, why)
    expected["estimates_probability"] = (chi2.sf(squares, 3), 1e-10, why)
    expected["estimates_u_difference_nm"] = (difference[0], 1e-12, why)
    # Three subsets of three hold the 104; only the one without it passes.
    passing = [m for m in range(4) if chi2.sf((((x - np.average(np.delete(x, m), weights=np.delete(u, m) ** -2.0)) / u)
                                               ** 2)[np.arange(4) != m].sum(), 2) >= 0.05]
    assert passing == [3]
    expected["estimates_subset_mean_nm"] = (np.average(x[:3], weights=u[:3] ** -2.0), 1e-12, why)


def optics():
    """Another way through the stack: Fresnel coefficients of the interfaces, added up from the substrate (Rouard)."""
    layers = [(1.46, 90.0), (2.1 - 0.01j, 55.0), (0.97 - 6.5j, 30.0)]
    index = [1.0] + [n for n, _ in layers] + [1.52]
    for wavelength in (400.0, 550.0, 1000.0):
        r = (index[-2] - index[-1]) / (index[-2] + index[-1])
        t = 2 * index[-2] / (index[-2] + index[-1])
        for j in range(len(layers) - 1, -1, -1):
            n, thickness = layers[j]
            phase = np.exp(-2j * np.pi * n * thickness / wavelength)
            front_r = (index[j] - n) / (index[j] + n)
            front_t = 2 * index[j] / (index[j] + n)
            t = front_t * t * phase / (1 + front_r * r * phase**2)
            r = (front_r + r * phase**2) / (1 + front_r * r * phase**2)
        expected[f"stack_r_{wavelength:.0f}"] = (abs(r) ** 2, 1e-12, "double precision")
        expected[f"stack_t_{wavelength:.0f}"] = (1.52 * abs(t) ** 2, 1e-11, "double precision")


def heat():
    """The slab by the method of lines: cells of equal width, flux at the front, none at the back."""
    density, conductivity, heat_capacity, thickness, flux = 2230.0, 1.14, 830.0, 0.02, 24.1
    cells = 800
    width = thickness / cells
    spread = conductivity / (density * heat_capacity) / width**2

    def slope(_, t):
        through = np.concatenate(([flux * width / conductivity], t[:-1] - t[1:], [0.0]))
        return spread * (through[:-1] - through[1:])

    times = [60.0, 600.0, 3600.0]
    run = solve_ivp(slope, (0, times[-1]), np.zeros(cells), method="LSODA", lband=1, uband=1, t_eval=times, rtol=1e-9,
                    atol=1e-12)
    for k, t in enumerate(times):
        # Cell centres stand half a cell inside the faces.
        expected[f"slab_front_{t:.0f}"] = (run.y[0, k] + flux * width / 2 / conductivity, 2e-4, "800 cells")
        expected[f"slab_back_{t:.0f}"] = (run.y[-1, k], 2e-4 if t > 100 else 2e-2, "800 cells; little gets there in 60 s")


def glow():
    """Paschen's law (Lieberman and Lichtenberg, table 14.1) solved for the product of pressure and distance."""
    a, b, gamma = 11.5, 176.0, 0.01
    torr_cm = 101325 / 760 * 0.01
    lost = np.log(1 + 1 / gamma)
    volts = lambda x: b * x / (np.log(a * x) - np.log(lost)) - 1500
    least = np.e / a * lost
    for name, low, high in (("strike_low_pa", least / np.e * (1 + 1e-9), least), ("strike_high_pa", least, 1e6)):
        expected[name] = (brentq(volts, low, high, xtol=1e-14, rtol=1e-14) * torr_cm / 2.41, 1e-9, "two ways to a root")


pumpdown()
fits()
statistics()
heat()
glow()
optics()
output = subprocess.run([sys.argv[1]], check=True, capture_output=True, text=True).stdout
got = {name: float(value) for name, value in (line.split() for line in output.splitlines())}
failed = 0
for name in sorted(set(got) | set(expected)):
    if name not in got or name not in expected:
        print(f"FAILED {name}: only {'SciPy' if name in expected else 'the program'} has it")
        failed += 1
        continue
    value, tolerance, why = expected[name]
    off = abs(got[name] - value) / abs(value)
    if not off <= tolerance:
        failed += 1
    print(f"{'ok    ' if off <= tolerance else 'FAILED'} {name}: {got[name]:.12g}, SciPy {value:.12g}, off {off:.1e} (at most {tolerance:.0e}: {why})")
print(f"{len(expected)} figures, {failed} failed")
sys.exit(1 if failed else 0)
