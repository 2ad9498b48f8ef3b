"""The commands, one a module, loaded when it is asked for: ``Request`` says and holds what it takes, and
``run(request)`` gives an ``Answer``. What they share stands in options, progress and results."""

#: name (a module of this folder): what it does, in one line of the help
COMMANDS = {
    "new": "a first engine file from a few basic figures",
    "check": "read and check an engine file, print derived figures",
    "curve": "VE, torque and power of one engine over speed",
    "compare": "all runners of the file side by side",
    "bands": "how sure the comparison is: bands, what a runner costs elsewhere, what to measure next",
    "change": "two results or engine files side by side, before and after",
    "account": "why VE is not 1: what each effect takes or gives",
    "map": "VE over speed and runner length or bore, beside rules of thumb",
    "explain": "why the humps of the VE curve lie where they do",
    "trace": "one cycle by crank angle: pressures, waves, flows",
    "report": "the comparison and what is behind it as one page for a browser",
    "pull": "measured pulls: correct, compare, lay the prediction over",
    "logsheet": "what to log for a comparison that proves something: checklist and blank logs",
    "atmosphere": "torque or power by every atmosphere standard, from one of them or as observed",
    "part": "the runner as a shape to be made: meshes, pieces for a printer, a drawing",
    "sections": "area schedule of a shape from CAD or a scan (mesh of its air)",
    "schema": "keys of the engine file: JSON schema for editors, or a reference to read",
    "prepare": "make the solver ready now, so that no first point has to wait for it",
    "explore": "a page with sliders: any runner between those that were computed",
    "study": "sweep, search, sensitivity or tolerance of any keys; resumable",
}
