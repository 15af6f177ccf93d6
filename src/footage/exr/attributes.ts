// The header attributes of an OpenEXR file that a patch carries over from its plate, between their bytes and plain values.
// Source: openexr.com, "OpenEXR File Layout" and "Standard Attributes"; time code bits: SMPTE ST 12-1 as OpenEXR packs them.

/** What a header says about the picture besides its pixels. */
export interface ExrMetadata {
  /** Width of a pixel over its height. */
  readonly pixelAspect?: number
  /** Frames per second; kept as a fraction in the file, so 23.976 is 24000/1001. */
  readonly framesPerSecond?: number
  /** `hh:mm:ss:ff`, or `hh:mm:ss;ff` where the count drops frames. */
  readonly timeCode?: string
  /** The recording's own number of the frame, a 32-bit integer (OpenEXR's standard attribute imageCounter). */
  readonly imageCounter?: number
  /** xy of red, green, blue and white: eight numbers. */
  readonly chromaticities?: readonly number[]
  /** Further attributes of type string: names of at most 31 bytes, and their texts. */
  readonly strings?: Readonly<Record<string, string>>
}

/**
 * The fraction that a frame rate is stored as: whole rates over 1, the television rates over 1001, the rest over the
 * smallest denominator that gives the rate back to one part in ten million.
 */
export function rationalOf(framesPerSecond: number): [numerator: number, denominator: number] {
  // 23.976 and 29.97 are how people write 24000/1001 and 30000/1001
  const television = Math.round(framesPerSecond * 1.001)
  const exact = (television * 1000) / 1001
  const nearWhole = Math.abs(framesPerSecond - Math.round(framesPerSecond)) < 1e-7 * framesPerSecond
  if (!nearWhole && Math.abs(framesPerSecond - exact) < 0.0005) return [television * 1000, 1001]
  for (let d = 1; d < 10000; d++) {
    const n = Math.round(framesPerSecond * d)
    if (Math.abs(n / d - framesPerSecond) <= 1e-7 * framesPerSecond) return [n, d]
  }
  return [Math.round(framesPerSecond * 10000), 10000]
}

const TIME_CODE = /^(\d\d):(\d\d):(\d\d)([:;])(\d\d)$/
const DROP_FRAME = 1 << 6

/** The packed word of a time code, or null where the text is none. */
export function packTimeCode(text: string): number | null {
  const parts = TIME_CODE.exec(text)
  if (parts === null) return null
  const [hours, minutes, seconds, frames] = [1, 2, 3, 5].map((i) => Number(parts[i]))
  if (hours! > 23 || minutes! > 59 || seconds! > 59 || frames! > 39) return null
  const drop = parts[4] === ';' ? DROP_FRAME : 0
  return (bcd(frames!) | drop | (bcd(seconds!) << 8) | (bcd(minutes!) << 16) | (bcd(hours!) << 24)) >>> 0
}

/** The text of a packed time code, or null where its digits are none (an unset field is all ones). */
export function unpackTimeCode(word: number): string | null {
  const digits = [(word >>> 24) & 0x3f, (word >>> 16) & 0x7f, (word >>> 8) & 0x7f, word & 0x3f].map(
    (byte) => {
      const [tens, units] = [byte >> 4, byte & 15]
      return units > 9 ? null : `${tens}${units}`
    },
  )
  const text = `${digits.slice(0, 3).join(':')}${word & DROP_FRAME ? ';' : ':'}${digits[3]}`
  return packTimeCode(text) === null ? null : text
}

function bcd(value: number): number {
  return (Math.floor(value / 10) << 4) | (value % 10)
}
