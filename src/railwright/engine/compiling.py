"""From a module of vector code to functions that run."""

from __future__ import annotations

import llvmlite.binding as llvm
from llvmlite import ir

from railwright.engine import processor


def object_code(module: ir.Module) -> bytes:
    """Machine code of a module for this processor."""
    machine = processor.target_machine()
    parsed = llvm.parse_assembly(str(module))
    parsed.verify()
    _optimised(parsed, machine)
    code: bytes = machine.emit_object(parsed)
    return code


def loaded(code: bytes) -> llvm.ExecutionEngine:
    """The functions of object code; they live as long as the engine that is returned."""
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), processor.target_machine())
    engine.add_object_file(llvm.ObjectFileRef.from_data(code))
    engine.finalize_object()
    return engine


def _optimised(module: llvm.ModuleRef, machine: llvm.TargetMachine) -> None:
    options = llvm.create_pipeline_tuning_options(speed_level=1)
    options.loop_vectorization = False
    options.slp_vectorization = False
    builder = llvm.create_pass_builder(machine, options)
    builder.getModulePassManager().run(module, builder)


def packed(head: str, code: bytes) -> bytes:
    """A description and object code in one piece."""
    text = head.encode()
    return len(text).to_bytes(8, "big") + text + code


def unpacked(content: bytes | None) -> tuple[str, bytes] | None:
    """The way back; None where there is nothing."""
    if content is None:
        return None
    length, body = int.from_bytes(content[:8], "big"), content[8:]
    return body[:length].decode(), body[length:]
