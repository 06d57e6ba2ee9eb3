"""A GPU through its driver: memory, programs, launches. Needs the extra `gpu`, and a GPU."""

import ctypes
from collections.abc import Sequence
from typing import Any

import numpy as np
from cuda.bindings import driver
from numpy.typing import NDArray

from .errors import GpuError

RESERVED = 1024  # bytes of shared memory that a block takes beside its own


def _asked(result: tuple[Any, ...]) -> Any:
    """What a call of the driver returns.

    Raises
    ------
    GpuError
        if it failed
    """
    code, *values = result
    if int(code) != 0:
        _, said = driver.cuGetErrorString(code)
        raise GpuError(said.decode() if said else f"error {int(code)}")
    return values[0] if len(values) == 1 else tuple(values)


def gpus() -> int:
    """Number of GPUs here; 0 also where there is no driver."""
    try:
        _asked(driver.cuInit(0))
        return int(_asked(driver.cuDeviceGetCount()))
    except (GpuError, RuntimeError):  # no library of the driver either
        return 0


class Gpu:
    """One GPU, its memory and its streams.

    Attributes
    ----------
    name : as the driver tells
    compute : (major, minor) compute capability
    processors : number of multiprocessors
    """

    def __init__(self, number: int = 0) -> None:
        _asked(driver.cuInit(0))
        self._device = _asked(driver.cuDeviceGet(number))
        _asked(driver.cuCtxSetCurrent(_asked(driver.cuDevicePrimaryCtxRetain(self._device))))
        self.name = _asked(driver.cuDeviceGetName(128, self._device)).split(b"\0")[0].decode()
        kind = driver.CUdevice_attribute
        major = self._attribute(kind.CU_DEVICE_ATTRIBUTE_COMPUTE_CAPABILITY_MAJOR)
        self.compute = major, self._attribute(kind.CU_DEVICE_ATTRIBUTE_COMPUTE_CAPABILITY_MINOR)
        self.processors = self._attribute(kind.CU_DEVICE_ATTRIBUTE_MULTIPROCESSOR_COUNT)

    def _attribute(self, kind: Any) -> int:
        return int(_asked(driver.cuDeviceGetAttribute(kind, self._device)))

    def free_memory(self) -> int:
        """Bytes that can be taken."""
        return int(_asked(driver.cuMemGetInfo())[0])

    def memory(self, size: int) -> int:
        """Address of `size` new bytes."""
        return int(_asked(driver.cuMemAlloc(max(size, 1))))

    def release(self, address: int) -> None:
        """Give memory back."""
        _asked(driver.cuMemFree(address))

    def program(self, code: bytes, entry: str) -> Any:
        """Entry of a program in machine code."""
        return _asked(driver.cuModuleGetFunction(_asked(driver.cuModuleLoadData(code)), entry.encode()))

    def registers(self, entry: Any) -> int:
        """Registers that a thread of an entry takes."""
        return int(_asked(driver.cuFuncGetAttribute(driver.CUfunction_attribute.CU_FUNC_ATTRIBUTE_NUM_REGS, entry)))

    def resident(self, entry: Any, threads: int) -> int:
        """Blocks of so many threads that the whole GPU carries out at once."""
        return self.processors * int(_asked(driver.cuOccupancyMaxActiveBlocksPerMultiprocessor(entry, threads, 0)))

    def stream(self) -> Any:
        """A queue of work."""
        return _asked(driver.cuStreamCreate(driver.CUstream_flags.CU_STREAM_NON_BLOCKING.value))

    def put(self, address: int, array: NDArray[Any], stream: Any) -> None:
        """Copy a contiguous array to the GPU; it may be changed once this returns."""
        if array.nbytes:
            _asked(driver.cuMemcpyHtoDAsync(address, array.ctypes.data, array.nbytes, stream))

    def clear(self, address: int, size: int, stream: Any) -> None:
        """Set bytes to zero."""
        _asked(driver.cuMemsetD8Async(address, 0, size, stream))

    def get_rows(self, address: int, pitch: int, array: NDArray[Any], stream: Any) -> None:
        """Copy rows that begin `pitch` bytes apart on the GPU into a contiguous array of rows, and wait for them."""
        plan = driver.CUDA_MEMCPY2D()
        plan.srcMemoryType = driver.CUmemorytype.CU_MEMORYTYPE_DEVICE
        plan.srcDevice, plan.srcPitch = address, pitch
        plan.dstMemoryType = driver.CUmemorytype.CU_MEMORYTYPE_HOST
        plan.dstHost, plan.dstPitch = array.ctypes.data, array.strides[0]
        plan.WidthInBytes, plan.Height = array[0].nbytes, len(array)
        _asked(driver.cuMemcpy2DAsync(plan, stream))
        _asked(driver.cuStreamSynchronize(stream))

    def crowd(self, entry: Any, blocks: int) -> int:
        """Bytes of shared memory to hand to every block of an entry, so that only so many share a multiprocessor."""
        kind = driver.CUdevice_attribute.CU_DEVICE_ATTRIBUTE_MAX_SHARED_MEMORY_PER_MULTIPROCESSOR
        own = driver.CUfunction_attribute.CU_FUNC_ATTRIBUTE_SHARED_SIZE_BYTES
        size = self._attribute(kind) // blocks - int(_asked(driver.cuFuncGetAttribute(own, entry))) - RESERVED
        most = driver.CUfunction_attribute.CU_FUNC_ATTRIBUTE_MAX_DYNAMIC_SHARED_SIZE_BYTES
        _asked(driver.cuFuncSetAttribute(entry, most, size))
        return size

    def launch(
        self, entry: Any, blocks: int, threads: int, numbers: Sequence[int], stream: Any, shared: int = 0
    ) -> None:
        """Start blocks of threads of an entry that takes whole numbers; shared: see `crowd`."""
        values = [np.array([n], dtype=np.int64) for n in numbers]
        places = np.array([v.ctypes.data for v in values], dtype=np.uint64)
        _asked(driver.cuLaunchKernel(entry, blocks, 1, 1, threads, 1, 1, shared, stream, places.ctypes.data, 0))

    def idle(self, stream: Any) -> bool:
        """Whether all work of a stream is done."""
        (code,) = driver.cuStreamQuery(stream)
        if code == driver.CUresult.CUDA_ERROR_NOT_READY:
            return False
        _asked((code,))
        return True


def assembled(text: str, registers: int) -> bytes:
    """Machine code, for the GPU here, of a program (PTX); registers: of a thread at most."""
    state = _asked(driver.cuLinkCreate(1, [driver.CUjit_option.CU_JIT_MAX_REGISTERS], [registers]))
    data = text.encode() + b"\0"
    kind = driver.CUjitInputType.CU_JIT_INPUT_PTX
    _asked(driver.cuLinkAddData(state, kind, data, len(data), b"insertions", 0, [], []))
    address, size = _asked(driver.cuLinkComplete(state))
    code = ctypes.string_at(int(address), int(size))
    _asked(driver.cuLinkDestroy(state))
    return code
