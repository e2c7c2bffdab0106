"""Makes state-space.csv and polynomial.csv: two guitars computed by numpy and scipy, by two methods that the library does not use.

state-space: inductor currents and capacitor voltages as states; the matrices come from superposition on the resistive remainder.
polynomial: the transfer as a ratio of polynomials from the ladder's continued fraction, evaluated by scipy.signal.freqs.

Run in this folder:  pip install numpy scipy  &&  python make_responses.py
"""

import csv

import numpy as np
from numpy.polynomial import Polynomial
from scipy import linalg, signal

FREQUENCIES = np.geomspace(20.0, 20e3, 25)


def write(name, response):
    with open(name, "w", newline="") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["frequency_hz", "real", "imaginary"])
        for frequency, value in zip(FREQUENCIES, response):
            rows.writerow([repr(float(frequency)), repr(float(value.real)), repr(float(value.imag))])


def resistive(resistors, voltages, currents, nodes):
    """Node voltages and source currents of a network of resistors, voltage sources and current sources; node 0 is ground."""
    size = nodes + len(voltages)
    matrix = np.zeros((size + 1, size + 1))
    right = np.zeros(size + 1)
    for a, b, ohms in resistors:
        for one, other in ((a, b), (b, a)):
            matrix[one, one] += 1 / ohms
            matrix[one, other] -= 1 / ohms
    for a, b, amperes in currents:
        right[a] -= amperes
        right[b] += amperes
    for index, (a, b, volts) in enumerate(voltages):
        row = nodes + 1 + index
        matrix[a, row] += 1
        matrix[b, row] -= 1
        matrix[row, a] += 1
        matrix[row, b] -= 1
        right[row] = volts
    solution = linalg.solve(matrix[1:, 1:], right[1:])
    return np.concatenate([[0.0], solution])


def state_space(resistors, capacitors, inductors, source, output, nodes):
    """A, B, C, D: each state and the source in turn is set to one, the others to zero."""
    count = len(capacitors) + len(inductors)
    columns = []
    for one in range(count + 1):
        value = [float(one == index) for index in range(count + 1)]
        voltages = [(a, b, value[i]) for i, (a, b, _) in enumerate(capacitors)] + [(source, 0, value[count])]
        currents = [(a, b, value[len(capacitors) + i]) for i, (a, b, _) in enumerate(inductors)]
        v = resistive(resistors, voltages, currents, nodes)
        rates = [v[nodes + 1 + i] / farads for i, (_, _, farads) in enumerate(capacitors)]
        # The current unknown leaves node a into the source; the capacitor's own current is the same.
        rates += [(v[a] - v[b]) / henries for a, b, henries in inductors]
        columns.append(rates + [v[output]])
    matrix = np.array(columns).T
    return matrix[:-1, :-1], matrix[:-1, -1:], matrix[-1:, :-1], matrix[-1:, -1:]


def humbucker_with_loss():
    """4.4 H of which 2.2 H behind 40 kOhm, 8 kOhm, 130 pF; 500 kOhm volume at fraction 0.15 with 20k + (220k || 680p) across;
    500 kOhm + 22 nF tone from the wiper, full up; 600 pF and 1 MOhm at the output."""
    # Nodes: 1 source, 2 after the winding resistance, 3 after the loss cell, 4 pickup, 5 wiper, 6 tone capacitor, 7 inside the bleed.
    resistors = [(1, 2, 8e3), (2, 3, 40e3), (4, 5, 0.85 * 500e3), (5, 0, 0.15 * 500e3), (5, 6, 500e3), (4, 7, 20e3), (7, 5, 220e3), (5, 0, 1e6)]
    capacitors = [(4, 0, 130e-12), (6, 0, 22e-9), (7, 5, 680e-12), (5, 0, 600e-12)]
    inductors = [(2, 3, 2.2), (3, 4, 2.2)]
    a, b, c, d = state_space(resistors, capacitors, inductors, 1, 5, 7)
    response = []
    for frequency in FREQUENCIES:
        state = linalg.solve(2j * np.pi * frequency * np.eye(len(a)) - a, b)
        response.append((c @ state + d).item())
    _, other = signal.freqresp(signal.StateSpace(a, b, c, d), 2 * np.pi * FREQUENCIES)
    assert np.allclose(response, other, rtol=1e-6), "scipy.signal.freqresp disagrees"
    return response


class Ratio:
    """A ratio of polynomials in p = s / UNIT."""

    UNIT = 2 * np.pi * 1e3

    def __init__(self, top, bottom=1.0):
        self.top = top if isinstance(top, Polynomial) else Polynomial([top])
        self.bottom = bottom if isinstance(bottom, Polynomial) else Polynomial([bottom])

    def __add__(self, other):
        return Ratio(self.top * other.bottom + other.top * self.bottom, self.bottom * other.bottom)

    def __mul__(self, other):
        return Ratio(self.top * other.top, self.bottom * other.bottom)

    def inverse(self):
        return Ratio(self.bottom, self.top)


def resistor(ohms):
    return Ratio(ohms)


def inductor(henries):
    return Ratio(Polynomial([0.0, henries * Ratio.UNIT]))


def capacitor(farads):
    return Ratio(1.0, Polynomial([0.0, farads * Ratio.UNIT]))


def parallel(one, other):
    return (one.inverse() + other.inverse()).inverse()


def single_coil_turned_down():
    """3.4 H, 7 kOhm, 120 pF; 250 kOhm audio 15 % volume at rotation 0.25 with 110k + 1.5n across; 250 kOhm + 22 nF tone from the volume
    control's input, full up; 500 pF and 1 MOhm at the output."""
    base = ((1 - 0.15) / 0.15) ** 2
    fraction = (base**0.25 - 1) / (base - 1)
    upper = parallel(resistor(250e3 * (1 - fraction)), resistor(110e3) + capacitor(1.5e-9))
    lower = parallel(parallel(resistor(250e3 * fraction), resistor(1e6)), capacitor(500e-12))
    tone = resistor(250e3) + capacitor(22e-9)
    shunt = parallel(parallel(upper + lower, tone), capacitor(120e-12))
    pickup = resistor(7e3) + inductor(3.4)
    at_pickup = shunt * (shunt + pickup).inverse()
    at_wiper = lower * (lower + upper).inverse()
    transfer = at_pickup * at_wiper
    _, response = signal.freqs(transfer.top.coef[::-1], transfer.bottom.coef[::-1], 2 * np.pi * FREQUENCIES / Ratio.UNIT)
    return response


write("state-space.csv", humbucker_with_loss())
write("polynomial.csv", single_coil_turned_down())
