"""Constants of nature and of measure, each in one place.

Units are exact by definition (NIST SP 811, appendix B; tests hold them against scipy.constants and
pint), but for the conventional columns of mercury and water. Written out here, as scipy.constants
takes as long to load as an engine file to read.
"""

from math import pi

INCH, POUND, GRAVITY = 0.0254, 0.45359237, 9.80665  # m, kg, m/s2
FOOT = 12.0 * INCH
OUNCE = POUND / 16.0
POUND_FORCE = POUND * GRAVITY  # N
HORSEPOWER = 550.0 * FOOT * POUND * GRAVITY  # W, 550 ft lbf/s
METRIC_HORSEPOWER = 75.0 * GRAVITY  # W, 75 kgf m/s
BAR, ATMOSPHERE = 1e5, 101325.0  # Pa
MILLIMETRE_OF_MERCURY = ATMOSPHERE / 760.0  # Pa
PSI = POUND * GRAVITY / (INCH * INCH)  # Pa
INCH_OF_MERCURY, INCH_OF_WATER = 3386.389, 249.08891  # Pa, conventional (0 and 4 degC)
BTU, CALORIE = 1055.05585262, 4.184  # J (international table, thermochemical)
ZERO_CELSIUS = 273.15  # K
FAHRENHEIT = 1.0 / 1.8  # K
MINUTE, HOUR = 60.0, 3600.0  # s
DEGREE = pi / 180.0  # rad

#: Dry air near room temperature, where it may be taken for a perfect gas: losses, choking, first guesses.
AIR_GAMMA, AIR_GAS_CONSTANT = 1.4, 287.05  # -, J/(kg K)
