"""Where the varied keys of a study stand in the engine file, and whether they can be varied."""

from collections.abc import Collection, Iterable, Sequence

from aircolumn.engine.description.base import CANDIDATES, RUNNERS
from aircolumn.errors import no_such

#: Groups and keys of the engine file that no computed point depends on, and what varies instead.
WITHOUT_EFFECT = {
    "title": "it names the engine",
    "units": "it says how results are shown",
    "pull": "it says how measured pulls are read",
    "traces": "it says how measured traces are read",
    "fuelling": "it says what the control unit's table is about",
    "part": "it says how the runner is made",
    "switchable": "it says which candidates are looked at together",
    "speeds": "the study's own `speeds` say at which speeds to compute",
}


def candidate_of(key: str, candidates: Collection[str]) -> tuple[str | None, str]:
    """(candidate, key of the file) of ``runners.NAME.key``, a key of its runner, or
    ``candidates.NAME.key``, any key of it; (None, key) for other keys. Raises ValueError if there is no
    such candidate, or no key behind its name."""
    group, _, rest = key.partition(".")
    if group not in (RUNNERS, CANDIDATES):
        return None, key
    before = "intake.runner." if group == RUNNERS else ""
    for name in sorted(candidates, key=len, reverse=True):  # names may hold points
        if rest.startswith(f"{name}."):
            return name, before + rest[len(name) + 1 :]
    known = ", ".join(candidates) or "none"
    raise ValueError(f"write {group}.NAME.key with one of the engine file's candidates; there are: {known}")


def runners_asked(
    stated: str | None, among: Sequence[str], keys: Iterable[str], candidates: Collection[str]
) -> list[str]:
    """The candidates a study is about: the one ``stated``, those it chooses ``among``, or the one whose keys
    are varied; none for the file's own runner. Raises ValueError if they do not go together."""
    if stated is not None and among:
        raise ValueError("`runner` stands beside a varied runner; keep one of them")
    for name in (*among, *([] if stated is None else [stated])):
        if name not in candidates:
            raise ValueError(no_such("runner", name, candidates))
    asked = {} if stated is None else {stated: "`runner`"}
    for key in keys:
        try:
            owner, _ = candidate_of(key, candidates)
        except ValueError:
            continue  # told where the key stands
        if owner is not None and among and owner not in among:
            raise ValueError(f"{key} varies '{owner}', which is not among the runners {', '.join(among)}")
        if owner is not None and not among:
            asked.setdefault(owner, key)
    if len(asked) > 1:
        said = " and ".join(f"'{name}' ({why})" for name, why in asked.items())
        raise ValueError(
            f"a study computes one candidate, and this one names {said}; to choose between them vary"
            " `runner: [...]`"
        )
    return list(among or asked)


def why_not(key: str) -> str:
    """Why varying ``key`` would change nothing; "" if it may."""
    reason = WITHOUT_EFFECT.get(key.split(".")[0])
    return f"varying {key} changes nothing that is computed: {reason}" if reason else ""


def overlapping(paths: dict[str, list[str]]) -> list[tuple[str, str]]:
    """Pairs of varied keys ({key: its path}) of which one stands inside the other."""
    keys = list(paths)
    return [
        (key, other)
        for k, other in enumerate(keys)
        for key in keys[:k]
        if _inside(paths[key], paths[other]) or _inside(paths[other], paths[key])
    ]


def _inside(outer: Sequence[str], inner: Sequence[str]) -> bool:
    return inner[: len(outer)] == outer
