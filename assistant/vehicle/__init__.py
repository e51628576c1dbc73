"""The simulated vehicle: compressed air, controls, warning devices, gauge and faults, for practice without a truck.

Law: plain physics with a fixed step, no clock and no chance; the same script gives the same needles on every machine.
It knows nothing of voices, standards or verdicts: it is worked by its controls and looked at through its gauge.
"""
