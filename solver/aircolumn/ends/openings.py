"""Entry losses and acoustic end corrections of duct mouths.

Entry-loss coefficients on the dynamic head in the bore (Idelchik, Handbook of Hydraulic
Resistance, diagrams 3-1 and 3-4 to 3-5, from memory): thin plain pipe in the open 1.0; flush with
a wall (flanged) 0.5; rounded with radius r in a wall 0.03 + 0.47 * 10^(-7.7 r / D).

End corrections as length to add, in bore radii: plain 0.6133 (Levine & Schwinger, Phys. Rev. 73,
1948, low-frequency limit); flanged 0.8216 (Norris & Sheng, J. Sound Vib. 135, 1989, from memory).
A bellmouth in a wall is given the flanged value: the flare is part of the outer field.
"""

END_CORRECTION = {"plain": 0.6133, "flanged": 0.8216, "bellmouth": 0.8216}


def entry_loss(shape: str, radius: float, bore: float) -> float:
    """Loss coefficient of inflow; radius and bore in m. Raises ValueError for an unknown shape."""
    if shape == "plain":
        return 1.0
    if shape == "flanged":
        return 0.5
    if shape == "bellmouth":
        return 0.03 + 0.47 * 10.0 ** (-7.7 * radius / bore)
    raise ValueError(f"unknown mouth shape {shape!r}")


def end_correction(shape: str, bore: float) -> float:
    """Length to add for the air that moves with the column outside the mouth.

    Parameters
    ----------
    shape : {"plain", "flanged", "bellmouth"}
    bore : float
        m.

    Returns
    -------
    float
        m.

    Raises
    ------
    KeyError
        For another shape.

    Examples
    --------
    >>> round(1e3 * end_correction("plain", 0.040), 2)  # 0.6133 radii (Levine & Schwinger 1948)
    12.27
    """
    return END_CORRECTION[shape] * 0.5 * bore
