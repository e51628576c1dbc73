"""The simulated vehicle: compressed air, controls, warning devices, gauge and faults, for practice without a truck.

Law: plain physics with a fixed step, no clock and no chance; the same script gives the same needles on every machine.
It knows nothing of voices or verdicts: it is worked by its controls and looked at through its gauge. Only the simulated
driver has chance, all of it from a seed, and only `expected` knows a standard, to say what a verdict ought to be.
"""
