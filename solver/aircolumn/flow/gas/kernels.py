"""Compiled gas relations for a mixture of air, fuel vapour (yf) and burned gas (yb).

R = sum y R_k;  cv = sum y cv_k(T);  e = integral of cv from 0 K;  a^2 = gamma R T. Beyond HOTTEST
the polynomials are not data any more and would turn down: in volumes, the only place where gas may
be so hot, cv then stays as it is at HOTTEST.
Newton for T from e starts close and takes three steps, enough for rounding accuracy from a start
within 500 K.
"""

from aircolumn.flow.compiled.decorators import inlined

SUTHERLAND = 110.4  # K
HOTTEST = 3200.0  # K, the end of the fit (mixture.py)


@inlined
def gas_constant(g, yf, yb):
    """Gas constant of the mixture, J/(kg K)."""
    return g.Ra + yf * (g.Rf - g.Ra) + yb * (g.Rb - g.Ra)


@inlined
def cv_coefficients(g, yf, yb):
    """The six cv coefficients of the mixture, J/(kg K) in powers of T/1000 K."""
    ya = 1.0 - yf - yb
    return (
        ya * g.a0 + yf * g.f0 + yb * g.b0,
        ya * g.a1 + yf * g.f1 + yb * g.b1,
        ya * g.a2 + yf * g.f2 + yb * g.b2,
        ya * g.a3 + yf * g.f3 + yb * g.b3,
        ya * g.a4 + yf * g.f4 + yb * g.b4,
        ya * g.a5 + yf * g.f5 + yb * g.b5,
    )


@inlined
def cv_from(c, temperature):
    """cv, J/(kg K), from mixture coefficients."""
    t = 1e-3 * temperature
    return c[0] + t * (c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))))


@inlined
def energy_from(c, temperature):
    """Sensible internal energy, J/kg, from mixture coefficients."""
    t = 1e-3 * temperature
    k4 = c[4] * 0.2 + t * (c[5] * (1.0 / 6.0))
    k2 = c[2] * (1.0 / 3.0) + t * (c[3] * 0.25 + t * k4)
    return temperature * (c[0] + t * (c[1] * 0.5 + t * k2))


@inlined
def energy(g, yf, yb, temperature):
    """Sensible internal energy of the mixture, J/kg."""
    return energy_from(cv_coefficients(g, yf, yb), temperature)


@inlined
def gamma(g, yf, yb, temperature):
    """Ratio of heat capacities of the mixture."""
    return 1.0 + gas_constant(g, yf, yb) / cv_from(cv_coefficients(g, yf, yb), temperature)


@inlined
def cv_at_most(c, temperature):
    """cv, J/(kg K), held beyond HOTTEST."""
    return cv_from(c, min(temperature, HOTTEST))


@inlined
def energy_at_most(c, temperature):
    """Sensible internal energy, J/kg, with cv held beyond HOTTEST."""
    fitted = min(temperature, HOTTEST)
    return energy_from(c, fitted) + cv_at_most(c, temperature) * (temperature - fitted)


@inlined
def newton_step(c, e, t):
    """Next guess of the temperature at which mixture coefficients ``c`` give energy ``e``, with cv
    held beyond HOTTEST."""
    return t - (energy_at_most(c, t) - e) / cv_at_most(c, t)


@inlined
def enthalpy_step(c, r, h, t):
    """Next guess of the temperature at which mixture coefficients ``c`` and gas constant ``r`` give
    enthalpy ``h``, J/kg."""
    return t - (energy_from(c, t) + r * t - h) / (cv_from(c, t) + r)


@inlined
def temperature_near(g, yf, yb, e, guess):
    """Temperature, K, of energy ``e`` (J/kg) from a guess within a few per cent: two steps.

    Both steps take the slope at the guess (a division less): the error left is cubic in that of
    the guess all the same, (cv'/cv)^2 dT^3 / 2, under 1e-8 of T for dT = 5 K.
    """
    c = cv_coefficients(g, yf, yb)
    per_cv = 1.0 / cv_from(c, guess)
    t = guess - (energy_from(c, guess) - e) * per_cv
    return t - (energy_from(c, t) - e) * per_cv


@inlined
def temperature_of(g, yf, yb, e, guess):
    """Temperature, K, at which the mixture has sensible energy ``e`` (J/kg): three steps."""
    c = cv_coefficients(g, yf, yb)
    return newton_step(c, e, newton_step(c, e, newton_step(c, e, guess)))


@inlined
def viscosity_numerator(temperature):
    """Numerator of Sutherland's law, see :func:`viscosity`."""
    return 1.458e-6 * temperature * temperature**0.5


@inlined
def viscosity(temperature):
    """Dynamic viscosity of air, Pa s, also used for burned gas.

    Sutherland's law with the constants of the US Standard Atmosphere 1976 (1.458e-6
    kg/(m s K^0.5), 110.4 K). Heywood section 4.8 finds burned gas within 10 % of air.
    """
    return viscosity_numerator(temperature) / (temperature + SUTHERLAND)
