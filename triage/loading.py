"""Compiled functions loaded from disk without what only compiling needs.

The one idea: before it loads its first function numba makes itself ready to compile (it reads in
all the types and functions it knows), and with every function it parses the code that others
could be linked with. A process that finds all its functions compiled needs neither, and they are
a third of a second of a first answer. Both are put off until something has to be compiled after
all.

This reaches into numba, so it is done for tried versions only, and only for a command that
answers one case and ends. With any other version functions are loaded as numba does it.
"""

from __future__ import annotations

from typing import Any, Final

import numba
from numba.core import caching, codegen, compiler
from numba.core.runtime import _nrt_python

__all__ = ["TRIED", "load_lightly"]

#: Versions of numba with which the tests of this module have passed.
TRIED: Final = ("0.68.1",)


def load_lightly() -> bool:
    """Load compiled functions lightly from now on, in this process; return whether that is done."""
    if numba.__version__ not in TRIED:
        return False
    for name, address in _nrt_python.c_helpers.items():  # what compiled code calls
        codegen.ll.add_symbol(name if name.startswith("_") else f"NRT_{name}", address)
    caching.Cache.load_overload = _load
    caching.CompileResultCacheImpl.rebuild = _rebuild
    return True


def _load(cache: Any, signature: Any, target: Any) -> Any:
    """Load one function, without making everything ready to compile.

    Whatever compiles does that by itself.
    """
    with cache._guard_against_spurious_io_errors():
        return cache._load_overload(signature, target)


_plain_rebuild = caching.CompileResultCacheImpl.rebuild


def _rebuild(impl: Any, target: Any, payload: Any) -> Any:
    """Make a function of what was read, its code for linking left unread."""
    (name, kind, data), about, env, signature, objectmode, lifted, typed, begin, others = payload
    if kind != "object" or objectmode or begin:
        return _plain_rebuild(impl, target, payload)
    reader = target.codegen()
    reader._engine._defined_symbols |= {about.llvm_cpython_wrapper_name, about.llvm_func_name}
    library = _Library(reader, name)
    library.take(*data)
    made = compiler.compile_result(
        target_context=target,
        typing_context=target.typing_context,
        library=library,
        environment=env,
        entry_point=target.get_executable(library, about, env),
        fndesc=about,
        type_annotation=typed,
        signature=signature,
        objectmode=objectmode,
        lifted=lifted,
        reload_init=begin,
        referenced_envs=others,
    )
    for other in others:
        reader.set_env(other.env_name, other)
    return made


class _Library(codegen.JITCodeLibrary):  # type: ignore[misc] # numba has no types
    """One function's machine code; what others link with is read when they ask for it."""

    def take(self, machine_code: bytes, for_linking: bytes) -> None:
        """Make the machine code ready to run."""
        self._for_linking = for_linking
        self._shared_module: Any = None
        self.enable_object_caching()
        self._set_compiled_object(machine_code)
        self._finalize_final_module()

    def _get_module_for_linking(self) -> Any:
        if self._shared_module is None:
            self._shared_module = codegen.ll.parse_bitcode(self._for_linking)
            self._codegen._engine._load_defined_symbols(self._shared_module)
        return self._shared_module
