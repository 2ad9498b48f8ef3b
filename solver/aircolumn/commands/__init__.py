"""The commands, one a module, loaded when it is asked for: ``Request`` says and holds what it takes, and
``run(request)`` gives an ``Answer``. What they share stands in options, progress and results."""

#: task: {name (a module of this folder): what it does, in one line of the help}
TASKS = {
    "Begin": {
        "new": "a first engine file from a few basic figures",
        "check": "read and check an engine file, print derived figures",
    },
    "Choose": {
        "compare": "all runners of the file side by side: which, by how much, what it costs",
        "bands": "how sure that is, and what to measure next",
        "curve": "VE, torque and power of one engine over speed",
        "live": "the engine on a page that follows the hand: drag, type, see the curve at once",
        "explore": "a page with sliders: any runner between those that were computed",
        "report": "the comparison and what is behind it as one page for a browser",
    },
    "Why": {
        "explain": "why the humps of the VE curve lie where they do",
        "account": "why VE is not 1: what each effect takes or gives",
        "trace": "one cycle by crank angle: pressures, waves, flows; measured ones laid over",
        "map": "VE over speed and runner length or bore, beside rules of thumb",
    },
    "Best": {
        "study": "sweep, search, sensitivity or tolerance of any keys; resumable",
    },
    "Make": {
        "part": "the runner as a shape to be made: meshes, pieces for a printer, a drawing",
        "fuelling": "the control unit's table over speed and load, from the tuned one of the old manifold",
        "sections": "area schedule of a shape from CAD or a scan (mesh of its air)",
    },
    "Prove": {
        "logsheet": "what to log for a comparison that proves something: checklist and blank logs",
        "pull": "measured pulls: correct, compare, lay the prediction over",
        "atmosphere": "torque or power by every atmosphere standard, from one of them or as observed",
    },
    "Keep": {
        "change": "two results or engine files side by side, before and after",
        "schema": "keys of the engine file: JSON schema for editors, or a reference to read",
        "prepare": "make the solver ready now, so that later runs start at once",
    },
}
COMMANDS = {name: text for group in TASKS.values() for name, text in group.items()}
#: command: when to take it, and when another
WHEN = {
    "curve": "For one engine. Several runners of a file: compare.",
    "compare": "For several runners, of one file or of several. Two states of one file, or results kept from"
    " before: change. One engine: curve.",
    "change": "For two states of one engine, before and after. Runners against each other: compare.",
    "live": "To design by hand, with the solver behind it. A page for somebody else: report. Sizes between"
    " computed engines, without the program: explore.",
    "map": "One size over speed, with the rules of thumb, as a picture. Sizes moved by hand: explore. Any"
    " keys: study.",
    "explore": "To look around by hand, on a page. A picture beside rules of thumb: map. The best by a"
    " search: study.",
    "explain": "Which wave makes a hump. What each effect takes or gives: account. One cycle in full: trace.",
    "account": "What each effect takes or gives of VE. Which wave makes a hump: explain.",
    "trace": "One cycle in full. Which wave makes a hump: explain.",
    "bands": "What the file leaves open, all at once. One tolerance of making: study (tolerance).",
    "study": "Any keys, any number. One size over speed: map. By hand: explore.",
}
