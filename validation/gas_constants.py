"""The perfect gas of the textbook cases: gamma 1.4, R 287.05 J/(kg K), a at 300 K."""

from math import sqrt

GAMMA = 1.4
R = 287.05
T0 = 300.0
A0 = sqrt(GAMMA * R * T0)
P0 = 1e5
