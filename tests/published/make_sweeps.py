"""Makes sweep-*.csv and sweep-fits.csv: noisy impedance sweeps of three invented pickups and what scipy's least_squares finds in them.

The sweeps hold 0.2 dB of Gaussian noise and a jig of 1 Mohm and 30 pF. The fits run over the logarithms of the values, in the logarithm of
the magnitude; intervals are those of the Jacobian with Student's t.

Run in this folder:  pip install numpy scipy  &&  python make_sweeps.py
"""

import csv

import numpy as np
from scipy import optimize, stats

FREQUENCIES = np.geomspace(60.0, 24e3, 90)
JIG = (1e6, 30e-12)
PICKUPS = {
    "plain": (2.2, 5700.0, 110e-12),
    "mild": (4.4, 8000.0, 130e-12, 1.0, 20e3),
    "strong": (4.4, 8000.0, 130e-12, 2.2, 40e3),
}
NAMES = ("inductance", "resistance", "capacitance", "loss inductance 1", "loss resistance 1")


def magnitude(values, frequencies):
    s = 2j * np.pi * frequencies
    inductance, resistance, capacitance, *cell = values
    if cell:
        winding = resistance + s * (inductance - cell[0]) + s * cell[0] * cell[1] / (s * cell[0] + cell[1])
    else:
        winding = resistance + s * inductance
    return np.abs(1 / (1 / winding + s * (capacitance + JIG[1]) + 1 / JIG[0]))


def fit(name, frequencies, measured):
    truth = np.array(PICKUPS[name])

    def residuals(logarithms):
        return np.log(magnitude(np.exp(logarithms), frequencies)) - np.log(measured)

    start = np.log(truth * np.array([0.9, 1.1, 1.1, 0.8, 1.3][: len(truth)]))
    found = optimize.least_squares(residuals, start, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    freedom = len(frequencies) - len(truth)
    covariance = np.linalg.inv(found.jac.T @ found.jac) * (2 * found.cost / freedom)
    reach = stats.t.ppf(0.975, freedom) * np.sqrt(np.diag(covariance))
    return np.exp(found.x), np.exp(found.x - reach), np.exp(found.x + reach)


def main():
    random = np.random.default_rng(20)
    fits = [["sweep", "value", "found", "low95", "high95"]]
    for name, values in PICKUPS.items():
        noise = 10 ** (random.normal(0, 0.2, len(FREQUENCIES)) / 20)
        frequencies = np.array([float(f"{f:.2f}") for f in FREQUENCIES])
        measured = np.array([float(f"{z:.2f}") for z in magnitude(values, frequencies) * noise])
        with open(f"sweep-{name}.csv", "w", newline="") as file:
            rows = csv.writer(file, lineterminator="\n")
            rows.writerow(["frequency_hz", "magnitude_ohm"])
            rows.writerows(zip(frequencies, measured))
        for label, *figures in zip(NAMES, *fit(name, frequencies, measured)):
            fits.append([name, label, *(f"{figure:.9g}" for figure in figures)])
    with open("sweep-fits.csv", "w", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows(fits)


main()
