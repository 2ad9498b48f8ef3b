"""Numba's libraries of code, taken no further than is needed.

Numba takes every function it meets all the way to optimised machine code, although of one that is called from
compiled code only the intermediate code is ever used: it is linked into its caller and optimised there again.
Here such functions get the passes that shrink them (without those the caller takes longer, not shorter) and
nothing after; two thirds of the time to compile the march was spent on the rest. Of an entry the bitcode is
taken when all is linked and nothing optimised.
"""

from types import SimpleNamespace

from aircolumn.flow.compiled.compile_progress import watchers
from aircolumn.flow.compiled.seam import Compiler, FixupArgs, FunctionPass, JITCodeLibrary, register_pass

# Passes for what our functions have none of: closures, array expressions, functions inlined by
# Numba itself, branches that the types of arguments decide.
_NOT_FOR_US = {
    "inline_closure_likes",
    "inline_inlinables",
    "inline_overloads",
    "nopython_rewrites",
    "dead_branch_prune",
    "rewrite_semantic_constants",
}


class _Unrun(JITCodeLibrary):
    """The code of a function that is never run from here."""

    @property
    def codegen(self):
        """Stands in for the generator where Numba writes into the machine code there is not."""
        return SimpleNamespace(set_env=lambda *_: None)

    def get_pointer_to_function(self, name):
        """Null: there is no such symbol."""
        return 0

    def _finalize_final_module(self):
        self._finalize_dynamic_globals()
        self._finalized = True


class InnerLibrary(_Unrun):
    """The code of a function that is linked into others."""

    def _optimize_functions(self, ll_module):
        ll_module.data_layout = self._codegen._data_layout
        passes, builder = self._codegen._function_pass_manager()
        for one in ll_module.functions:
            passes.run(one, builder)

    def _optimize_final_module(self):
        passes, builder = self._codegen._module_pass_manager(
            loop_vectorize=False, slp_vectorize=False, opt=0, cost="cheap"
        )
        passes.run(self._final_module, builder)


class EntryLibrary(_Unrun):
    """The code of an entry with all that it calls, as bitcode."""

    linked = b""

    def get_pointer_to_function(self, name):
        """Null; all is linked by now."""
        self._ensure_finalized()
        return 0

    def _optimize_final_module(self):
        self.linked = self._final_module.as_bitcode()


def _compiler(library: type) -> type:
    """Numba's compiler, but for the library the code goes into."""

    @register_pass(mutates_CFG=False, analysis_only=True)
    class _Into(FunctionPass):
        _name = f"into_{library.__name__}"

        def __init__(self):  # abstract in Numba
            super().__init__()

        def run_pass(self, state):
            for watch in watchers:
                watch(state.func_id.func_name)
            state.library = library(state.targetctx.codegen(), state.func_id.func_qualname)
            return False

    class _Compiler(Compiler):
        def define_pipelines(self):
            [passes] = super().define_pipelines()
            passes.passes = [p for p in passes.passes if p[0]._name not in _NOT_FOR_US]
            passes.add_pass_after(_Into, FixupArgs)
            passes.finalize()
            return [passes]

    return _Compiler


InnerCompiler, EntryCompiler = _compiler(InnerLibrary), _compiler(EntryLibrary)
