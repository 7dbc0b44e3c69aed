"""The sample strip fitted once more, by SciPy's least_squares (trust region reflective) with its own derivatives.

Usage: compare.py PROGRAM. The program only says what film its model has for given parameters; weights, what the
chamber file knows and the covariance are made here. Exit 0: all agree, 1: some do not, 77: there is no SciPy here.
"""
import subprocess
import sys

try:
    import numpy as np
    from scipy.optimize import least_squares
except ImportError as error:
    print(f"skipped: {error}")
    sys.exit(77)


class Cases:
    def __init__(self, program, what):
        self.process = subprocess.Popen([program, what], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.points, self.known, held, self.fit = (self.block() for _ in range(4))
        self.held = len(held)
        assert self.process.stdout.readline().strip() == "ready"

    def block(self):
        size = int(self.process.stdout.readline().split()[1])
        return np.array([[float(x) for x in self.process.stdout.readline().split()] for _ in range(size)])

    def film(self, parameters):
        self.process.stdin.write(" ".join(repr(float(p)) for p in parameters) + "\n")
        self.process.stdin.flush()
        return np.array([float(x) for x in self.process.stdout.readline().split()])

    def close(self):
        self.process.stdin.close()
        self.process.wait()


def compare(program, what):
    """Points in their uncertainties, held parameters in theirs, and the four loosely by what the file says (30 times
    its uncertainty; film per energy by its own size), or by just that where the file holds one."""
    cases = Cases(program, what)
    value, uncertainty, from_file = cases.known.T
    loose = np.where(from_file > 0, 1.0, 30.0) * np.maximum(uncertainty, 1e-6)
    loose[0] = (1.0 if from_file[0] else 30.0) * value[0]
    scale = np.concatenate([[0.01 * value[0]], np.maximum(uncertainty[1:], 1e-6), np.ones(cases.held)])
    start = np.concatenate([value, np.zeros(cases.held)])

    def residuals(x):
        p = start + scale * x
        return np.concatenate([(cases.film(p) - cases.points[:, 0]) / cases.points[:, 1], p[4:],
                               (p[:4] - value) / loose])

    found = least_squares(residuals, np.zeros(len(start)), jac="3-point", method="trf", xtol=1e-12, ftol=1e-14,
                          gtol=1e-12)
    u = scale * np.sqrt(np.diag(np.linalg.inv(found.jac.T @ found.jac)))
    off = (start + scale * found.x - cases.fit[:, 0]) / cases.fit[:, 1]
    width = u / cases.fit[:, 1] - 1
    cases.close()
    print(f"{what}: values apart by at most {np.abs(off).max():.1e} of their uncertainty, "
          f"uncertainties by {np.abs(width).max():.1e}")
    # The minimum is flat: half a percent of an uncertainty raises the sum of squares by 3e-5.
    return np.abs(off).max() < 5e-3 and np.abs(width).max() < 0.01


good = [compare(sys.argv[1], what) for what in ("free", "kept")]
sys.exit(0 if all(good) else 1)
