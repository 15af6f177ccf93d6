// Where a TIFF says that its colours are multiplied by its alpha, libvips divides by it: rounded, clipped, and black
// where alpha is 0. Telling it that alpha is unassociated is what brings the samples out as they are stored.
// Source: TIFF 6.0, section 2 (image file directory) and section 18 (ExtraSamples); BigTIFF's wider fields from memory.

const EXTRA_SAMPLES = 338
const ASSOCIATED = 1
const UNASSOCIATED = 2

/**
 * Renames associated alpha of the first picture to unassociated, in place.
 *
 * @returns true where there was any; false also for bytes that are no TIFF, which their reader refuses
 */
export function renameAssociatedAlpha(bytes: Buffer): boolean {
  return rename(bytes, ASSOCIATED, UNASSOCIATED)
}

function rename(bytes: Buffer, from: number, to: number): boolean {
  const little = bytes.toString('latin1', 0, 2) === 'II'
  const kinds = extraSamples(bytes, little).filter((at) => u16(bytes, at, little) === from)
  for (const at of kinds) {
    if (little) bytes.writeUInt16LE(to, at)
    else bytes.writeUInt16BE(to, at)
  }
  return kinds.length > 0
}

/** Where the kinds of the first picture's extra samples stand. */
function extraSamples(bytes: Buffer, little: boolean): number[] {
  const magic = u16(bytes, 2, little)
  if (magic !== 42 && magic !== 43) return []
  const big = magic === 43
  const directory = big ? u64(bytes, 8, little) : u32(bytes, 4, little)
  const entries = big ? u64(bytes, directory, little) : u16(bytes, directory, little)
  const size = big ? 20 : 12
  const first = directory + (big ? 8 : 2)
  for (let i = 0, at = first; i < entries && at + size <= bytes.length; i++, at += size) {
    if (u16(bytes, at, little) !== EXTRA_SAMPLES) continue
    const count = big ? u64(bytes, at + 4, little) : u32(bytes, at + 4, little)
    // as many as fit stand in the entry itself, two bytes each
    const inside = 2 * count <= (big ? 8 : 4)
    const value = at + (big ? 12 : 8)
    const from = inside ? value : big ? u64(bytes, value, little) : u32(bytes, value, little)
    if (from + 2 * count > bytes.length) return []
    return Array.from({ length: count }, (_, k) => from + 2 * k)
  }
  return []
}

/** Numbers of a header; one that lies beyond the end is 0. */
function u16(bytes: Buffer, at: number, little: boolean): number {
  if (at + 2 > bytes.length) return 0
  return little ? bytes.readUInt16LE(at) : bytes.readUInt16BE(at)
}

function u32(bytes: Buffer, at: number, little: boolean): number {
  if (at + 4 > bytes.length) return 0
  return little ? bytes.readUInt32LE(at) : bytes.readUInt32BE(at)
}

function u64(bytes: Buffer, at: number, little: boolean): number {
  if (at + 8 > bytes.length) return 0
  return Number(little ? bytes.readBigUInt64LE(at) : bytes.readBigUInt64BE(at))
}
