"""The march as bitcode for a release: ``python -m aircolumn.flow.march.ship`` compiles it from its sources
and writes what ships (flow/compiled/machine_code.py)."""

from aircolumn.flow.compiled import front_end, machine_code
from aircolumn.flow.march.advance import advance

if __name__ == "__main__":
    print(machine_code.ship(advance.name, front_end.bitcode(advance.py_func, advance.arguments)))
