"""Points over engine speed: on all cores, labelled, summed up, with their numerical uncertainty."""
