"""Why the curve is as it is: waves, explanation, filling account, tuning map, rules of thumb."""
