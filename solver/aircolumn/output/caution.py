"""The usual cautions: under every result."""

SHORT = "A prediction is not a clearance to run."
CAUTION = (
    f"{SHORT} Spinning engines and dynamometers, fuel, backfire and printed parts under heat and"
    " vacuum can hurt people; keep to rotational-speed and valve-train limits, emissions law and"
    " local codes, and leave testing to qualified people."
)
