// Looking for one value among bytes that are marks.

/** Is the value among the bytes? By what looks for bytes in strings: arrays are looked through one by one. */
export function hasByte({ buffer, byteOffset, byteLength }: Readonly<Uint8Array>, value: number): boolean {
  return Buffer.from(buffer, byteOffset, byteLength).includes(value)
}
