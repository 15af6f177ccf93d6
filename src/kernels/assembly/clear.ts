// Memory made empty. AssemblyScript.

/** Fills bytes with 0. */
export function clear(at: usize, byteLength: usize): void {
  memory.fill(at, 0, byteLength)
}
