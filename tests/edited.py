"""Changed copies of the demo file, and the values of a model one by one."""

from tests.conftest import DEMO


def demo_with(folder, *pairs):
    """The demo file with some texts replaced, in a folder; its path."""
    text = DEMO.read_text()
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new, 1)
    path = folder / "engine.yaml"
    path.write_text(text)
    return path


def leaves(node, path=()):
    """(path, value) of every value in nested groups and lists."""
    pairs = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    if not pairs:
        yield path, node
    for key, inner in pairs:
        yield from leaves(inner, (*path, key))
