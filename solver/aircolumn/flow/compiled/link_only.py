"""Functions that only compiled code calls, made no further than its compiler needs.

Numba takes every function it meets all the way to optimised machine code, although of one that is
called from compiled code only the intermediate code is ever used: it is linked into its caller and
optimised there again. Here such functions get the passes that shrink them (without those the caller
takes longer, not shorter) and nothing after; two thirds of the time to compile the march was spent
on the rest.
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


class InnerLibrary(JITCodeLibrary):
    """The code of a function that is linked into others, and never run by itself."""

    @property
    def codegen(self):
        """Stands in for the generator where Numba writes into the machine code there is not."""
        return SimpleNamespace(set_env=lambda *_: None)

    def get_pointer_to_function(self, name):
        """Null: there is no such symbol."""
        return 0

    def _optimize_functions(self, ll_module):
        ll_module.data_layout = self._codegen._data_layout
        passes, builder = self._codegen._function_pass_manager()
        for function in ll_module.functions:
            passes.run(function, builder)

    def _optimize_final_module(self):
        passes, builder = self._codegen._module_pass_manager(
            loop_vectorize=False, slp_vectorize=False, opt=0, cost="cheap"
        )
        passes.run(self._final_module, builder)

    def _finalize_final_module(self):
        self._finalize_dynamic_globals()
        self._finalized = True


@register_pass(mutates_CFG=False, analysis_only=True)
class _IntoInnerLibrary(FunctionPass):
    _name = "into_inner_library"

    def __init__(self):  # abstract in Numba
        super().__init__()

    def run_pass(self, state):
        for watch in watchers:
            watch(state.func_id.func_name)
        state.library = InnerLibrary(state.targetctx.codegen(), state.func_id.func_qualname)
        return False


class InnerCompiler(Compiler):
    """Numba's compiler, for functions of compiled code only."""

    def define_pipelines(self):
        """As usual, but for the library the code goes into."""
        [passes] = super().define_pipelines()
        passes.passes = [p for p in passes.passes if p[0]._name not in _NOT_FOR_US]
        passes.add_pass_after(_IntoInnerLibrary, FixupArgs)
        passes.finalize()
        return [passes]
